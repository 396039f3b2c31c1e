#!/usr/bin/env python3
"""Checks odds and the worth of the next reading against pyAgrum, a library for Bayesian networks, on published ones.

    pip install pyagrum==3.3.1; pip download --no-deps pgmpy==0.1.26
    cargo build --release -p diagnosis --example answers
    python3 referee/inference.py target/release/examples/answers pgmpy-0.1.26-py3-none-any.whl

The networks are files inside that wheel: win95pts (why does the printer not print: 76 nodes, 34 causes), alarm (a
patient under anesthesia; Beinlich et al. 1989), hepar2 (liver disorders; Onisko 2003) and asia (Lauritzen &
Spiegelhalter 1988). pyAgrum reads the file with its own reader, we with the one here. Our side turns every joint state
of the ancestors of what is read into a world and weighs it (engine/diagnosis/examples/answers/network.rs); pyAgrum
propagates messages in a junction tree. Compared, before the first reading and after each: the probability of the
readings, of every node above them, of the outcomes of what could be read next, and the bits that this would buy.
With one cause at work, also the expected minutes of each next step, worked out anew in `Minutes`.
"""
import gzip
import itertools
import json
import math
import random
import re
import subprocess
import sys
import tempfile
import zipfile

import pyagrum

TOLERANCE = 1e-8  # of a probability, and of bits
MINUTES = 1e-5  # of expected minutes: ours stops where less than a millionth is left unfixed


class Network:
    """A network by our own reading of its file, beside pyAgrum's reading of the same file."""

    def __init__(self, name, text):
        self.name = name
        with tempfile.NamedTemporaryFile("w", suffix=".bif") as file:
            file.write(text)
            file.flush()
            self.agrum = pyagrum.loadBN(file.name)
        kinds = re.findall(r"variable\s+(\S+)\s*{\s*type\s+discrete\s*\[\s*\d+\s*\]\s*{([^}]*)}", text)
        self.states = {node: [state.strip() for state in states.split(",")] for node, states in kinds}
        self.names = list(self.states)
        self.parents, self.rows = {}, {}
        for node, parents, body in re.findall(r"probability\s*\(\s*(\S+?)\s*(?:\|([^)]*))?\)\s*{(.*?)\n}", text, re.S):
            self.parents[node] = [parent.strip() for parent in parents.split(",")] if parents else []
            table = {
                tuple(key.strip("() ").split(", ")) if key != "table" else (): [float(p) for p in row.split(",")]
                for key, row in re.findall(r"(\([^)]*\)|table)\s*([^;]*);", body)
            }
            wanted = itertools.product(*(self.states[parent] for parent in self.parents[node]))
            self.rows[node] = [table[states] for states in wanted]
        for node in self.names:
            self.compare_tables(node)
        self.roots = [node for node in self.names if not self.parents[node]]

    def compare_tables(self, node):
        """pyAgrum's reader keeps single precision: where it has read the same table, it gets our digits."""
        table, parents = self.agrum.cpt(node), self.parents[node]
        assert sorted(parent for parent in table.names if parent != node) == sorted(parents), node
        for states, row in zip(itertools.product(*(self.states[parent] for parent in parents)), self.rows[node]):
            assert math.isclose(sum(row), 1, abs_tol=1e-6), (node, row)
            for state, p in zip(self.states[node], row):
                cell = {node: state, **dict(zip(parents, states))}
                assert math.isclose(table[cell], p, rel_tol=1e-6, abs_tol=1e-12), (cell, table[cell], p)
                table[cell] = p / sum(row)
        self.rows[node] = [[p / sum(row) for p in row] for row in self.rows[node]]

    def above(self, node):
        found = set(self.parents[node])
        for parent in self.parents[node]:
            found |= self.above(parent)
        return found

    def leaves(self):
        inner = {parent for parents in self.parents.values() for parent in parents}
        return [node for node in self.names if node not in inner]

    def question(self, given, readings, tests, suspects, **more):
        place = self.names.index
        state = lambda pair: (place(pair[0]), self.states[pair[0]].index(pair[1]))
        asked = {
            "nodes": [
                {
                    "states": len(self.states[node]),
                    "parents": [place(parent) for parent in self.parents[node]],
                    "rows": self.rows[node],
                }
                for node in self.names
            ],
            "given": [state(pair) for pair in given.items()],
            "readings": [state(pair) for pair in readings],
            "tests": [place(node) for node in tests],
            "suspects": [place(node) for node in suspects],
            **more,
        }
        if "one_of" in more:
            asked["one_of"] = [state(pair) for pair in more["one_of"]]
        return asked


