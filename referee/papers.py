#!/usr/bin/env python3
"""Reports and guides on paper: what `probewright report` and `guide` write is held against the job's own entries, and the
guide's own JSON, by other programs.

usage: papers.py PROBEWRIGHT PICTURES

Works whole jobs at the terminal with a planted fault, its readings computed by `probewright read`: one proven, one that
stops before the remedy that mends, one with text that markup would read as a command. Then:
  - pdftotext (poppler) finds every reading, the cause, the remedy, the proof and every caution on the paper;
  - pikepdf (qpdf) reads a structure tree: tagged, with language and title, headings in order, words for every figure,
    header cells in every table; it names PDF/UA-1 in the metadata;
  - two runs give the same bytes, page and paper; nothing on either asks for anything elsewhere;
  - of a guide every step, remedy, healthy band and caution is on the paper, and its structure is read likewise.
Pictures of all pages are written into the folder PICTURES, to be looked at.
"""

import json
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import pikepdf

ROOT = Path(__file__).resolve().parent.parent
# Machine, planted fault, complaint, words of the cause.
JOBS = [
    ("curlew", "ground-cable:corroded=60mohm", "cranks-slowly", "Ground cable is corroded along its length"),
    ("dunlin", "main-fuse:blown", "nothing-happens", None),
]
# Machine and complaint of the courses that are set.
GUIDES = [("curlew", "one-click"), ("fieldfare", "chatters")]
TRAP = '<script>alert(1)</script> #eval("1+1") *bold* $x$ = heading @ref https://evil.example/'


def main():
    program, pictures = sys.argv[1], Path(sys.argv[2])
    pictures.mkdir(parents=True, exist_ok=True)
    problems = []
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(program, Path(folder))
        for machine, fault, complaint, cause in JOBS:
            answers = bench.answers(machine, fault, complaint)
            bench.work(machine, machine, answers)
            problems += look(bench, machine, pictures, cause, proven=True)
            stop = next(index for index, (value, name) in enumerate(answers) if name.startswith("try:") and value == "fixed")
            bench.work(machine, f"{machine}-open", answers[:stop])
            problems += look(bench, f"{machine}-open", pictures, cause, proven=False)
        bench.work("curlew", "trap", bench.answers("curlew", JOBS[0][1], "cranks-slowly")[:6])
        bench.run("job", "--journal", bench.journal, "note", "trap", TRAP)
        problems += look(bench, "trap", pictures, None, proven=False)
        if squeezed(TRAP) not in squeezed(bench.text("trap")):
            problems.append("trap: what was typed is not on the paper as it was typed")
        for machine, complaint in GUIDES:
            problems += guided(bench, machine, complaint, pictures)
    for problem in problems:
        print("FAILED", problem)
    print(f"{2 * len(JOBS) + 1} reports and {len(GUIDES)} guides read by other programs, {len(problems)} problems; pages in {pictures}")
    return 1 if problems else 0


