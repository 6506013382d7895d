"""How a sentence of a working finds whoever reads it, and the patterns that many sentences share."""

import re

from workings.sums import SPAN

CLASSES = "airworthiness limitation|directive|required inspection|recommended"

WHAT = r"(?P<action>[a-z]+)(?:, record [^()]+)?"
END = r"(?P<end>, to the end of the month)?"
LIMIT = r"(?:, (?P<limit>[^:]+?))?"
LENGTH = rf"(?:{SPAN})(?:, to the end of the month)?"

READERS = []


def sentence(pattern):
    """Marks a method as the reader of the sentences that look like this, the full stop left out."""

    def mark(method):
        READERS.append((re.compile(pattern), method))
        return method

    return mark
