#!/usr/bin/env python3
"""The workbench in a real browser: whole jobs by touch and by keyboard, every page in every look.

usage: browser.py PROBEWRIGHT PICTURES

Drives Chromium (Debian's) through Playwright. What is held against what:
  - a planted fault, its readings computed by `probewright read`, is proven from complaint to closed job on a telephone
    (390 x 844, touch) and on a desk (1280 x 800, keyboard only), once more with script switched off;
  - everything on every page that does something is reached by Tab, and nothing holds the focus;
  - axe-core finds nothing against WCAG 2.2 A and AA, light, dark and in sunlight, and nothing against its rule for 7:1
    contrast (AAA) on the page of a job;
  - every page parses without an error by the rules of the HTML standard (html5lib), and no id is there twice;
  - a player who follows the hints of the page of practice finds what the terminal says the seeds have planted, by touch
    on the schematic, and what the meter on the page shows is what `probewright read` prints for the same leads;
  - everything on a job's page and on that of practice that can be touched is at least 48 px in each direction, actions at least 56 px;
  - a guide and an owner's questions, each a file, hold all of this without a network, and the owner's answers come back;
  - no page asks another machine for anything; a job's page is at most 150 kB; nothing is wider than 320 px.
Pictures of all pages are written into the folder PICTURES, to be looked at.
"""

import json
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import axe_playwright_python
import html5lib
from playwright.sync_api import sync_playwright

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]
AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text()
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
DESK = {"viewport": {"width": 1280, "height": 800}}
PAGE_BYTES = 150_000
FLEET = "/fleet?mornings=Saturday%2C+-8+C%0A2026-12-06%2C+2"
# Planted faults that are found by touch: machine and seed of each.
PLAYED = [(machine, seed) for machine in ("curlew", "moorhen") for seed in range(1, 11)]

VERBOSE = len(sys.argv) > 3
failures: list[str] = []
# The first page seen that waits for the table of readings.
waiting: list[str] = []


def check(holds: bool, what: str) -> None:
    if not holds:
        failures.append(what)
        print(f"NOT: {what}")


class Bench:
    """The workbench, served from a fresh folder."""

    def __init__(self, program: str, folder: str):
        self.program, self.folder = program, folder
        self.served = subprocess.Popen(
            [program, "serve", "--port", "0", "--journal", f"{folder}/journal.db", "--machines", f"{folder}/machines"],
            stderr=subprocess.PIPE, text=True)
        self.base = re.search(r"http://[^ /]+", self.served.stderr.readline()).group(0)

    def shows(self, machine: str, probe: str, air: str, faults: list[str]) -> str:
        """What an instrument shows on a machine with these faults."""
        command = [self.program, "read", f"{self.folder}/machines/{machine}.toml", probe, "--air", air, "--json"]
        for fault in faults:
            command += ["--fault", fault]
        ran = subprocess.run(command, capture_output=True, text=True)
        if ran.returncode != 0:
            return "skip"
        read = json.loads(ran.stdout)
        return read["display"] or str(read["value"])

    def answer(self, question: str, job: dict, mended: bool) -> str:
        fixed = {"complaint": job["complaint"], "ask:since": "nothing", "air": job["air"], "meter:leads": "0.14",
                 "meter:amps": "0.41 A"}
        if question in fixed:
            return fixed[question]
        if question.startswith("try:"):
            return "fixed" if question.split("@")[1] == job["fault"].split(":")[0] else "same"
        return self.shows(job["machine"], question, job["air"], [] if mended else [job["fault"]])


def computed(page) -> None:
    """Waits while the table of readings is being computed: the page looks by itself, or is told to."""
    heading = page.locator("h1", has_text="Computing what")
    for _ in range(240):
        if heading.count() == 0:
            return
        seen = "" if waiting else page.request.get(page.url).text()
        if "data-again" in seen:
            waiting.append(seen)
        time.sleep(0.25)
        by_hand = page.get_by_role("link", name="Look again")
        if by_hand.count():
            by_hand.click()
    raise SystemExit("the table of readings is never there")


def keeps_waiting(page, base: str) -> None:
    """At this address a page that waits for the table of readings goes on waiting, to be looked at in peace."""
    page.route(f"{base}/waiting", lambda route: route.fulfill(body=waiting[0], content_type="text/html; charset=utf-8"))


def go(page, button: str) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name=button, exact=True).click()


