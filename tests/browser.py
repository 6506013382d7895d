"""The pages and a mail in a real browser: what they show, at which widths, with and without JavaScript.

Runs the real service over the demonstration's folder. Needs Playwright (PyPI) and Debian's Chromium.

    python3 tests/browser.py PROGRAM [GALLERY]

PROGRAM is the gudgeon binary; with GALLERY the README's pictures are written there as well. The last line
is `N passed, N failed`.
"""

import contextlib
import email
import email.policy
import os
import pathlib
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request

from playwright.sync_api import Page, sync_playwright

CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking",
         "--disable-component-update", "--disable-sync", "--no-first-run"]
RANKS = ["overdue", "unknown", "in tolerance", "in extension", "coming due", "on condition",
         "not due on record"]
START_SECONDS_MAX = 20
# How many engines the demonstration has.
ENGINES = 42
# How many cautions every page carries.
CAUTIONS = 8
# A day on which more is due than on the day of the demonstration.
ANOTHER_DAY = f"{time.localtime().tm_year + 1}-06-30"

results: list[tuple[str, str | None]] = []


def check(name: str, holds: bool, found: object = None) -> None:
    """Notes one check, and what was found if it does not hold."""
    results.append((name, None if holds else f"found {found!r}"))
    print(f"{'ok' if holds else 'FAILED'}: {name}" + ("" if holds else f": found {found!r}"))


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def make_demonstration(program: str, folder: pathlib.Path) -> None:
    """The demonstration in a folder: a copy of the one that DEMONSTRATION names, if it does, else made anew."""
    if made := os.environ.get("DEMONSTRATION"):
        shutil.copytree(made, folder, dirs_exist_ok=True)
    else:
        subprocess.run([program, "demo", "--no-serve", "--dir", str(folder)], check=True, stdout=subprocess.DEVNULL)