class Tally:
    """What was compared, what was off, and the largest difference of each kind."""

    def __init__(self):
        self.compared, self.worst, self.mismatches = 0, {}, []

    def close(self, kind, where, ours, theirs, tolerance=TOLERANCE):
        self.compared += 1
        error = abs(ours - theirs)
        if not error <= self.worst.get(kind, (-1.0,))[0]:
            self.worst[kind] = (error, where)
        if not error <= tolerance:
            self.mismatches.append(f"{kind}, {where}: ours {ours:.9g}, theirs {theirs:.9g}")


def entropy(distribution):
    return -sum(p * math.log2(p) for p in distribution if p > 0)


def probability(network, evidence):
    if not evidence:
        return 1.0
    engine = pyagrum.LazyPropagation(network.agrum)
    engine.setEvidence(evidence)
    engine.setTargets(set())
    return engine.evidenceProbability()


def judge(network, asked, answer, tally):
    """Compares every step of an answer; gives the (readings, cause) pairs it has compared."""
    given, readings, tests, suspects = asked["given"], asked["readings"], asked["tests"], asked["suspects"]
    start, pairs = probability(network, given), set()
    for count, step in enumerate(answer["steps"]):
        evidence = {**given, **dict(readings[:count])}
        where = f"{network.name} given {given}, read {readings[:count]}"
        tally.close("probability of the readings", where, step["evidence"], probability(network, evidence) / start)
        engine = pyagrum.LazyPropagation(network.agrum)
        engine.setEvidence(evidence)
        # An engine that was told of joint targets knows nothing else.
        joints = pyagrum.LazyPropagation(network.agrum)
        joints.setEvidence(evidence)
        for test in tests:
            if test not in evidence and test not in suspects:
                joints.addJointTarget(set(suspects) | {test})
        for at, ours in step["marginals"]:
            node = network.names[at]
            theirs = engine.posterior(node)
            for state, p in zip(network.states[node], ours):
                tally.close("probability of a state", f"{where}, {node}={state}", p, theirs[{node: state}])
            if node in network.roots and node not in evidence:
                pairs.add((frozenset(evidence.items()), node))
        for test, outcomes, bits in zip(tests, step["outcomes"], step["bits"]):
            if test in evidence or test in suspects:
                continue
            theirs = engine.posterior(test)
            for state, p in zip(network.states[test], outcomes):
                tally.close("probability of an outcome", f"{where}, {test}={state}", p, theirs[{test: state}])
            joint = joints.jointPosterior(set(suspects) | {test})
            left = joint.sumOut([test])
            spread = lambda tensor: entropy(tensor.toarray().ravel().tolist())
            bought = spread(left) + entropy(theirs.toarray().tolist()) - spread(joint)
            tally.close("bits of the next reading", f"{where}, {suspects} by {test}", bits, bought)
    return pairs


class Minutes:
    """Expected minutes with exactly one of the causes at work: remedies by falling p/c, or one test first."""

    def __init__(self, remedies, access):
        self.remedies, self.access = remedies, access

    def cost(self, job, opened):
        minutes, place = job
        return minutes + (self.access[place] if place is not None and place not in opened else 0.0)

    def of_repair(self, mass, opened):
        mass, opened, total, order = dict(enumerate(mass)), set(opened), 0.0, []
        while mass and sum(mass.values()) > 0:
            best = max(mass, key=lambda at: (mass[at] / self.cost(self.remedies[at], opened), -at))
            total += self.cost(self.remedies[best], opened) * sum(mass.values())
            opened.add(self.remedies[best][1])
            order.append(best)
            del mass[best]
        return total

    def of_remedy(self, mass, at):
        left = [0.0 if at == other else p for other, p in enumerate(mass)]
        return self.cost(self.remedies[at], set()) * sum(mass) + self.of_repair(left, {self.remedies[at][1]})

    def of_test(self, columns, job):
        total = sum(map(sum, columns))
        return self.cost(job, set()) * total + sum(self.of_repair(column, {job[1]}) for column in columns)