def by_touch(page, question: str, answer: str) -> None:
    word = page.locator(f'button[name="word"][value="{answer}"]')
    button = word.first if word.count() else page.locator("button.main", has_text="Enter")
    if not word.count():
        page.locator("#typed").fill(answer)
    with page.expect_navigation():
        button.tap()


def by_key(page, question: str, answer: str) -> None:
    """The same with the keyboard alone: Tab to the place, Enter."""
    word = page.locator(f'button[name="word"][value="{answer}"]')
    target = word.first if word.count() else page.locator("#typed")
    for _ in range(80):
        if target.evaluate("element => element === document.activeElement"):
            break
        page.keyboard.press("Tab")
    else:
        check(False, f"{question}: Tab does not get to {answer}")
        target.focus()
    if not word.count():
        page.keyboard.type(answer)
    with page.expect_navigation():
        page.keyboard.press("Enter")


def whole_job(bench: Bench, page, job: dict, act) -> int:
    """From the machine's page to the closed job; how many questions it took."""
    page.goto(f"{bench.base}/machine/{job['machine']}")
    go(page, "Begin a job")
    mended = False
    for number in range(60):
        computed(page)
        if page.locator("h1", has_text=re.compile("^Proven$")).count():
            go(page, "Close the job")
            closed = page.locator("h1").inner_text()
            check("the cause is proven" in closed, f"{job['fault']}: {closed}")
            check(job["cause"] in page.content(), f"{job['fault']}: the page names another cause")
            return number
        question = page.locator("form.answer input[name=question]").first.get_attribute("value")
        answer = bench.answer(question, job, mended)
        print("   ", question, "=", answer, flush=True) if VERBOSE else None
        mended = mended or (question.startswith("try:") and answer == "fixed")
        act(page, question, answer)
    check(False, f"{job['fault']}: no end in sight")
    return 60


def planted(bench: Bench, machine: str, seed: int) -> tuple[str, str]:
    """Fault and air of a seed, as the terminal tells them."""
    command = [bench.program, "practice", f"{bench.folder}/machines/{machine}.toml", "--seed", str(seed), "--reveal"]
    said = subprocess.run(command, input="quit\n", capture_output=True, text=True).stdout
    fault = " ".join(said.split("  planted")[1].split("\n\n")[0].split()).rsplit("(", 1)[1].split(")")[0]
    return fault, re.search(r"air +(\S+ °C)", said).group(1)


def acted(page, touched) -> None:
    """Touches something that does an act, and waits until the page shows what came of it."""
    old = page.locator("#practice").element_handle()
    touched.tap()
    page.wait_for_function("old => !old.isConnected && !document.querySelector('[data-again]')", arg=old, timeout=120_000)


def chosen(page, act: str, word: str):
    return page.locator(f'form.act:has(input[name=act][value="{act}"]) button[name=of][value="{word}"]')


def by_the_hints(bench: Bench, page, machine: str, seed: int) -> None:
    """A planted fault, found by touch: leads on the drawing, dial, state, `Read`; what is no meter's is taken by its form."""
    fault, air = planted(bench, machine, seed)
    page.goto(f"{bench.base}/practice")
    card = page.locator("li.card", has=page.locator(f'form[action="/machine/{machine}/practice"]'))
    card.locator("summary").tap()
    card.locator("input[name=seed]").fill(str(seed))
    with page.expect_navigation():
        card.get_by_role("button", name="Begin").tap()
    read, clock = 0, 0.0
    for _ in range(40):
        acted(page, page.get_by_role("button", name=re.compile("^Hint")))
        form = page.locator("#told form.act")
        wanted = form.locator("input[name=of]").get_attribute("value")
        two_leads = re.fullmatch(r"(volts|low-z|ohms|diode|lamp)@([^:~]+):([^,/]+),([^,/]+)", wanted)
        if two_leads:
            mode, state, red, black = two_leads.groups()
            for lead, node in [("red", red), ("black", black)]:
                page.locator(f'[data-lead="{lead}"]').tap()
                # The meter stays in sight and may lie over the point.
                point = page.locator(f'.schematic a.node[href="?at={node}#at"] .hit').locator("visible=true").first
                point.evaluate("point => point.scrollIntoView({block: 'center'})")
                page.evaluate("scrollBy(0, 150)")
                acted(page, point)
            acted(page, chosen(page, "mode", mode))
            page.locator("#state").select_option(state)
            acted(page, page.get_by_role("button", name="Do it", exact=True))
            acted(page, page.locator("button.read"))
            shown = page.locator("#meter .display").inner_text()
            expected = bench.shows(machine, wanted, air, [fault])
            check(shown.removesuffix(", chattering") == expected, f"{wanted}: the page shows {shown}, `read` {expected}")
            read += 1
        else:
            acted(page, form.locator("button"))
        print("   ", wanted, flush=True) if VERBOSE else None
        now = float(re.search(r"The clock: ([0-9.]+) min", page.locator(".clock").inner_text()).group(1))
        check(now > clock, f"{wanted}: the clock is at {now} after {clock}")
        clock = now
        if page.locator("#meter").count() == 0:
            break
    if page.get_by_role("button", name="Do the repair check").count():
        acted(page, page.get_by_role("button", name="Do the repair check"))
    ending = page.locator("h2.ending").inner_text()
    check(ending == "Found, mended and proven", f"practice on {machine}, seed {seed}: {ending}")
    check(page.locator("dl.how code").first.inner_text() == fault.split("=")[0], f"practice on {machine}: not {fault}")
    check(read > 0, f"practice on {machine}, seed {seed}: nothing was read with two leads")
    print(f"practice, touch: {fault} on {machine} found in {clock} min, {read} readings on the drawing")


