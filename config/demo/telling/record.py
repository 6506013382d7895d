"""What is on record of an engine, as the sums need it."""

from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from telling.programme import UNKNOWN


@dataclass
class Done:
    """An item done once; on which count the hours are, its owner knows."""

    on: date
    hours: int
    action: str
    # What the engine had run in aircraft then, without benches.
    flown: int = 0


@dataclass
class Event:
    """Something that happened to the engine."""

    on: date
    kind: str


@dataclass
class Reading:
    """The engine's hours as they were put down on a day."""

    on: date
    hours: int


@dataclass
class Finding:
    """Something that the last visit found and did not put right."""

    on: date
    hours: int
    item: str
    position: str
    condition: str
    recheck: dict


@dataclass
class Concession:
    """A permission to use a tolerance."""

    on: date
    item: str
    until: date | None


@dataclass
class Record:
    """All that is on record."""

    made: date | None
    logged: bool
    # Its maker began it anew on this day: what was before does not count for the engine itself.
    restarted: date = date.min
    overhauled: Done | None = None
    done: dict = field(default_factory=dict)
    events: list = field(default_factory=list)
    readings: list = field(default_factory=list)
    concessions: list = field(default_factory=list)
    # The clearances of the pistons at the engine's hours, by their places.
    clearances: list = field(default_factory=list)
    found: Finding | None = None
    # The last day that a preservation is good for.
    preserved_until: date | None = None

    def hours_at(self, day):
        """The last hours put down by the end of a day."""
        known = [reading for reading in self.readings if reading.on <= day]
        return max(known, key=lambda reading: (reading.on, reading.hours)).hours if known else UNKNOWN

    def add(self, item, done):
        """Puts down that an item was done, and with it the smaller ones that it closes."""
        closes = item.closes if item.begins_again(done) else []
        for closed in (item.id, *closes):
            self.done.setdefault(closed, []).append(done)

    def moved_on(self, days):
        """The same record, everything in it so many days later."""

        def later(dated):
            return dated and replace(dated, on=dated.on + timedelta(days))

        def later_day(day):
            return day if day in (None, date.min) else day + timedelta(days)

        def later_grant(grant):
            return replace(later(grant), until=later_day(grant.until))

        def later_finding(found):
            return found and replace(later(found), recheck={**found.recheck, "on": later_day(found.recheck.get("on"))})

        return replace(
            self,
            made=later_day(self.made),
            restarted=later_day(self.restarted),
            overhauled=later(self.overhauled),
            done={item: [later(done) for done in all_done] for item, all_done in self.done.items()},
            events=[later(event) for event in self.events],
            readings=[later(reading) for reading in self.readings],
            concessions=[later_grant(grant) for grant in self.concessions],
            found=later_finding(self.found),
            preserved_until=later_day(self.preserved_until),
        )
