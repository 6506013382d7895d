"""How the demonstration's story is told: the parts of `tell.py`."""