def accessible(page, name: str, aaa: bool = False) -> None:
    page.evaluate(AXE)
    found = page.evaluate("""tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})""", TAGS)
    for violation in found["violations"]:
        where = "; ".join(" ".join(map(str, node["target"])) for node in violation["nodes"][:3])
        check(False, f"{name}: axe {violation['id']}: {where}")
    if aaa:
        found = page.evaluate(
            "() => axe.run('.now', {runOnly: ['color-contrast-enhanced'], rules: {'color-contrast-enhanced': {enabled: true}}})")
        for violation in found["violations"]:
            where = "; ".join(" ".join(map(str, node["target"])) for node in violation["nodes"][:3])
            check(False, f"{name}: contrast under 7:1: {where}")


def large_enough(page, name: str) -> None:
    small = page.evaluate("""() => {
        const shown = element => element.checkVisibility() && element.getClientRects().length;
        const of = selector => [...document.querySelectorAll(selector)].filter(shown).map(element => {
            const box = element.getBoundingClientRect();
            return [element.textContent.trim().slice(0, 30) || element.name, Math.round(box.width), Math.round(box.height)];
        });
        return [of('main button, main a.button, main input:not([type=hidden]):not([type=checkbox]), main select, main summary')
                    .filter(([, width, height]) => Math.min(width, height) < 48),
                of('.answer button, .practice button').filter(([, , height]) => height < 56)];
    }""")
    check(not small[0], f"{name}: smaller than 48 px: {small[0][:4]}")
    check(not small[1], f"{name}: actions lower than 56 px: {small[1][:4]}")


def reached(page, name: str) -> int:
    """Everything that can be done, folds opened, is reached by Tab from the top, and the way leads out again."""
    count = page.evaluate("""() => {
        document.querySelectorAll('details').forEach(fold => fold.open = true);
        const every = 'a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex]:not([tabindex="-1"])';
        const shown = element => element.checkVisibility() && element.getClientRects().length && !element.disabled;
        // Of a group of radio buttons Tab reaches one, the arrows the others.
        const groups = new Set();
        const first = element => element.type !== 'radio' || (!groups.has(element.name) && groups.add(element.name));
        // What is drawn twice, the ground say, is reached once.
        const again = element => element.tabIndex < 0 && [...document.querySelectorAll(every)].some(other =>
            other.tabIndex >= 0 && shown(other) && other.getAttribute('href') === element.getAttribute('href'));
        const all = [...document.querySelectorAll(every)].filter(shown).filter(first).filter(element => !again(element));
        all.forEach((element, number) => element.dataset.stop = element.type === 'radio' ? 'r' + element.name : number);
        document.querySelectorAll('input[type=radio]').forEach(radio => radio.dataset.stop = 'r' + radio.name);
        document.activeElement?.blur();
        window.scrollTo(0, 0);
        return all.length;
    }""")
    found = set()
    for _ in range(count + 5):
        page.keyboard.press("Tab")
        found.add(page.evaluate("() => document.activeElement?.dataset?.stop ?? null"))
    missed = page.evaluate("""found => [...document.querySelectorAll('[data-stop]')]
        .filter(element => !found.includes(element.dataset.stop)).map(element => element.outerHTML.slice(0, 90))""",
        sorted(stop for stop in found if stop))
    check(not missed, f"{name}: Tab does not get to {missed[:3]}")
    return count


