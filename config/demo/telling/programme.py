"""An engine type's file, read apart from the service: its items and their rules.

Hours are tenths of an hour. `UNKNOWN` stands for what cannot be told, `None` for what is not counted.
"""

import tomllib
from datetime import timedelta

from telling.days import DueDay, add_months

UNKNOWN = "?"
# With these the count begins again from the work itself, however late or early it was.
AFRESH = {"renewed", "overhauled"}
# How early something is said to be coming due, where no notice of its own says so.
NOTICE_HOURS, NOTICE_DAYS = 10, 30
# A limit of the type design and a directive are never run late, whatever else is written beside them.
NEVER_LATE = {"airworthiness-limitation", "directive"}


class Limit:
    """One limit of an item: where it counts from, and how long."""

    def __init__(self, row):
        self.counts_from, self.effective = row["counts-from"], row.get("effective")
        self.every = row.get("every", {})
        self.first = row.get("first", self.every)
        # Steps that are done once each, in tenths from the start.
        self.once = [step * 10 for step in row.get("once", [])]
        self.to_month_end = row.get("calendar") == "end-of-month"
        self.shelf, self.code_day = row.get("shelf", False), row.get("code-day", "first")

    def day_after(self, start, interval):
        """Where the calendar of an interval ends; `None` if it has none."""
        if not {"months", "days"} & interval.keys():
            return None
        return UNKNOWN if start == UNKNOWN else DueDay(start, to_month_end=self.to_month_end).plus(interval)


class Item:
    """One item of the file, with the figures that the sums need."""

    def __init__(self, row, rows):
        self.id, self.title = row["id"], row["title"]
        self.positions = row.get("positions", [])
        self.component, self.applies_to = row.get("component"), row.get("applies-to", {})
        self.limits = [Limit(limit) for limit in row.get("limits", [row] if "counts-from" in row else [])]
        self.once = any(limit.once for limit in self.limits)
        self.until, self.after = row.get("until", []), row.get("after", [])
        self.next = row.get("next", "from-done")
        self.done_by = row["done-by"]
        notice = row.get("notice", {})
        self.notice_hours = notice.get("hours", NOTICE_HOURS) * 10
        self.notice_days = timedelta(notice.get("days", NOTICE_DAYS))
        self.never_late = row["class"] in NEVER_LATE
        self.tolerance = {} if self.never_late else row.get("tolerance", {})
        self.extension_percent = None if self.never_late else row.get("extension-percent")
        # Past the extension it runs on condition, inspected again and again: `None` where nobody asks for it.
        self.on_condition = row.get("on-condition") if self.extension_percent else None
        self.granted = row.get("granted", "automatic")
        self.closes = [smaller["id"] for smaller in rows if self.id in smaller.get("satisfied-by", [])]

    def begins_again(self, once):
        """Whether work on the item starts its count again: an inspection lets a life run on, and no more."""
        return self.on_condition is None or once.action != "inspected"

    def hours_beyond(self, tenths):
        """How far an interval of so many hours may be run over; of several the strictest."""
        if self.extension_percent:
            return tenths * self.extension_percent // 100
        rule, allowed = self.tolerance, []
        if "hours" in rule:
            allowed.append(rule["hours"] * 10)
        if "percent" in rule:
            allowed.append(min(tenths * rule["percent"] // 100, rule.get("hours-max", tenths) * 10))
        return min(allowed, default=0)

    def latest_day(self, due, interval):
        """The last day that a tolerance or an extension reaches; a month counts 30 days in a share of it."""
        if percent := self.extension_percent:
            return due.plus({unit: interval.get(unit, 0) * percent // 100 for unit in ("months", "days")}).day
        allowed = [due.day + timedelta(days) for days in self._days_beyond(interval)]
        if "months" in self.tolerance:
            allowed.append(due.plus({"months": self.tolerance["months"]}).day)
        return min(allowed, default=due.day)

    def window_start(self, due, interval):
        """The first day of the window that lies around a due day."""
        allowed = [due.day - timedelta(days) for days in self._days_beyond(interval)]
        if "months" in self.tolerance:
            allowed.append(add_months(due.day, -self.tolerance["months"]))
        return max(allowed, default=due.day)

    def _days_beyond(self, interval):
        """What a tolerance in days and one in percent come to, in days."""
        rule = self.tolerance
        if "days" in rule:
            yield rule["days"]
        if "percent" in rule:
            nominal = interval.get("months", 0) * 30 + interval.get("days", 0)
            share = nominal * rule["percent"] // 100
            yield min(share, rule.get("days-max", share))


class Programme:
    """An engine type: its items in their order; apart from them those about parts, and after what happened."""

    def __init__(self, path):
        rows = tomllib.loads(path.read_text(encoding="utf-8"))
        self.name, self.basis = rows["name"], rows["basis"]
        items = [Item(row, rows["items"]) for row in rows["items"]]
        self.after = {item.id: item for item in items if item.after}
        self.parts = {item.id: item for item in items if item.component and not item.after}
        self.items = {item.id: item for item in items if not item.component and not item.after}
        # The most that a quantity may be, where it wears up to a limit.
        self.limits = {row["id"]: row["limit"]["max"] for row in rows["quantities"] if "max" in row.get("limit", {})}
        # The kinds of parts that the programme asks about.
        self.kinds = {item.component for item in items if item.component}

    def item(self, name):
        """The item of that name."""
        return (self.items | self.parts | self.after)[name]

    def life_of(self, kind):
        """The item that ends the life of every part of a kind, if there is one."""
        lives = (item for item in self.parts.values() if item.component == kind and not item.applies_to)
        return next((item for item in lives if AFRESH & set(item.done_by)), None)
