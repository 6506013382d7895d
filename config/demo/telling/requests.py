"""The requests that tell the story, in the order in which they arrive."""

import hashlib
import json
from datetime import date

EPOCH = date(1970, 1, 1)
DAY_MS = 86_400_000


def identifier(kind, *names, day=date(2020, 1, 1)):
    """A UUID of version 7 as a client would make it on that day; the same whenever it is asked for."""
    digest = hashlib.sha256("/".join(map(str, (kind, *names))).encode()).hexdigest()
    millis = (day - EPOCH).days * DAY_MS + int(digest[:6], 16) % 60_000_000
    digits = f"{millis:012x}7{digest[8:11]}8{digest[12:15]}{digest[16:28]}"
    return "-".join((digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:]))


class Requests:
    """Collects the requests. Those that arrive on the same day arrive in the order of the telling."""

    def __init__(self):
        self._all = []

    def put(self, arrives, by, path, body, **more):
        """Adds a request: who sends it (`operator` or a workshop), where to, and what."""
        request = {"arrives": str(arrives), "by": by, "put": path, "body": body} | more
        # Written at once: a body that is changed later was posted as it is now.
        self._all.append((arrives, json.dumps(request, separators=(",", ":"), ensure_ascii=False)))

    def lines(self):
        """Every request, one a line."""
        return [line for _, line in sorted(self._all, key=lambda request: request[0])]

    def all(self):
        """Every request as it was posted."""
        return [json.loads(line) for line in self.lines()]