def valid(text: str, name: str) -> None:
    """Held against the parsing rules of the HTML standard, and no name is given twice."""
    parser = html5lib.HTMLParser(strict=False)
    parser.parse(text)
    for position, error, _ in parser.errors[:3]:
        check(False, f"{name}: HTML {error} at {position}")
    names = re.findall(r' id="([^"]*)"', text)
    check(len(names) == len(set(names)), f"{name}: an id is given twice: {sorted(n for n in names if names.count(n) > 1)[:3]}")


def narrow(browser, base: str, path: str, name: str) -> None:
    context = browser.new_context(viewport={"width": 320, "height": 640})
    page = context.new_page()
    keeps_waiting(page, base)
    page.goto(base + path)
    wide = page.evaluate("document.documentElement.scrollWidth")
    check(wide <= 320, f"{name}: {wide} px wide on a screen of 320 px")
    context.close()


def alone(bench: Bench, browser, pictures: Path) -> None:
    """Pages in one file, opened without a network: a guide, and an owner's questions whose line comes back into a job."""
    machine, folder = "machines/curlew.toml", Path(bench.folder)
    journal = ["--journal", str(folder / "alone.db")]

    def run(*arguments: str) -> subprocess.CompletedProcess:
        return subprocess.run([bench.program, *arguments], capture_output=True, text=True)

    for name in ("owner", "guide"):
        file = folder / f"{name}.html"
        check(run(name, machine, "--output", str(file)).returncode == 0, f"{name} is not written")
        valid(file.read_text(), name)
        for size, options in [("phone", PHONE), ("desk", DESK), ("narrow", {"viewport": {"width": 320, "height": 640}})]:
            for scheme in ("light", "dark"):
                context = browser.new_context(**options, color_scheme=scheme, offline=True)
                page = context.new_page()
                page.on("request", lambda request: check(request.url.startswith(("file:", "data:")), f"asks for {request.url}"))
                page.on("pageerror", lambda error: check(False, f"script: {error}"))
                page.goto(file.as_uri())
                accessible(page, f"{name} alone, {size}, {scheme}")
                wide = page.evaluate("document.documentElement.scrollWidth")
                check(wide <= options["viewport"]["width"], f"{name} alone: {wide} px wide, {size}")
                page.screenshot(path=pictures / f"{size}-{name}-alone-{scheme}.png", full_page=name == "owner")
                if size == "desk" and scheme == "light":
                    print(f"{name} alone: {reached(page, name)} links, buttons and fields reached by Tab")
                if name == "owner" and size == "phone" and scheme == "light":
                    for question in page.locator("form.owner fieldset").all():
                        question.locator("label").first.tap()
                    line = page.locator("#line").inner_text()
                    check(run("job", *journal, "new", machine, "--name", "far").returncode == 0, "no job for the answers")
                    spoiled = line[:-1] + ("a" if line[-1] != "a" else "b")
                    check(run("job", *journal, "answers", "far", spoiled).returncode != 0, f"a mistyped line is taken: {spoiled}")
                    taken = run("job", *journal, "answers", "far", line)
                    check(taken.returncode == 0, f"the owner's line is not taken: {line}: {taken.stderr}")
                    print(f"owner alone: {len(line.split()) - 3} answers by touch, the line comes back: {line}")
                context.close()


