#!/usr/bin/env python3
"""Redoes the workings of due lines as a person with pencil and paper would.

Gudgeon prints, below every due line, the steps that led to it. This checker believes none of them. It reads
due lines as the API prints them, one JSON object on each line of standard input, and looks at nothing but
the printed sentences of `working`: it does every sum again, judges every reason that a sentence gives
("late, so it counts from when it was due": was it late?), works out how each leg stands and which one
governs, and then compares with the figures printed beside the working. It shares no code with the service.

A sentence that it does not understand is a failure: what cannot be redone is not a working.

    python3 tests/check_workings.py < due-lines.ndjson

Exit status: 0 when every working agrees; 1 when one does not, or when there was none to read.
"""

import json
import sys

from workings.sums import Disagreement
from workings.verdict import redo


def asked_by(line):
    """What asks for the line, in words, unless it is the programme."""
    kind = line.get("asked_by", {}).get("kind", "programme")
    return None if kind == "programme" else f"({kind})"


def name(line):
    """Which line it is, in words: engine, item, position, and what asks for it besides the programme."""
    words = [line.get("engine"), line.get("item"), line.get("position"), asked_by(line)]
    return " ".join(str(word) for word in words if word)


def fault(text):
    """Why a line's working does not hold; `None` when it does."""
    who = "a line without a name"
    try:
        line = json.loads(text)
        who = name(line) or who
        redo(line)
    except Disagreement as why:
        return f"{who}: {why}"
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as why:
        return f"{who}: cannot be redone: {type(why).__name__}: {why}"
    return None


def main():
    faults = [fault(text) for text in sys.stdin if text.strip()]
    disagree = [why for why in faults if why]
    print(*disagree, f"{len(faults)} workings redone, {len(disagree)} disagree", sep="\n")
    return 0 if faults and not disagree else 1


if __name__ == "__main__":
    sys.exit(main())