def judge_minutes(network, asked, answer, tally):
    """One cause at work: our odds and expected minutes against pyAgrum's probabilities of whole assignments."""
    plan = Minutes(asked["remedy_minutes"], asked["access_minutes"])
    causes = asked["one_of"]
    fine = {node: next(state for state in network.states[node] if state != bad) for node, bad in causes}

    def columns(evidence):
        return [probability(network, {**asked["given"], **fine, node: bad, **evidence}) for node, bad in causes]

    for count, step in enumerate(answer["steps"]):
        evidence = dict(asked["readings"][:count])
        where = f"{network.name}, one of {len(causes)} causes, read {evidence}"
        mass = columns(evidence)
        total = sum(mass)
        for (node, _), ours, theirs in zip(causes, step["suspects"], mass):
            tally.close("odds of one cause", f"{where}, {node}", ours, theirs / total)
        said = step["minutes"]
        tally.close("minutes by p/c", where, said["without_tests"], plan.of_repair(mass, set()) / total, MINUTES)
        for name, ours in said["candidates"]:
            kind, at = re.fullmatch(r"(\w+)\((\d+)\)", name).groups()
            if kind == "Remedy":
                theirs = plan.of_remedy(mass, int(at))
            else:
                node = asked["tests"][int(at)]
                if node in evidence:
                    continue
                outcomes = [columns({**evidence, node: state}) for state in network.states[node]]
                theirs = plan.of_test(outcomes, asked["test_minutes"][int(at)])
            tally.close(f"minutes with a {kind.lower()} next", f"{where}, {name}", ours, theirs / total, MINUTES)


def drawn(network, count, seed, most_bits):
    """Questions by lot: one to four readings, up to four tests near them, one or two suspects among their causes."""

    def few(nodes):
        # Before states of probability zero are dropped, the worlds have this many bits.
        above = set().union(*map(network.above, nodes))
        return sum(math.log2(len(network.states[node])) for node in above) <= most_bits

    dice, questions = random.Random(seed), []
    shown = [node for node in network.names if network.parents[node]]
    while len(questions) < count:
        read = dice.sample(shown, dice.randint(1, 4))
        if not few(read):
            continue
        readings = [(node, dice.choice(network.states[node])) for node in read]
        causes = sorted(set().union(*map(network.above, read)) & set(network.roots))
        near = [node for node in shown if node not in read and network.above(node) & set(causes) and few(read + [node])]
        tests = dice.sample(causes, 1)
        for node in dice.sample(near, min(len(near), 3)):
            tests += [node] if few(read + tests + [node]) else []
        suspects = dice.sample(causes, min(len(causes), dice.randint(1, 2)))
        if probability(network, dict(readings)) > 1e-9:
            questions.append({"given": {}, "readings": readings, "tests": tests, "suspects": suspects})
    return questions


# "It does not print" has 24 causes above it, of which two only say what is in use. What is known beforehand keeps the
# worlds few: all causes on one side, or, with one cause at work, all of them at once.
BEFORE_THE_DRIVER = ["AppOK", "DataFile", "DskLocal", "PrtThread", "PrtSpool", "PrtDriver", "DrvSet", "DrvOK", "PrtSel"]
NETWORK = ["PrtPath", "NtwrkCnfg", "PTROFFLINE", "PrtMpTPth"]
PRINTER = ["PrtCbl", "PrtPort", "CblPrtHrdwrOK", "PrtMem", "PrtTimeOut", "FllCrrptdBffr", "TnrSpply", "PrtOn", "PrtPaper"]


