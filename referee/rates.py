#!/usr/bin/env python3
"""Checks rates learned from verdicts against scipy: gamma quantiles, and the negative binomial law of what is to come.

    python3 referee/rates.py target/release/examples/answers

A rate with the density Gamma(a, b) makes the number of faults in an exposure t negative binomial with a and b/(b + t).
"""
import itertools
import json
import subprocess
import sys

from scipy import stats

TOLERANCE = 1e-6  # relative


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    names = ("verdicts", "exposure", "more_verdicts", "more_exposure", "to_come")
    grid = itertools.product(
        (0.05, 0.5, 1.0, 1.5, 2.0, 7.0, 40.0), (1.0, 2000.0, 1e6), (0.0, 0.5, 1.0, 5.0, 300.0), (0.0, 1500.0), (1.0, 100.0)
    )
    questions = [dict(zip(names, values)) for values in grid]
    lines = "".join(json.dumps(question) + "\n" for question in questions)
    said = subprocess.run([sys.argv[1], "rates"], input=lines, capture_output=True, text=True, check=True).stdout
    answers = [json.loads(line) for line in said.splitlines()]
    assert len(answers) == len(questions)
    worst, mismatches = 0.0, 0
    for asked, answer in zip(questions, answers):
        shape = asked["verdicts"] + asked["more_verdicts"]
        exposure = asked["exposure"] + asked["more_exposure"]
        law = stats.gamma(shape, scale=1 / exposure)
        count = stats.nbinom(shape, exposure / (exposure + asked["to_come"]))
        expected = [law.mean(), law.ppf(0.05), law.ppf(0.95), count.sf(0)]
        found = [answer["mean"], *answer["interval"], answer["at_least_one"]]
        for ours, theirs in zip(found, expected):
            error = abs(ours - theirs) / theirs
            worst = max(worst, error)
            if not error <= TOLERANCE:
                mismatches += 1
                print(f"MISMATCH {asked}: ours {ours!r}, theirs {theirs!r}")
    print(f"{4 * len(questions)} values of {len(questions)} rates compared, {mismatches} mismatches, worst {worst:.2g}")
    sys.exit(1 if mismatches else 0)


if __name__ == "__main__":
    main()