class Bench:
    """The program with a journal of its own."""

    def __init__(self, program, folder):
        self.program, self.folder = program, folder
        self.journal = str(folder / "journal.db")
        self.environment = dict(os.environ, XDG_CONFIG_HOME=str(folder / "configuration"), NO_COLOR="1")

    def run(self, *arguments, typed="", fails=(2, 65, 66, 69, 70, 74)):
        ran = subprocess.run([self.program, *arguments], input=typed, capture_output=True, text=True,
                             env=self.environment)
        if ran.returncode in fails:
            raise SystemExit(f"{' '.join(arguments)}: {ran.stderr}")
        return ran.stdout

    def answers(self, machine, fault, complaint):
        """What is typed into `work`, each with the name that it answers."""
        sheet = str(ROOT / "machines" / f"{machine}.toml")
        head = [(complaint, "complaint"), ("nothing", "ask:since"), ("15 C", "air"), ("0.14", "meter:leads")]
        readings, answers = ["ask:since=nothing", "meter:leads=0.14"], list(head)
        mended = None
        for _ in range(60):
            given = [word for reading in readings for word in ("--reading", reading)]
            advice = json.loads(self.run("advise", sheet, "--complaint", complaint, "--air", "15C", *given, "--json"))
            verdict = advice["verdict"]
            if verdict and verdict["proven"]:
                return answers
            if verdict and verdict["settled"] and mended is None:
                name = verdict["remedy"]
            elif verdict and verdict["settled"]:
                shown = [name for _, name in answers[mended:]]
                name = next((check["probe"] for check in verdict["proof"] if check["probe"] not in shown), None)
                if name is None:
                    raise SystemExit(f"{machine}: the repair check of {fault} is not passed")
            elif advice["stop"]:
                raise SystemExit(f"{machine}: {fault} ends in {advice['stop']}")
            else:
                name = advice["next"][0]["probe"]
            if name == "meter:amps":
                value = "0.4 A"
            elif name.startswith("try:"):
                value = "fixed" if name.endswith("@" + fault.split(":")[0]) else "same"
                mended = len(answers) + 1 if value == "fixed" else None
            else:
                value = self.read(sheet, name, fault if mended is None else None)
            readings.append(f"{name}={value}")
            answers.append((value, name))
        raise SystemExit(f"{machine}: {fault} is not proven after 60 steps")

    def read(self, sheet, name, fault):
        planted = ["--fault", fault] if fault else []
        shown = json.loads(self.run("read", sheet, name, "--air", "15C", *planted, "--json"))
        return "OL" if shown["overload"] else shown["display"]

    def work(self, machine, job, answers):
        typed = "".join(f"{value}\n" for value, _ in answers)
        self.run("work", str(ROOT / "machines" / f"{machine}.toml"), "--job", job, "--journal", self.journal,
                 "--odds", "sheet", typed=typed)

    def report(self, job, form):
        file = self.folder / f"{job}.{form}"
        self.run("report", job, "--journal", self.journal, "--format", form, "--output", str(file))
        return file.read_bytes()

    def text(self, job):
        file = self.folder / f"{job}.pdf"
        if not file.exists():
            self.report(job, "pdf")
        return subprocess.run(["pdftotext", "-raw", str(file), "-"], capture_output=True, text=True, check=True).stdout

    def readings(self, job):
        lines = self.run("job", "--journal", self.journal, "show", job, "--json").splitlines()
        return [entry for entry in map(json.loads, lines) if entry["entry"] == "reading"]


def squeezed(text):
    """Without blanks, hyphenation and ligatures: where a line ends is the paper's own affair."""
    for ligature, letters in (("ﬀ", "ff"), ("ﬁ", "fi"), ("ﬂ", "fl"), ("ﬃ", "ffi"), ("ﬄ", "ffl")):
        text = text.replace(ligature, letters)
    return re.sub(r"[\s\u00ad\u2019']+", "", text)


def look(bench, job, pictures, cause, proven):
    """Everything that is asked of one job's reports."""
    problems = []

    def must(holds, what):
        if not holds:
            problems.append(f"{job}: {what}")

    pdf, page = bench.report(job, "pdf"), bench.report(job, "html").decode()
    must(pdf == bench.report(job, "pdf"), "two runs give two papers")
    must(page == bench.report(job, "html").decode(), "two runs give two pages")
    must("<script" not in page and not re.search(r"(src|href)=\"(?!data:)", page), "the page asks for something")
    text = squeezed(bench.text(job))
    for entry in bench.readings(job):
        if entry["probe"] != "ask:since" and not entry["probe"].startswith("try:"):
            number = re.match(r"[<>]?-?\d+(?:[.,]\d+)?", entry["value"])
            value = number[0].rstrip("0") if number and "." in number[0] else entry["value"]
            must(squeezed(value) in text, f"the reading {entry['probe']} = {entry['value']} is not on the paper")
    if cause:
        must(squeezed(cause) in text, f"the cause `{cause}` is not on the paper")
    must(("Proven:" in text) == proven, "proven or not is told wrongly")
    must(not proven or "stillwanted" not in text.lower(), "a proven job still wants something")
    problems += [f"{job}: {problem}" for problem in structure(bench.folder / f"{job}.pdf")]
    subprocess.run(["pdftoppm", "-r", "70", "-png", str(bench.folder / f"{job}.pdf"), str(pictures / job)], check=True)
    return problems


