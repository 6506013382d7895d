"""What the hour meters of aircraft showed, from the requests alone."""

from collections import defaultdict
from datetime import date

from telling.days import in_tenths

# Of one day, readings come first, then what comes off, then a new meter, then what goes in.
PLACES = {"readings": 0, "inspections": 0, "events": 0, "removals": 1, "meter-changes": 2, "installations": 3}


class Meters:
    """Where every engine is, and for every aircraft the hours run since its first reading, the last of each day."""

    def __init__(self, requests):
        self.where, self.run, self.lost = {}, defaultdict(dict), set()
        # Who flies each aircraft, and on which half of the earth.
        registered = {request["put"]: request["body"] for request in requests if "mark" in request["body"]}
        self.told = {
            put.split("/")[-1]: (body.get("flown_by"), body.get("hemisphere")) for put, body in registered.items()
        }
        self._meter, self._total = {}, defaultdict(int)
        for on, _, _, kind, thing, body in sorted(told(requests), key=lambda fact: fact[:3]):
            self.take(date.fromisoformat(on), kind, thing, body)

    def take(self, on, kind, thing, body):
        """One thing that happened."""
        if kind == "installations":
            self.where[thing] = body["aircraft"]
        if kind == "meter-changes":
            self.see(thing, on, body["old_end"])
            self._meter[thing] = in_tenths(body["new_start"])
        elif "meter" in body:
            self.see(self.where.get(thing, thing), on, body["meter"])
        if kind == "removals":
            self.where[thing] = None

    def see(self, aircraft, on, text):
        """A value of the meter."""
        meter = in_tenths(text)
        more = meter - self._meter.get(aircraft, meter)
        if more < 0:
            self.lost.add(aircraft)
        self._meter[aircraft] = meter
        self._total[aircraft] += more
        self.run[aircraft][on] = self._total[aircraft] / 10


def told(requests):
    """Every value of a meter that stands, with its place in the order of things, and where engines went."""
    standing = {}
    for request in requests:
        path, body = request["put"].split("/")[2:], request["body"]
        if path[-2] == "amendments":
            standing[body["supersedes"]] = (["inspections", ""], body.get("inspection", {}))
        else:
            standing[path[-1]] = (path, body)
    for name, (path, body) in standing.items():
        kind, thing = path[-2], path[1]
        if kind == "inspections":
            for reading in body.get("readings", []):
                yield reading.get("on", body["released_on"]), 0, (0, name), kind, body["engine"], reading
        elif kind in PLACES and path[0] in ("engines", "aircraft"):
            yield body["on"], body.get("order_in_day", 0), (PLACES[kind], name), kind, thing, body
