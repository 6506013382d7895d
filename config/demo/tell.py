#!/usr/bin/env python3
"""Tells the demonstration's story: everything that was posted in it, and what has to come of that.

Reads `scenario.toml` and the engine types, and writes two files:

    posts.ndjson   the requests in the order in which they arrive, one JSON object a line
    expected.tsv   how every due line stands then, by sums of this program's own (`telling/count.py`)

Nothing is left to chance: the same scenario gives the same bytes.

    python3 tell.py                              # beside the scenario
    python3 tell.py FOLDER                       # or into another folder
    python3 tell.py FOLDER --as-of 2026-12-09    # the story as it is told on that day

The story is written for the week of Monday 2026-11-23. Told in a later week, all its days are later by the
same number of weeks; only `expected.tsv` is written then, since `gudgeon demo` moves the posts on by itself.
"""

import argparse
import tomllib
from datetime import date, timedelta
from pathlib import Path

from telling.engine import Engine
from telling.expected import expected_lines
from telling.meters import Meters
from telling.programme import Programme
from telling.requests import Requests, identifier

HERE = Path(__file__).resolve().parent
ENGINE_TYPES = HERE.parent / "engine-types"
MONDAY = date(2026, 11, 23)
TOLD_ON = date(2026, 11, 25)
LAST_READING = date(2026, 11, 21)


class Shop:
    """A workshop and its habits."""

    def __init__(self, row):
        self.id, self.name = row["id"], row["name"]
        self.late = row["posts"] == "weeks late"


def tell(scenario, requests):
    """Everybody registered, then the life of every engine; gives the engines in the scenario's order."""
    shops = {row["id"]: Shop(row) for row in scenario["shops"]}
    for shop in scenario["shops"]:
        register(requests, date(2020, 1, 1), "shops", shop, shop=shop["id"])
    for owner in scenario["owners"]:
        register(requests, date(2020, 1, 2), "owners", owner)
    for inspector in scenario["inspectors"]:
        register(requests, date(2020, 1, 2), "inspectors", inspector)
    uses = {row["id"]: row["use"] for row in scenario["owners"]}
    flown_by = {row["id"]: row["flown-by"] for row in scenario["owners"] if "flown-by" in row}
    names = {row["type"] for row in scenario["engines"]}
    programmes = {name: Programme(ENGINE_TYPES / f"{name}.toml") for name in names}
    fleet, engines = {}, []
    for number, row in enumerate(scenario["engines"], 1):
        row["use"] = uses[row["owner"]]
        row["flown-by"] = flown_by.get(row["owner"])
        engine = Engine(row, number, programmes[row["type"]], requests, shops[row["shop"]], fleet)
        fleet[engine.serial] = fleet[engine.mark] = engine
        engines.append(engine)
    # Those that take something over from another come after it.
    for engine in sorted(engines, key=lambda engine: "moved" in engine.row or "belt-borrowed" in engine.row):
        engine.live(TOLD_ON)
        engine.read_last(LAST_READING)
    return engines


def register(requests, day, kind, row, **more):
    """A workshop, an owner or an inspector."""
    body = {"name": row["name"], "email": row["email"]}
    requests.put(day, "operator", f"/v1/{kind}/{identifier('party', row['id'])}", body, **more)


def arguments():
    """What the command line says."""
    parser = argparse.ArgumentParser(description="Tells the demonstration's story.")
    parser.add_argument("folder", nargs="?", type=Path, default=HERE, help="where to write")
    parser.add_argument("--as-of", type=date.fromisoformat, default=TOLD_ON, help="the day it is told on")
    return parser.parse_args()


def main():
    asked = arguments()
    scenario = tomllib.loads((HERE / "scenario.toml").read_text(encoding="utf-8"))
    requests = Requests()
    engines = tell(scenario, requests)
    emails = {owner["id"]: owner["email"] for owner in scenario["owners"]}
    later_days = max((asked.as_of - MONDAY) // timedelta(7), 0) * 7
    expected = expected_lines(engines, emails, Meters(requests.all()), asked.as_of, later_days)
    (asked.folder / "expected.tsv").write_text("\n".join(expected) + "\n", encoding="utf-8")
    if asked.as_of == TOLD_ON:
        posts = "\n".join(requests.lines()) + "\n"
        (asked.folder / "posts.ndjson").write_text(posts, encoding="utf-8")


if __name__ == "__main__":
    main()
