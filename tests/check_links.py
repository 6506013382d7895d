"""The links of mails as whoever gets one sees them: pages in a real browser without JavaScript, and calendars as an
independent library reads them.

Runs the real service over the demonstration's folder. The links are made here, by a second program, from the key
file alone. Needs Playwright and icalendar (PyPI) and Debian's Chromium.

    python3 tests/check_links.py PROGRAM

PROGRAM is the gudgeon binary. The last line is `N passed, N failed`.
"""

import base64
import datetime
import hashlib
import hmac
import json
import pathlib
import sys
import tempfile
import urllib.error
import urllib.request
import uuid

from icalendar import Calendar
from playwright.sync_api import Page, sync_playwright

from browser import CAUTIONS, CHROMIUM, FLAGS, check, no_sideways, results, service

STOP, PREFERENCES, READING, CALENDAR = 1, 2, 3, 4
OWNER = 1
TODAY = datetime.date.today()
# How many words about an estimate make it plain that it is one.
ABOUT = "(about, forecast)"


def link(key: bytes, purpose: int, party: str) -> str:
    """A link of this purpose for an owner, good for some days more, before anything was made useless."""
    until = (TODAY + datetime.timedelta(days=30)).toordinal()
    body = bytes([purpose, OWNER]) + until.to_bytes(4, "big") + bytes(8) + uuid.UUID(party).bytes
    seal = hmac.new(key, b"gudgeon link 1" + body, hashlib.sha256).digest()[:16]
    return base64.urlsafe_b64encode(body + seal).rstrip(b"=").decode()


def get(address: str, headers: dict[str, str] | None = None):
    """Status, headers and body of an answer, whatever its status."""
    request = urllib.request.Request(address, headers=headers or {})
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, dict(answer.headers), answer.read()
    except urllib.error.HTTPError as error:
        return error.code, dict(error.headers), error.read()


def engines(address: str, key: str) -> list[dict]:
    _, _, body = get(address + "/v1/engines?limit=500", {"Authorization": f"Bearer {key}"})
    return [it["engine"] for it in json.loads(body)["engines"]]


def events(body: bytes) -> list:
    return list(Calendar.from_ical(body).walk("VEVENT"))


def calendars(address: str, secret: bytes, owners: list[str]) -> None:
    seen, estimates = set(), 0
    for owner in owners:
        feed = f"{address}/calendar/{link(secret, CALENDAR, owner)}.ics"
        status, headers, body = get(feed)
        name = f"the calendar of {owner[-4:]}"
        check(f"{name} is iCalendar", status == 200 and headers["content-type"].startswith("text/calendar"), status)
        calendar = Calendar.from_ical(body)
        wrong = [part.errors for part in calendar.walk() if part.errors]
        check(f"{name} is read without errors", not wrong, wrong)
        check(f"{name} asks nobody to answer", str(calendar["METHOD"]) == "PUBLISH")
        check(f"{name} is folded", all(len(line) <= 75 for line in body.split(b"\r\n")) and
              b"\n" not in body.replace(b"\r\n", b""))
        for event in calendar.walk("VEVENT"):
            uid, start = str(event["UID"]), event["DTSTART"].dt
            whole = type(start) is datetime.date and event["DTEND"].dt - start == datetime.timedelta(days=1)
            said = str(event["DESCRIPTION"])
            if not (whole and uid not in seen and "not a maintenance record" in said):
                check(f"{name}: an event is one whole day with its cautions, and told once", False, event)
            estimated = ABOUT in str(event["SUMMARY"])
            if estimated != (str(event["STATUS"]) == "TENTATIVE") or estimated != ("The day is an estimate" in said):
                check(f"{name}: an estimate is marked in title, text and status", False, event)
            estimates += estimated
            seen.add(uid)
        again = get(feed)
        check(f"{name} is the same again", again[2] == body)
        check(f"{name} is not sent to who has it", get(feed, {"If-None-Match": headers["etag"]})[0] == 304)
    check("the calendars tell of something, and some of it is an estimate", len(seen) > 20 and estimates > 0,
          (len(seen), estimates))


def pages(page: Page, address: str, secret: bytes, owner: str) -> None:
    """What an owner does on a phone, with no script at all."""
    at = {name: f"{address}/{name}/{link(secret, purpose, owner)}"
          for name, purpose in [("reading", READING), ("mails", PREFERENCES), ("stop", STOP)]}
    for name, path in at.items():
        page.goto(path)
        no_sideways(page, f"the page of /{name}")
        check(f"every field of /{name} has a label", page.evaluate(
            "[...document.querySelectorAll('input:not([type=hidden]),select,textarea')]"
            ".every(it => it.labels.length === 1)"))
        small = page.evaluate(
            "[...document.querySelectorAll('main button, main input:not([type=hidden]), main select')]"
            ".filter(it => it.checkVisibility()).map(it => it.getBoundingClientRect().height)")
        check(f"what is touched on /{name} is 48 px high", min(small) >= 48, small)
    page.goto(at["reading"])
    check("the reading page carries the cautions", page.locator("footer li").count() == CAUTIONS)
    field = page.locator("input[name=meter]").first
    last = float(page.locator("main section p b").first.inner_text())
    field.fill(f"{last + 0.4:.1f}".replace(".", ","))
    field.press("Enter")
    check("a reading is saved with one number and Enter", page.locator("h1").inner_text() == "Reading saved",
          page.locator("main").inner_text())
    check("the answer carries the cautions", page.locator("footer li").count() == CAUTIONS)
    no_sideways(page, "the answer to a reading")
    page.get_by_role("link", name="Another reading").click()
    shown = float(page.locator("main section p b").first.inner_text())
    check("the page shows it as the last one", abs(shown - last - 0.4) < 0.05, (last, shown))
    page.locator("input[name=meter]").first.fill("1")
    page.locator("section form button").first.click()
    check("a lower number is asked about", "is less than" in page.locator("main").inner_text())
    page.goto(at["mails"])
    page.locator("select[name=mode]").select_option("every-week")
    page.locator("input[name=zone]").fill("Europe/Prague")
    page.get_by_role("button", name="Save").click()
    check("a choice is saved", page.get_by_role("status").inner_text().startswith("Saved"))
    page.goto(at["stop"])
    page.get_by_role("button", name="Stop all").click()
    check("the mails stop", page.locator("h1").inner_text() == "Stopped")
    page.get_by_role("button", name="Send them again").click()
    check("they come again", page.locator("h1").inner_text() == "The mails come again")


def main() -> None:
    program = sys.argv[1]
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name) / "demo"
        with service(program, folder) as (address, key), sync_playwright() as playwright:
            secret = (folder / "links.secret").read_bytes()
            owners = {it["owner"]: it for it in engines(address, key) if it["owner"]}
            calendars(address, secret, sorted(owners))
            flown = [it["owner"] for it in owners.values() if it["aircraft"] and it["hours"]["meter"] and not it["conflicts"]]
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            for owner, (width, scheme) in zip(flown, [(360, "light"), (320, "dark"), (1200, "light")]):
                context = browser.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme,
                                              java_script_enabled=False)
                pages(context.new_page(), address, secret, owner)
            browser.close()
    failed = sum(1 for _, found in results if found)
    print(f"{len(results) - failed} passed, {failed} failed")


if __name__ == "__main__":
    main()