@contextlib.contextmanager
def service(program: str, folder: pathlib.Path):
    """The demonstration in a folder, then served on a free port; gives the address and the inspector's key."""
    make_demonstration(program, folder)
    port = free_port()
    settings = folder / "gudgeon.toml"
    text = re.sub(r"127\.0\.0\.1:\d+", f"127.0.0.1:{port}", settings.read_text())
    settings.write_text(text)
    keys = dict(line.split() for line in (folder / "keys.txt").read_text().splitlines())
    child = subprocess.Popen([program, "serve", "--dir", str(folder)],
                             stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        address = f"http://127.0.0.1:{port}"
        wait_for(address + "/readyz")
        yield address, keys["inspector"]
    finally:
        child.terminate()
        child.wait(timeout=30)


def wait_for(address: str) -> None:
    for _ in range(START_SECONDS_MAX * 10):
        try:
            urllib.request.urlopen(address, timeout=1)
            return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    raise SystemExit(f"nothing answers at {address}")


def sign_in(page: Page, address: str, key: str) -> None:
    page.goto(address + "/")
    check("a page without sign-in leads to the form", page.url.endswith("/sign-in"), page.url)
    page.locator("input[name=key]").fill("gudgeon_" + "x" * 43)
    page.locator("main button[type=submit]").click()
    check("a wrong key is refused in words", "key" in page.locator("main").inner_text().lower()
          and page.locator("input[name=key]").count() == 1, page.url)
    page.locator("input[name=key]").fill(key)
    page.locator("main button[type=submit]").click()
    check("the right key opens the fleet", page.locator("h1").inner_text().startswith("Fleet"),
          page.url)


def no_sideways(page: Page, name: str) -> None:
    """Nothing sticks out: the page never scrolls sideways."""
    widths = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    check(f"{name} does not scroll sideways at {widths[1]} px", widths[0] <= widths[1], widths)


def fleet_page(page: Page, address: str) -> None:
    page.goto(address + "/")
    check("the fleet's table has a caption", page.locator("table caption").count() == 1)
    check("every column has a heading with a scope",
          page.locator("thead th").count() == page.locator("thead th[scope=col]").count() > 0)
    labels = [text.strip() for text in page.locator("tbody tr .status").all_inner_texts()]
    ranks = [RANKS.index(label) for label in labels]
    check("the fleet is worst first", ranks == sorted(ranks) and len(ranks) == ENGINES, labels)
    page.get_by_role("link", name="overdue").first.click()
    shown = set(page.locator("tbody tr .status").all_inner_texts())
    check("a count is a link that filters, kept in the address",
          "status=overdue" in page.url and {text.strip() for text in shown} == {"overdue"}, page.url)
    page.go_back()
    check("going back brings all of them again", page.locator("tbody tr").count() == ENGINES)
    check("every row is headed by its engine",
          page.locator("tbody tr > th[scope=row] a").count() == page.locator("tbody tr").count())
    filters(page, address)


def filters(page: Page, address: str) -> None:
    """Every status has a link that shows as many engines as it says, all of that status, on the day chosen."""
    page.goto(address + f"/?as_of={ANOTHER_DAY}")
    wrong = []
    for at, status in enumerate(RANKS, start=1):
        link = page.locator(".filters a").nth(at)
        count, name = link.inner_text().split(" ", 1)
        link.click()
        shown = [text.strip() for text in page.locator("tbody tr .status").all_inner_texts()]
        if (name, shown) != (status, [status] * int(count)) or f"as_of={ANOTHER_DAY}" not in page.url:
            wrong.append((page.url, name, count, shown))
    check("every status shows what its count says and keeps the day", wrong == [], wrong)


def engine_page(page: Page, address: str) -> None:
    page.goto(address + "/")
    page.goto(address + page.locator("tbody a[href^='/engines/']").first.get_attribute("href"))
    working = page.locator("details").first
    check("a working is folded at first", not working.locator("li").first.is_visible())
    working.locator("summary").click()
    check("and opens on a click", working.locator("li").first.is_visible())
    summaries = page.locator("summary").all()
    for summary in summaries[1:]:
        summary.click()
    opened = page.evaluate("""[...document.querySelectorAll('details')]
        .filter(it => it.open && it.querySelector('li, td').checkVisibility()).length""")
    check("so does every other", opened == len(summaries) > 1, opened)


def every_engine(page: Page, address: str) -> None:
    """Each engine's page at the narrowest width: its lines worst first, each with its working; the cautions. It holds
    no script, and so is the same whether JavaScript is on or off."""
    page.goto(address + "/")
    paths = [it.get_attribute("href") for it in page.locator("tbody a[href^='/engines/']").all()]
    page.set_viewport_size({"width": 320, "height": 800})
    wrong = []
    for path in paths:
        status = page.goto(address + path).status
        labels, workings, cautions, scripts, width = page.evaluate("""[
            [...document.querySelectorAll('tbody .status')].map(it => it.innerText.trim()),
            document.querySelectorAll('tr.more details li:first-child').length,
            document.querySelectorAll('footer li').length,
            document.scripts.length,
            document.documentElement.scrollWidth]""")
        ranks = [RANKS.index(label) for label in labels]
        found = {
            "answer": status == 200,
            "worst first": ranks == sorted(ranks) and len(ranks) > 0,
            "a working for each line": workings == len(ranks),
            "cautions": cautions == CAUTIONS,
            "no script": scripts == 0,
            "width": width <= 320,
        }
        wrong += [(path, name) for name, holds in found.items() if not holds]
    check("every engine has its page: worst first, with workings and cautions, 320 px wide",
          wrong == [] and len(paths) == ENGINES, wrong)


def small_targets(page: Page, name: str) -> None:
    """Whatever can be pressed is at least 24 px high and wide (WCAG 2.2, 2.5.8)."""
    small = page.evaluate("""() => [...document.querySelectorAll('a, button, input, summary')]
        .filter(it => it.offsetHeight > 0 && Math.min(it.offsetHeight, it.offsetWidth) < 24)
        .map(it => it.outerHTML.slice(0, 80))""")
    check(f"{name} has nothing too small to press", small == [], small)


def contrast(page: Page, name: str) -> None:
    """Text stands out from what is behind it: a contrast of 4.5 or more (WCAG 2.2, 1.4.3)."""
    faint = page.evaluate("""() => {
        const rgb = text => text.match(/[\\d.]+/g).map(Number);
        const light = ([r, g, b]) => [r, g, b].map(v => v / 255)
            .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
            .reduce((sum, v, at) => sum + v * [0.2126, 0.7152, 0.0722][at], 0);
        const behind = it => {
            for (let at = it; at; at = at.parentElement) {
                const colour = rgb(getComputedStyle(at).backgroundColor);
                if (colour.length === 3 || colour[3] > 0) return colour;
            }
            return matchMedia('(prefers-color-scheme: dark)').matches ? [18, 18, 18] : [255, 255, 255];
        };
        const own = it => [...it.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
        return [...document.querySelectorAll('body *')]
            .filter(it => own(it) && it.offsetHeight > 1)
            .map(it => {
                const [a, b] = [light(rgb(getComputedStyle(it).color)), light(behind(it))];
                return [(Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), it.textContent.trim().slice(0, 40)];
            })
            .filter(([ratio]) => ratio < 4.5);
    }""")
    check(f"{name} can be read: contrast of 4.5 or more", faint == [], faint[:5])


def mails(browser, folder: pathlib.Path, gallery: pathlib.Path | None) -> None:
    """The shortest mail, which fits a picture, and the longest, which has everything."""
    found = [email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
             for path in sorted((folder / "mail").glob("*.eml"))]
    texts = sorted((mail.get_body(("html",)).get_content() for mail in found), key=len)
    for name, text, pictures in [("shortest", texts[0], gallery), ("longest", texts[-1], None)]:
        file = folder / f"{name}.html"
        file.write_text(text)
        one_mail(browser, file, f"the {name} mail", pictures)


def one_mail(browser, file: pathlib.Path, mail: str, gallery: pathlib.Path | None) -> None:
    page = browser.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(file.as_uri())
    for width, scheme in [(360, "light"), (600, "light"), (360, "dark"), (600, "dark")]:
        page.set_viewport_size({"width": width, "height": 800})
        page.emulate_media(color_scheme=scheme)
        no_sideways(page, f"{mail} ({scheme})")
        contrast(page, f"{mail} ({scheme}, {width} px)")
        if gallery and (width, scheme) != (600, "dark"):
            name = f"mail-{width}" if scheme == "light" else f"mail-dark-{width}"
            picture(page, gallery / f"{name}.png")
    remote = [url for url in asked if not url.startswith("file:")]
    check(f"{mail} asks nobody for anything", remote == [], remote)
    page.close()


def picture(page: Page, path: pathlib.Path, height_max: int = 1100) -> None:
    height = min(page.evaluate("document.documentElement.scrollHeight"), height_max)
    width = page.viewport_size["width"]
    page.screenshot(path=path, full_page=True,
                    clip={"x": 0, "y": 0, "width": width, "height": height})


def pages(browser, address: str, key: str, gallery: pathlib.Path | None) -> None:
    for scripts in (True, False):
        context = browser.new_context(java_script_enabled=scripts)
        page = context.new_page()
        complaints: list[str] = []
        page.on("console", lambda message: complain(complaints, message))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        sign_in(page, address, key)
        fleet_page(page, address)
        engine_page(page, address)
        said = "with" if scripts else "without"
        check(f"the browser has no complaint, {said} JavaScript", complaints == [], complaints)
        if not scripts:
            every_engine(page, address)
            looks(page, address, gallery)
        context.close()


def complain(complaints: list[str], message) -> None:
    """Keeps what the browser complains of; that a wrong key is answered 403 is as it should be."""
    if message.type in ("error", "warning") and "403 (Forbidden)" not in message.text:
        complaints.append(message.text)


def looks(page: Page, address: str, gallery: pathlib.Path | None) -> None:
    """Three pages, each at every width and in both schemes."""
    page.goto(address + "/")
    engine = page.locator("tbody a[href^='/engines/']").first.get_attribute("href")
    page.goto(address + engine)
    report = page.locator("tbody a[href^='/inspections/']").first.get_attribute("href")
    for name, path in [("fleet", "/"), ("engine", engine), ("report", report)]:
        page.goto(address + path)
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            for width in (320, 360, 1200):
                page.set_viewport_size({"width": width, "height": 900})
                no_sideways(page, f"the {name} page ({scheme})")
                contrast(page, f"the {name} page ({scheme}, {width} px)")
                small_targets(page, f"the {name} page ({scheme}, {width} px)")
                if gallery and name != "report" and scheme == "light" and width != 320:
                    if name == "engine":
                        page.locator("details").first.evaluate("it => it.open = true")
                    picture(page, gallery / f"{name}-{width}.png")


def main() -> int:
    program = sys.argv[1]
    gallery = pathlib.Path(sys.argv[2]) if len(sys.argv) > 2 else None
    with tempfile.TemporaryDirectory() as temporary, sync_playwright() as playwright:
        folder = pathlib.Path(temporary) / "demo"
        with service(program, folder) as (address, key):
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            pages(browser, address, key, gallery)
            mails(browser, folder, gallery)
            browser.close()
    failed = sum(1 for _, found in results if found is not None)
    print(f"{len(results) - failed} passed, {failed} failed")
    return 1 if failed or not results else 0


if __name__ == "__main__":
    sys.exit(main())
