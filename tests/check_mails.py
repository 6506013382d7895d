#!/usr/bin/env python3
"""Reads the mails of one week as a mail program would, and looks for what each of them has to say.

Every mail must parse without a defect, have its headers once, the same items in its text and in its HTML, and
all cautions in both; those of workshops and inspectors are checked for that alone. With the demonstration's `expected.tsv` beside, there must be one mail for every owner
who has something worse than "on condition" and none for anybody else, and every overdue item must be named.

    python3 tests/check_mails.py FOLDER 2026-W48 [config/demo/expected.tsv]

Prints one JSON object for each mail to an owner: its file, who it is to, its subject, and what it names as overdue (serial
number of the engine, title of the item). Exit status 1 when something is wrong, which is said on standard error.
"""

import email
import email.policy
import json
import re
import sys
import tomllib
from collections import Counter, defaultdict
from html.parser import HTMLParser
from pathlib import Path

ENGINE_TYPES = Path(__file__).resolve().parent.parent / "config" / "engine-types"
# The types that the demonstration's engines are of, by the letters of their serial numbers.
TYPES = {"OT": "oarlock-twin", "TT": "thwart-twin", "TF": "transom-flat"}
ONCE = ["From", "To", "Date", "Message-ID", "Subject", "Reply-To"]
RULE = "-" * 72
LABEL = "[OVERDUE] "
# Titles of these types are marked, so that nobody takes the demonstration for a real programme.
MARK = " (invented)"
# What no mail may leave out: 14 CFR 43.9 and 43.11 (what a maintenance record is), 91.403(a) (who is
# responsible), 91.417 (the hours are a record's), and that a tolerance is not a due date.
CAUTIONS = [
    "not a maintenance record",
    "not an approval for return to service",
    "primarily responsible for airworthiness",
    "licensed person decide",
    "tracked only as entered",
    "as of the last reading on record",
    "never a new due date",
    "nothing about the state of the engine",
]
# A finding's title goes on to say what it asks for, an event's after what it is asked for, and that of an item past
# its extension that it is its inspection.
SAID_BESIDES = re.compile(
    ": (to be (repaired|renewed|scrapped)|look again|inspection to run on condition)$|"
    ", after (propeller strike|sudden stoppage|overheating|seizure|overspeed|immersion|"
    "wrong or bad fuel|wrong oil or too little|return to use after storage)$"
)


class Words(HTMLParser):
    """The words that a reader of an HTML page sees."""

    def __init__(self):
        super().__init__()
        self.seen, self.hidden = [], 0

    def handle_starttag(self, tag, attrs):
        self.hidden += tag in ("style", "title")

    def handle_endtag(self, tag):
        self.hidden -= tag in ("style", "title")

    def handle_data(self, data):
        if not self.hidden:
            self.seen.extend(data.split())


def words_of_html(html):
    """The words of a page, one space between them."""
    words = Words()
    words.feed(html)
    words.close()
    return " ".join(words.seen)


def engines_of_text(text):
    """The parts of a text about an engine each, by its serial number, the lines' breaks taken out."""
    parts = text.split(RULE)[1:-1]
    pairs = zip(parts[0::2], parts[1::2])
    return {head.split()[-1]: " ".join(body.split()) for head, body in pairs}


def overdue_in(body):
    """The titles named as overdue in an engine's part, as often as they are named."""
    return [part.split(MARK)[0] for part in body.split(LABEL)[1:]]


def read_mail(path, fault):
    """Checks one mail by itself; gives what it says."""
    message = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
    for part in message.walk():
        for defect in part.defects:
            fault(path, f"{part.get_content_type()}: {type(defect).__name__}")
    for name in ONCE:
        if len(message.get_all(name, [])) != 1:
            fault(path, f"{name} {len(message.get_all(name, []))} times")
    bodies = {kind: message.get_body((kind,)) for kind in ("plain", "html")}
    kind = str(message["List-Id"]).partition("<")[2].partition("-weekly")[0]
    # An owner's calendar stands beside them.
    parts = ["multipart/alternative", "text/plain", "text/html"]
    beside = ["multipart/mixed", *parts, "text/calendar"] if kind == "owner" else parts
    if [part.get_content_type() for part in message.walk()] not in (parts, beside):
        fault(path, "not a text and a page to choose from")
        return None
    text, page = bodies["plain"].get_content(), words_of_html(bodies["html"].get_content())
    for caution in CAUTIONS:
        for part, words in (("text", " ".join(text.split())), ("page", page)):
            if caution not in words:
                fault(path, f"its {part} does not say `{caution}`")
    if kind != "owner":
        return None
    overdue = [(serial, title) for serial, body in engines_of_text(text).items() for title in overdue_in(body)]
    for title, count in Counter(title for _, title in overdue).items():
        if page.count(f"overdue {title}{MARK}") != count:
            fault(path, f"its text says {count} times that `{title}` is overdue, its page does not")
    return {
        "file": path.name,
        "to": message["To"].addresses[0].addr_spec,
        "subject": str(message["Subject"]),
        "overdue": overdue,
    }


def expected_of(path):
    """By owner, what has to be named as overdue; owners with nothing to be told are left out."""
    titles = {}
    for letters, name in TYPES.items():
        programme = tomllib.loads((ENGINE_TYPES / f"{name}.toml").read_text("utf-8"))
        titles |= {(letters, item["id"]): item["title"] for item in programme["items"]}
        titles[letters, "preservation"] = "Preservation for storage, to be renewed"
    expected = defaultdict(list)
    rows = [line.split("\t") for line in path.read_text(encoding="utf-8").splitlines()[1:]]
    for row in (dict(zip(rows[0], row, strict=True)) for row in rows[1:]):
        if row["status"] not in ("not-due", "on-condition"):
            overdue = row["status"] == "overdue"
            expected[row["owner"]] += [(row["serial"], titles[row["serial"][:2], row["item"]])] * overdue
    return expected


def compare(mails, expected, fault):
    """One mail for each owner who has something to be told, naming all that is overdue."""
    for owner, count in Counter(mail["to"] for mail in mails).items():
        if count != 1 or owner not in expected:
            fault(owner, f"{count} mails, expected {int(owner in expected)}")
    for owner in expected.keys() - {mail["to"] for mail in mails}:
        fault(owner, "no mail, and there is something to be told")
    for mail in mails:
        named = Counter((serial, SAID_BESIDES.sub("", title)) for serial, title in mail["overdue"])
        wanted = Counter(expected.get(mail["to"], []))
        if named != wanted:
            fault(mail["file"], f"not named: {list(wanted - named)}; named: {list(named - wanted)}")


def main():
    folder, week = Path(sys.argv[1]), sys.argv[2]
    faults = []

    def fault(where, what):
        faults.append(f"{where}: {what}")

    paths = sorted(folder.glob(f"{week}-*.eml"))
    mails = [read_mail(path, fault) for path in paths]
    mails = [mail for mail in mails if mail]
    if len(sys.argv) > 3:
        compare(mails, expected_of(Path(sys.argv[3])), fault)
    for mail in mails:
        print(json.dumps(mail))
    print(*faults, sep="\n", end="\n" if faults else "", file=sys.stderr)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
