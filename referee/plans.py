#!/usr/bin/env python3
"""Checks exact plans, and what advice costs, by a brute-force recursion of its own; needs nothing but Python.

    cargo build --release -p diagnosis --example answers
    python3 referee/plans.py target/release/examples/answers

P1 to P3 (docs/oracles.md), then 120 problems by lot: 5 faults, 5 tests of two outcomes with 0, 2 or 10 % error, two
places of 1 to 6 minutes, remedies of 2 to 20 minutes. `Plan` finds the least expected minutes over all histories
(Bellman 1957) and walks the tree of what is advised, remembering nothing of our code's shape: a state is the set of
outcomes seen, remedies tried and places opened. Then the ratio of advised to least minutes, also on problems of up to
10 faults, whose optimum is our own exact recursion, the one compared here.
"""
import functools
import json
import math
import subprocess
import sys

TOLERANCE = 1e-6
LEAST_MASS = 1e-12  # what is less likely costs nothing, as in ours
EXPECTED = {"P1": 14.715, "P2": 14.335, "P3": 11.643264}  # docs/oracles.md
# problems, faults, tests; what the mean and the 95th percentile of advised / least minutes may be
SIZES = [
    (120, 5, 5, 1.0, 1.0),
    (120, 6, 7, 1.02, 1.06),
    (120, 7, 6, 1.02, 1.06),
    (60, 8, 8, 1.02, 1.06),
    (60, 9, 7, 1.02, 1.06),
    (60, 10, 6, 1.02, 1.06),
]


class Plan:
    def __init__(self, problem):
        self.mass, self.wrong = problem["mass"], problem["wrong_minutes"]
        self.tests, self.remedies, self.access = problem["tests"], problem["remedies"], problem["access"]
        self.least = functools.lru_cache(maxsize=None)(self.find_least)

    def cost(self, minutes, place, opened):
        return minutes + (self.access[place] if place is not None and place not in opened else 0.0)

    def left(self, seen, tried):
        """P(fault, what was seen), remedied faults out."""
        mass = [0.0 if fault in tried else p for fault, p in enumerate(self.mass)]
        for test, outcome in seen:
            mass = [p * row[outcome] for p, row in zip(mass, self.tests[test]["rows"])]
        return mass

    def find_least(self, seen, tried, opened):
        mass = self.left(seen, tried)
        total = sum(mass)
        if total <= LEAST_MASS:
            return 0.0
        return min(self.value(step, mass, total, seen, tried, opened) for step in self.steps(mass, seen))

    def steps(self, mass, seen):
        made = {test for test, _ in seen}
        for at, test in enumerate(self.tests):
            if at not in made and made.issuperset(test["needs"]):
                yield "Test", at
        if self.wrong is not None:
            yield "Declare", None
        else:
            yield from (("Remedy", at) for at, p in enumerate(mass) if p > 0)

    def value(self, step, mass, total, seen, tried, opened, after=None):
        """Minutes × probability of a step and what follows: the best, or what `after` says for each next state."""
        after = after or (lambda _, *state: self.least(*state))
        kind, at = step
        if kind == "Declare":
            return self.wrong * (total - max(mass))
        if kind == "Remedy":
            minutes, place = self.remedies[at]
            return self.cost(minutes, place, opened) * total + after(0, seen, tried | {at}, opened | {place})
        test = self.tests[at]
        following = (
            after(outcome, seen | {(at, outcome)}, tried, opened | {test["place"]})
            for outcome in range(len(test["rows"][0]))
        )
        return self.cost(test["minutes"], test["place"], opened) * total + sum(following)

    def walk(self, tree, seen=frozenset(), tried=frozenset(), opened=frozenset()):
        """Minutes × probability of doing what the tree says."""
        mass = self.left(seen, tried)
        total = sum(mass)
        if tree["step"] == "nothing left":
            assert total <= 1e-9, f"the tree ends with {total} left"
            return 0.0
        kind, _, at = tree["step"].rstrip(")").partition("(")
        step = (kind, int(at) if at else None)
        if total > LEAST_MASS:
            assert step in set(self.steps(mass, seen)), f"{step} is not to be had"
        following = lambda branch, *state: self.walk(tree["after"][branch], *state)
        return self.value(step, mass, total, seen, tried, opened, following)


def ask(binary, **question):
    asked = json.dumps(question) + "\n"
    said = subprocess.run([binary, "plans"], input=asked, capture_output=True, text=True, check=True).stdout
    return json.loads(said)


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    binary, mismatches, worst, compared = sys.argv[1], [], 0.0, 0
    made = list(zip(EXPECTED, ask(binary, problems=0, suspects=0, tests=0, seed=0)))
    drawn = [(f"by lot {at}", answer) for at, answer in enumerate(ask(binary, problems=120, suspects=5, tests=5, seed=1))]
    for name, answer in made + drawn:
        plan = Plan(answer["problem"])
        least = plan.least(frozenset(), frozenset(), frozenset())
        pairs = [("least", answer["optimum"], least), ("advised", answer["advised"], plan.walk(answer["tree"]))]
        if name in EXPECTED:
            pairs.append(("least, by docs/oracles.md", least, EXPECTED[name]))
        for what, ours, theirs in pairs:
            compared, worst = compared + 1, max(worst, abs(ours - theirs))
            if not abs(ours - theirs) <= TOLERANCE:
                mismatches.append(f"{name}, {what}: ours {ours:.7f}, theirs {theirs:.7f}")
    print(f"{compared} expected minutes compared, {len(mismatches)} mismatches, worst difference {worst:.2g}")
    for problems, faults, tests, most_mean, most_p95 in SIZES:
        answers = ask(binary, problems=problems, suspects=faults, tests=tests, seed=20240, figures_only=True)
        for what in ("advised", "one_step_ahead"):
            ratios = sorted(answer[what] / answer["optimum"] for answer in answers)
            mean, p95 = sum(ratios) / len(ratios), ratios[math.ceil(0.95 * len(ratios)) - 1]
            exact = sum(ratio < 1 + 1e-9 for ratio in ratios) / len(ratios)
            print(
                f"{problems} problems of {faults} faults and {tests} tests, {what.replace('_', ' ')} / least minutes: "
                f"mean {mean:.4f}, 95th percentile {p95:.4f}, worst {ratios[-1]:.4f}, exactly least {exact:.0%}"
            )
            if what == "advised" and not (mean <= most_mean + 1e-6 and p95 <= most_p95 + 1e-6):
                mismatches.append(f"{faults} faults, {tests} tests: wanted a mean of {most_mean} and {most_p95}")
            if ratios[0] < 1 - 1e-9:
                mismatches.append(f"{faults} faults, {tests} tests: {what} is below the least")
    for mismatch in mismatches[:40]:
        print(f"MISMATCH {mismatch}")
    sys.exit(1 if mismatches else 0)


if __name__ == "__main__":
    main()
