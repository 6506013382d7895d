"""The parts of `check_workings.py`: sums, legs, sentences, and the verdict on a line."""