def chosen(network):
    """Jobs as somebody at the printer would meet them, on win95pts; the first state of each cause is the right one."""
    right = lambda causes: {cause: network.states[cause][0] for cause in causes}
    local = {"NetPrint": "No__Local_printer_", "DSApplctn": "Windows"}
    shared = {"NetPrint": "Yes__Network_printer_", "DSApplctn": "Windows"}
    silent = ("Problem1", "No_Output")
    jobs = [
        (
            {**local, **right(BEFORE_THE_DRIVER + NETWORK)},
            [silent, ("PrtStatPaper", "No_Error"), ("PrtStatToner", "Low__None"), ("REPEAT", "Yes__Always_the_Same_")],
            ["PrtStatOff", "PrtStatMem", "PrtPaper", "LclOK"],
            ["TnrSpply", "PrtOn"],
        ),
        (
            {**local, **right(NETWORK + PRINTER)},
            [silent, ("PrtFile", "Yes"), ("PrtSel", "Yes")],
            ["GDIOUT", "DrvSet", "AppData", "EMFOK"],
            ["PrtDriver", "DrvOK"],
        ),
        (
            {**shared, **right(BEFORE_THE_DRIVER + PRINTER[:5])},
            [silent, ("PrtIcon", "Normal"), ("PrtStatOff", "No_Error")],
            ["REPEAT", "NetOK", "NtwrkCnfg", "PrtStatToner"],
            ["PrtPath", "NtwrkCnfg", "PTROFFLINE"],
        ),
        (
            {},
            [("Problem6", "Yes"), ("Problem4", "Yes"), ("TstpsTxt", "x_1_Mb_Available_VM")],
            ["PSERRMEM", "PrtStatMem", "GrbldPS", "REPEAT"],
            ["PrtMem", "GrphcsRltdDrvrSttngs"],
        ),
        (
            {},
            [("Problem2", "Too_Long"), ("HrglssDrtnAftrPrnt", "Too_Long")],
            ["PrtStatMem", "DeskPrntSpd", "PrtQueue"],
            ["PrtSpool", "PrtQueue", "NtwrkCnfg"],
        ),
        (
            {},
            [("Problem5", "Yes"), ("PrtStatMem", "No_Error")],
            ["TTOK", "FntInstlltn", "ScrnFntNtPrntrFnt"],
            ["FntInstlltn", "PrntrAccptsTrtyp"],
        ),
    ]
    keys = ("given", "readings", "tests", "suspects")
    questions = [dict(zip(keys, job)) for job in jobs]
    dice = random.Random(95)
    causes = BEFORE_THE_DRIVER + NETWORK + PRINTER
    for context in (local, shared):
        tests = ["PrtStatPaper", "PrtStatToner", "PrtStatMem", "PrtStatOff", "PrtFile", "PrtIcon", "REPEAT"]
        costs = lambda count, least, most: [
            (round(dice.uniform(least, most), 1), dice.choice([None, 0, 1, 2])) for _ in range(count)
        ]
        questions.append(
            {
                "given": context,
                "readings": [silent, ("PrtStatPaper", "No_Error"), ("PrtFile", "Yes")],
                "tests": tests,
                "suspects": [],
                "one_of": [(cause, network.states[cause][1]) for cause in causes],
                "test_minutes": costs(len(tests), 0.5, 3.0),
                "remedy_minutes": costs(len(causes), 1.0, 15.0),
                "access_minutes": [1.5, 3.0, 6.0],
            }
        )
    return questions


def ask(binary, questions):
    lines = "".join(json.dumps(question) + "\n" for question in questions)
    said = subprocess.run([binary, "network"], input=lines, capture_output=True, text=True, check=True).stdout
    return [json.loads(line) for line in said.splitlines()]


def compare(binary, network, questions, tally):
    """Asks all questions, and each with several readings a second time in another order."""
    count, pairs, orders, worlds = 0, set(), 0, 0
    dice = random.Random(7)
    turned = [{**asked, "readings": dice.sample(asked["readings"], len(asked["readings"]))} for asked in questions]
    written = [network.question(**asked) for asked in questions + turned]
    answers = ask(binary, written)
    straight, shuffled = answers[: len(questions)], answers[len(questions) :]
    for asked, other, answer, again in zip(questions, turned, straight, shuffled):
        if answer is None:
            continue
        count, worlds = count + 1, max(worlds, answer["worlds"])
        if "one_of" in asked:
            judge_minutes(network, asked, answer, tally)
        else:
            pairs |= judge(network, asked, answer, tally)
        if asked["readings"] != other["readings"]:
            orders += 1
            if answer["steps"][-1] != again["steps"][-1]:
                tally.mismatches.append(f"{network.name}, {asked['readings']}: the order of readings leaves a trace")
    print(
        f"{network.name}: {count} of {len(questions)} casts small enough, the largest of {worlds} worlds; "
        f"{len(pairs)} pairs of evidence and cause; {orders} read in another order too, equal to the last bit"
    )
    return len(pairs)


def main():
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    binary, wheel = sys.argv[1:]
    tally, pairs = Tally(), {}
    with zipfile.ZipFile(wheel) as files:
        for name, count, most_bits in [("asia", 12, 8), ("win95pts", 40, 22), ("alarm", 25, 15), ("hepar2", 25, 15)]:
            text = gzip.decompress(files.read(f"pgmpy/utils/example_models/{name}.bif.gz")).decode()
            network = Network(name, text)
            questions = (chosen(network) if name == "win95pts" else []) + drawn(network, count, len(name), most_bits)
            pairs[name] = compare(binary, network, questions, tally)
    print(f"{tally.compared} values compared, {len(tally.mismatches)} mismatches")
    for kind, (error, where) in sorted(tally.worst.items()):
        print(f"worst {kind}: {error:.3g} ({where[:160]})")
    for mismatch in tally.mismatches[:40]:
        print(f"MISMATCH {mismatch}")
    sys.exit(1 if tally.mismatches or pairs["win95pts"] < 30 else 0)


if __name__ == "__main__":
    main()