def main() -> int:
    program, pictures = sys.argv[1], Path(sys.argv[2])
    pictures.mkdir(parents=True, exist_ok=True)
    curlew = {"machine": "curlew", "fault": "ground-cable:corroded=60mohm", "complaint": "cranks-slowly", "air": "12 C",
              "cause": "Ground cable is corroded"}
    moorhen = {"machine": "moorhen", "fault": "main-fuse:blown", "complaint": "nothing-happens", "air": "12 C",
               "cause": "uel"}
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        bench = Bench(program, folder)
        browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        asked: list[str] = []

        def opened(context):
            page = context.new_page()
            page.set_default_timeout(15_000)
            page.on("request", lambda request: asked.append(request.url))
            page.on("pageerror", lambda error: check(False, f"script: {error}"))
            keeps_waiting(page, bench.base)
            return page

        phone = browser.new_context(**PHONE)
        page = opened(phone)
        page.goto(bench.base)
        page.screenshot(path=pictures / "phone-first.png")
        go(page, "Take the eight demo machines")
        took = whole_job(bench, page, curlew, by_touch)
        print(f"telephone, touch: {curlew['fault']} proven after {took} answers")
        first = page.url
        desk = browser.new_context(**DESK)
        page = opened(desk)
        took = whole_job(bench, page, dict(curlew, fault="button-contact:open", complaint="nothing-happens", cause="tart"), by_key)
        print(f"desk, keyboard: button-contact:open proven after {took} answers")
        plain = browser.new_context(**PHONE, java_script_enabled=False)
        page = opened(plain)
        took = whole_job(bench, page, dict(curlew, fault="motor-cable:open", complaint="one-click", cause="otor cable"), by_touch)
        print(f"without script: motor-cable:open proven after {took} answers")

        page = opened(phone)
        for machine, seed in PLAYED:
            by_the_hints(bench, page, machine, seed)
        found = page.url
        page.goto(f"{bench.base}/machine/curlew")
        go(page, "Practice")
        acted(page, page.get_by_role("button", name=re.compile("^Hint")))
        practice = page.url

        # A job in its middle, for the pages.
        page = opened(phone)
        page.goto(f"{bench.base}/machine/curlew")
        go(page, "Begin a job")
        for _ in range(5):
            computed(page)
            question = page.locator("form.answer input[name=question]").first.get_attribute("value")
            by_touch(page, question, bench.answer(question, curlew, False))
        computed(page)
        middle = page.url
        page.goto(middle)
        check(bool(waiting), "no page waited for the table of readings")
        page.goto(f"{bench.base}{FLEET}")
        page.get_by_role("heading", name="Odds of a start").wait_for(timeout=120_000)
        pages = {"waiting": "/waiting", "machines": "/", "fleet": FLEET, "jobs": "/jobs", "machine": "/machine/curlew?state=held&fault=ground-cable:corroded",
                 "readings": "/machine/curlew/readings", "sheet": "/machine/curlew/sheet", "history": "/machine/curlew/history",
                 "new": "/new", "questions": "/new/quad", "worksheets": "/worksheets",
                 "cold": "/worksheet/cold?machine=curlew&air=-8+C&work=yes", "drain": "/worksheet/drain", "nowhere": "/nowhere",
                 "practice": "/practice", "session": practice.removeprefix(bench.base), "found": found.removeprefix(bench.base),
                 "job": middle.removeprefix(bench.base), "closed": first.removeprefix(bench.base),
                 "quote": f"{middle.removeprefix(bench.base)}/quote", "report": f"{first.removeprefix(bench.base)}/report"}
        looks = [("light", "light", ""), ("dark", "dark", ""), ("sunlight", "light", "sun")]
        for size, options in [("phone", PHONE), ("desk", DESK)]:
            for look, scheme, mode in looks if options is PHONE else looks[:1]:
                context = browser.new_context(**options, color_scheme=scheme)
                page = opened(context)
                page.add_init_script(f"try {{ localStorage.setItem('look', '{mode}') }} catch {{}}")
                for name, path in pages.items():
                    page.goto(bench.base + path)
                    accessible(page, f"{name}, {size}, {look}", aaa=name == "job")
                    if look == "light" or name in ("job", "machine", "session"):
                        page.screenshot(path=pictures / f"{size}-{name}-{look}.png", full_page=True)
                    if name in ("job", "session"):
                        large_enough(page, f"{name}, {size}, {look}")
                context.close()
        alone(bench, browser, pictures)
        page = opened(desk)
        stops = 0
        for name, path in pages.items():
            page.goto(bench.base + path)
            stops += reached(page, name)
        print(f"keyboard: {stops} links, buttons and fields on {len(pages)} pages, all reached by Tab")
        for name, path in pages.items():
            narrow(browser, bench.base, path, name)
            valid(waiting[0] if name == "waiting" else phone.request.get(bench.base + path).text(), name)
        size = len(phone.request.get(middle).body())
        check(size <= PAGE_BYTES, f"a job's page has {size} bytes")
        check(all(url.startswith((bench.base, "data:")) for url in asked), "a page asks another machine")
        print(f"{len(pages)} pages, on the telephone in 3 looks; a job's page has {size} bytes; {len(asked)} requests, all to the workbench")
        browser.close()
        bench.served.terminate()
        check(bench.served.wait(10) == 0, "the workbench does not end by itself")
    print(f"{len(failures)} of the browser's findings to be mended")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
