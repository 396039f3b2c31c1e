#!/usr/bin/env python3
"""The page of a large job under load, by an ordinary load tool (wrk) over the loopback address.

usage: load.py PROBEWRIGHT FOLDER

A job with a reading on each of eighty probes of the largest sheet is put into a journal of its own and served; 32 clients
ask for its page with one second between answer and next question (0.5 to 1.5 s by chance, so that they do not go in
step), then as fast as they can. Printed: time to the answer
at the median and the 99th percentile, pages a second at saturation, bytes of the page. Times depend on the machine and
what else it does, so they are printed and not judged; an answer that is none is a failure.
"""

import json
import re
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

SHEET = "machines/fieldfare.toml"
PROBES = 80


def run(*arguments: str) -> str:
    return subprocess.run(arguments, capture_output=True, text=True, check=True).stdout


def large_job(program: str, journal: str) -> int:
    """A job of the largest machine with a ground cable that has rusted; how many entries it has."""
    run(program, "job", "--journal", journal, "new", SHEET, "--name", "large")
    lines = run(program, "job", "--journal", journal, "export", "large").splitlines()
    fixed = [{"entry": "complaint", "value": "cranks-slowly"}, {"entry": "air", "value": "12 C"}]
    fixed += [{"entry": "reading", "probe": probe, "value": value}
              for probe, value in [("ask:since", "nothing"), ("meter:leads", "0.14"), ("meter:amps", "0.41")]]
    for probe in json.loads(run(program, "probes", SHEET, "--json"))[:PROBES]:
        read = subprocess.run([program, "read", SHEET, probe["id"], "--fault", "ground-cable:corroded=20mohm", "--json"],
                              capture_output=True, text=True)
        if read.returncode == 0:
            shown = json.loads(read.stdout)
            fixed.append({"entry": "reading", "probe": probe["id"], "value": shown["display"] or str(shown["value"])})
    for number, entry in enumerate(fixed):
        at = f"2026-11-28T10:{number // 60:02d}:{number % 60:02d}Z"
        lines.append(json.dumps({"job": "large", "number": number + 2, "key": f"{number + 1:032x}", "at": at, **entry}))
    imported = Path(journal).with_suffix(".jsonl")
    imported.write_text("\n".join(lines) + "\n")
    Path(journal).unlink()
    run(program, "job", "--journal", journal, "import", str(imported))
    return len(lines) - 1


def measured(address: str, script: str, seconds: int, clients: int) -> dict:
    command = ["wrk", "-t2", f"-c{clients}", f"-d{seconds}s", "--latency"]
    said = run(*command, *(["-s", script] if script else []), address)
    factor = {"us": 1e-3, "ms": 1.0, "s": 1e3}
    part = lambda share: next(float(n) * factor[unit] for n, unit in re.findall(rf"{share}%\s+([0-9.]+)(us|ms|s)", said))
    wrong = re.findall(r"Non-2xx or 3xx responses: \d+|Socket errors: .*", said)
    return {"median": part(50), "p99": part(99), "rate": float(re.search(r"Requests/sec:\s+([0-9.]+)", said).group(1)), "wrong": wrong}


def main() -> int:
    program, folder = sys.argv[1], Path(sys.argv[2])
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("journal*"):
        old.unlink()
    journal = str(folder / "journal.db")
    entries = large_job(program, journal)
    machines = folder / "machines"
    machines.mkdir(exist_ok=True)
    (machines / "fieldfare.toml").write_bytes(Path(SHEET).read_bytes())
    served = subprocess.Popen([program, "serve", "--port", "0", "--journal", journal, "--machines", str(machines)],
                              stderr=subprocess.PIPE, text=True)
    try:
        base = re.search(r"http://[^ /]+", served.stderr.readline()).group(0)
        address = f"{base}/job/large"
        for _ in range(240):
            page = urllib.request.urlopen(address).read()
            if b"Computing what" not in page:
                break
            time.sleep(0.25)
        think = folder / "think.lua"
        think.write_text("function delay() return math.random(500, 1500) end\n")
        slow = measured(address, str(think), 20, 32)
        fast = measured(address, "", 8, 32)
    finally:
        served.terminate()
        served.wait(15)
    print(f"a job of {entries} entries, page of {len(page)} bytes, 32 clients with 1 s between: median {slow['median']:.1f} ms, "
          f"99th percentile {slow['p99']:.1f} ms; saturation {fast['rate']:.0f} pages a second")
    wrong = slow["wrong"] + fast["wrong"]
    if wrong:
        print("NOT:", "; ".join(wrong))
    if len(page) > 150_000:
        print(f"NOT: the page has {len(page)} bytes, 150,000 at most")
    return 1 if wrong or len(page) > 150_000 else 0


if __name__ == "__main__":
    sys.exit(main())
