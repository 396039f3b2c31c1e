#!/usr/bin/env python3
"""Bounds on a small trial: `probewright trial … --json` on standard input.

A few hundred jobs say little about a share of one in a hundred, so the bounds are wide: they catch a method that has
come apart, not one that has become a little worse. The full trial is a command of its own (see the README).
"""

import json
import sys

# technician, what, at least, at most
BOUNDS = [
    ("method", "right", 0.90, 1.0),
    ("method", "confident_wrong", 0.0, 0.05),
    ("method", "proven_wrong", 0, 2),
    ("method", "none_of_these", 0.0, 0.06),
]
RATIO = {"list": 0.90, "halving": 1.05}


def main() -> int:
    report = json.load(sys.stdin)
    off = 0
    scores = {score["technician"]: score for score in report["technicians"]}
    for who, what, low, high in BOUNDS:
        value = scores[who][what]
        if not low <= value <= high:
            print(f"{who}: {what} is {value:.3f}; {low} to {high} is expected")
            off += 1
    for against in report["against"]:
        most = RATIO[against["rival"]]
        if against["ratio"]["value"] > most:
            print(f"minutes over {against['rival']}: {against['ratio']['value']:.2f}; at most {most} is expected")
            off += 1
    method = scores["method"]
    print(
        f"{report['jobs']} jobs: {method['right']:.1%} right, {method['confident_wrong']:.1%} confident and wrong, "
        f"{method['proven_wrong']} proven wrong; minutes "
        + ", ".join(f"{a['ratio']['value']:.2f} x {a['rival']}" for a in report["against"])
        + f"; calibration error {report['open']['ece']:.3f}; {off} out of bounds"
    )
    return 1 if off else 0


if __name__ == "__main__":
    sys.exit(main())
