"""One engine's years, told day by day."""

from datetime import date, timedelta
from fractions import Fraction

from telling import belts, happenings, parts, workshop
from telling.count import Count, figures
from telling.days import add_months, hours, in_tenths, month_end
from telling.programme import UNKNOWN
from telling.record import Reading, Record
from telling.requests import identifier

# How much of a year's running falls in each month, in percent: nobody flies in winter.
SHARE_PERCENT = {3: 5, 4: 10, 5: 14, 6: 16, 7: 17, 8: 16, 9: 12, 10: 7, 11: 3}
# Nobody flies before the workshop has looked at a new arrival.
ARRIVAL_DAYS = 4
# The season's visits begin after this.
SETTLED_DAYS = 20


class Engine:
    """An engine of the scenario: what is known of it, and what was posted about it."""

    def __init__(self, row, number, programme, requests, shop, fleet):
        self.row, self.number, self.programme = row, number, programme
        self.requests, self.shop, self.fleet = requests, shop, fleet
        self.serial, self.mark, self.registered = row["serial"], row["mark"], row["registered"]
        self.id = identifier("engine", self.serial, day=self.registered)
        self.aircraft = identifier("aircraft", self.mark, day=self.registered)
        logged = "tsn" in row
        self.record = Record(row["made"] if logged else None, logged)
        # Since new, or since registration where there is no log.
        self.hours = in_tenths(row["tsn"]) if logged else 0
        self.meter = in_tenths(row["meter"])
        # Run in aircraft since registration, without benches.
        self.flown = 0
        self.installed, self.grounded = True, False
        self.carried = Fraction(0)
        self.visits, self.since_visit = 0, 0
        # The season's visits are spread over two weeks.
        self.shift = number * 5 % 17
        self.lent = None
        # How it is built and used, in the programme's words.
        self.described = {"use": row["use"]} | row.get("described", {})
        # Those with hours or an age of their own, by kind and place.
        self.parts = {}
        self._told = set()

    def live(self, until):
        """Tells everything up to a day."""
        self.register()
        if self.hours or not self.record.logged:
            workshop.visit(self, self.registered + timedelta(ARRIVAL_DAYS))
        day = self.registered
        while day < until:
            day += timedelta(1)
            self.fly(day)
            if not happenings.on_day(self, day):
                self.routine(day)

    def once(self, key, day):
        """What the scenario says under a key that holds once, from a day on; nothing before or after that."""
        value = self.row.get(key)
        begins = value["from"] if isinstance(value, dict) else value
        if value is None or day < begins or key in self._told:
            return None
        self._told.add(key)
        return value

    def put(self, day, kind, name, body, by=None):
        """Sends something about the engine on the day itself."""
        path = f"/v1/engines/{self.id}/{kind}/{identifier(name, self.serial, day=day)}"
        self.requests.put(day, by or self.shop.id, path, {"on": str(day)} | body)

    def register(self):
        """The engine, its aircraft, who looks after it, whose it is, and the parts on it."""
        day, on, basis = self.registered, {"on": str(self.registered)}, {"basis": self.programme.basis}
        body = on | {"engine_type": self.programme.name, "serial": self.serial} | basis
        body["tsn"] = hours(self.hours) if self.record.logged else None
        if "made" in self.row:
            body["made_on"] = str(self.row["made"])
        self.requests.put(day, "operator", f"/v1/engines/{self.id}", body)
        aircraft_path = f"/v1/aircraft/{self.aircraft}"
        told = {"flown_by": self.row["flown-by"], "hemisphere": "north"} if self.row["flown-by"] else {}
        self.requests.put(day, "operator", aircraft_path, on | {"mark": self.mark} | basis | told)
        self.put(day, "custody", "custody", {"shop": identifier("party", self.shop.id)}, by="operator")
        ownership = identifier("own", self.serial, day=day)
        owner = on | {"owner": identifier("party", self.row["owner"])}
        self.requests.put(day, "operator", f"{aircraft_path}/ownerships/{ownership}", owner)
        self.put(day, "installations", "in", {"aircraft": self.aircraft, "meter": hours(self.meter)})
        self.describe(f"{aircraft_path}/descriptions", day)
        self.seen(day)
        parts.fit_first(self)

    def describe(self, path, day):
        """How the engine is built and used, told of its aircraft or of the engine itself."""
        description = identifier("described", self.serial, path, day=day)
        self.requests.put(day, "operator", f"{path}/{description}", {"on": str(day)} | self.described)

    def seen(self, day):
        """Puts down that the engine's hours are known on a day."""
        self.record.readings.append(Reading(day, self.hours))

    def count(self, record=None):
        """What the engine's own items are counted on, by a record: its own, or that of a later telling."""
        record = record or self.record

        def start(limit):
            since, overhauled = record.restarted, record.overhauled
            if limit.counts_from == "overhaul" and overhauled:
                return overhauled.hours, overhauled.on, overhauled.on
            # Nothing was there to look at before the engine was made.
            if limit.counts_from == "effective" and not (record.made and record.made > limit.effective):
                return record.hours_at(limit.effective), limit.effective, max(since, limit.effective)
            return (0, record.made, since) if record.logged else (UNKNOWN, UNKNOWN, since)

        def done(item, _):
            return sorted(record.done.get(item.id, []), key=lambda once: once.on)

        return Count(start, done, self.hours)

    def figures(self, item):
        """Due hours and due day of an item of the engine itself."""
        told = figures(item, self.count())
        return told.hours, told.day

    def part_figures(self, part):
        """Due hours and due day of a part's life, and what the part has run."""
        life = self.programme.life_of(part.kind)
        told = figures(life, part.count(self, self.record), part.first_fitted)
        return told.hours, told.day, part.hours_of(self.hours, self.flown)

    def fly(self, day):
        """Runs the engine, in whole tenths; what is left over is carried to the next day."""
        self.grounded = day >= self.row.get("grounded", date.max) or happenings.stored(self, day)
        if not self.installed or self.grounded or day <= self.registered + timedelta(ARRIVAL_DAYS):
            return
        year, percent = self.row["hours-a-year"] * 10, SHARE_PERCENT.get(day.month, 0)
        self.carried += Fraction(year * percent, 100 * month_end(day).day)
        run = int(self.carried)
        self.carried -= run
        self.run(run)

    def run(self, tenths):
        """Adds hours that the aircraft's meter counts too."""
        self.hours += tenths
        self.flown += tenths
        self.meter += tenths
        self.since_visit += tenths

    def routine(self, day):
        """The month's reading, the winter's overhaul, the visits of the seasons and those in between."""
        flown_month = day == month_end(day) and day.month in SHARE_PERCENT
        if flown_month and self.installed and not self.grounded:
            self.read_meter(day, arrives=day + timedelta(1))
        unseen = day > self.row.get("unseen", day)
        if not self.installed or unseen or day <= self.registered + timedelta(SETTLED_DAYS):
            return
        overhauled_by_rule = not self.row.get("never-overhauled") and "rebuilt" not in self.row
        if (day.month, day.day) == (12, 10 + self.number % 9) and overhauled_by_rule:
            if workshop.wants_overhaul(self, day):
                workshop.overhaul(self, add_months(day, 2))
        elif self.in_season(day) or self.since_visit >= workshop.COME_IN_AFTER:
            workshop.visit(self, day)
        elif not self.grounded and (due := workshop.settling_due(self)):
            workshop.short_visit(self, day, due)

    def in_season(self, day):
        """Whether this is the day of its visit in spring or in autumn."""
        return (day.month, day.day) in ((4, 4 + self.shift), (10, 3 + self.shift))

    def read_meter(self, day, arrives):
        """What the meter shows, on a day."""
        self.seen(day)
        path = f"/v1/engines/{self.id}/readings/{identifier('reading', self.serial, day, day=day)}"
        self.requests.put(arrives, self.shop.id, path, {"on": str(day), "meter": hours(self.meter)})

    def read_last(self, day):
        """The last reading of all, with the hours that the scenario wants it to show."""
        if not self.installed or self.grounded:
            return
        if "since-visit" in self.row:
            self.run(in_tenths(self.row["since-visit"]) - self.since_visit)
        if past := self.row.get("run-past-due"):
            self.run(self.left(past["item"]) + in_tenths(past["by"]))
        last = self.record.readings[-1]
        assert self.hours >= last.hours, f"{self.serial} would have to run back from {hours(last.hours)}"
        self.read_meter(day, arrives=day)

    def left(self, name):
        """The hours left of an item, of the engine's own or of a part's life."""
        item = self.programme.item(name)
        if item.component:
            due_hours, _, run = self.part_figures(parts.of_kind(self, item.component)[0])
        else:
            due_hours, run = self.figures(item)[0], self.hours
        assert due_hours not in (None, UNKNOWN)
        return due_hours - run