def guided(bench, machine, complaint, pictures):
    """Everything that is asked of one machine's guide, of few places."""
    problems, file = [], bench.folder / f"guide-{machine}.pdf"
    asked = ("guide", str(ROOT / "machines" / f"{machine}.toml"), "--complaint", complaint, "--depth", "3")
    told = json.loads(bench.run(*asked, "--json"))
    bench.run(*asked, "--format", "pdf", "--output", str(file))
    first = file.read_bytes()
    bench.run(*asked, "--format", "pdf", "--output", str(file))
    if file.read_bytes() != first:
        problems.append(f"guide of {machine}: two runs give two papers")
    text = subprocess.run(["pdftotext", "-raw", str(file), "-"], capture_output=True, text=True, check=True).stdout
    text = squeezed(text).lower()
    wanted = list(told["cautions"])
    for chapter in told["chapters"]:
        for place in chapter["places"]:
            for what in place["what"].values():
                wanted += [what[name] for name in ("title", "caution", "healthy", "text") if what.get(name)]
                wanted += [way["means"] for way in what.get("ways", [])]
    wanted += [remedy[name] for remedy in told["remedies"] for name in ("title", "caution") if remedy[name]]
    wanted += [line for state in told["states"] for line in state["told"]]
    wanted += [line for care in told["care"] for line in care["told"] + care["cautions"]]
    if len(wanted) < 40:
        problems.append(f"guide of {machine}: only {len(wanted)} sentences to look for")
    for words in wanted:
        if squeezed(words).lower() not in text:
            problems.append(f"guide of {machine}: `{words}` is not on the paper")
    problems += [f"guide of {machine}: {problem}" for problem in structure(file)]
    subprocess.run(["pdftoppm", "-r", "70", "-png", str(file), str(pictures / f"guide-{machine}")], check=True)
    return problems


def structure(file):
    """What a reader without eyes needs of a PDF (ISO 14289-1, clause 7; names of ISO 32000-1, 14.7 and 14.8)."""
    problems = []
    with pikepdf.open(file) as pdf:
        root = pdf.Root
        if not root.get("/MarkInfo", {}).get("/Marked", False):
            problems.append("not marked as tagged")
        if not str(root.get("/Lang", "")).startswith("en"):
            problems.append("no language")
        if not root.get("/ViewerPreferences", {}).get("/DisplayDocTitle", False):
            problems.append("the title is not displayed")
        with pdf.open_metadata() as about:
            if not about.get("dc:title"):
                problems.append("no title")
            if about.get("pdfuaid:part") != "1":
                problems.append("does not claim PDF/UA-1")
        if "/StructTreeRoot" not in root:
            return problems + ["no structure tree"]
        found = list(elements(root.StructTreeRoot))
        kinds = [str(element.get("/S")) for element in found]
        for kind in ("/H1", "/H2", "/P"):
            if kind not in kinds:
                problems.append(f"no {kind} in the structure tree")
        levels = [int(kind[2:]) for kind in kinds if re.fullmatch(r"/H\d", kind)]
        if any(after > before + 1 for before, after in zip(levels, levels[1:])):
            problems.append("a level of headings is left out")
        for element in found:
            if element.get("/S") == "/Figure" and len(str(element.get("/Alt", ""))) < 10:
                problems.append("a figure without words")
        if kinds.count("/Table") and not kinds.count("/TH"):
            problems.append("a table without header cells")
        for page in pdf.pages:
            fonts = page.get("/Resources", {}).get("/Font", {})
            for font in fonts.values():
                if "/ToUnicode" not in font and font.get("/Subtype") == "/Type0":
                    problems.append("a font whose letters cannot be read out")
    return problems


def elements(node):
    """All elements of a structure tree, in order."""
    kids = node.get("/K")
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield kid
            yield from elements(kid)


if __name__ == "__main__":
    sys.exit(main())
