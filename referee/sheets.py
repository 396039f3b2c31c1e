#!/usr/bin/env python3
"""Whole machines before the referee: every state, every fault of the catalogue, meters in the circuit.

    cargo build --release && python3 referee/sheets.py [--every] target/release/probewright machines/*.toml

For each case the netlist is what `probewright export` prints and the answer what `probewright solve --requests` prints.
Cases: every state of the sheet, the derived ones, and one with each connector unplugged; healthy, and every fault, mildest,
middle and worst in turn from state to state, or all three with --every; now and then in the cold, with a bridge, or with
two faults; each with two meters connected.
The referee (referee/ngspice.py) applies the rules of fuses, relays, motors and meters by itself.
Promise: the same sheets give the same cases. Limit: a fault whose severity has no usual range is planted at its middle.
"""
import collections
import concurrent.futures
import json
import os
import re
import subprocess
import sys
import tomllib

from ngspice import Ngspice, Netlist, Tally, judge


class Program:
    """The program under check and one sheet."""

    def __init__(self, binary, sheet):
        self.binary, self.sheet = binary, sheet
        with open(sheet, "rb") as file:
            self.told = tomllib.load(file)
        self.id = self.told["machine"]["id"]

    def answers(self, requests):
        text = "".join(json.dumps(request) + "\n" for request in requests)
        run = subprocess.run(
            [self.binary, "solve", self.sheet, "--requests", "-"], input=text, capture_output=True, text=True, check=True
        )
        answers = [json.loads(line) for line in run.stdout.splitlines()]
        assert len(answers) == len(requests), f"{len(requests)} questions, {len(answers)} answers"
        return answers

    def netlist(self, case):
        command = [self.binary, "export", self.sheet, "--format", "spice", "--state", case["state"]]
        for fault in case.get("faults", []):
            command += ["--fault", fault]
        for bridge in case.get("bridge", []):
            command += ["--bridge", bridge]
        for opened in case.get("open", []):
            command += ["--open", opened]
        for path, value in case.get("set", {}).items():
            command += ["--set", f"{path}={value}"]
        if "air" in case:
            command += [f"--air={case['air']}"]
        return subprocess.run(command, capture_output=True, text=True, check=True).stdout

    def states(self):
        own = list(self.told["state"])
        derived = (["pull-in"] if "held" in own else []) + (["dead-held"] if {"held", "dead"} <= set(own) else [])
        unplugged = [f"{'held' if 'held' in own else own[0]}~{name}" for name in self.parts("connector")]
        return own + derived + unplugged

    def parts(self, kind):
        return [name for name, part in self.told["part"].items() if part["kind"] == kind]

    def ratio(self):
        """Turns of the starter for one of the engine."""
        return next((self.told["part"][name].get("ratio", 1) for name in self.parts("drive")), 1)

    def faults(self):
        """Every fault at its usual severities, by what the program says when asked for one that does not exist."""
        names = []
        for answer in self.answers([{"faults": [f"{part}:?"]} for part in self.told["part"]]):
            allowed = answer["error"]["allowed"]
            assert " more" not in allowed, allowed
            names += [name for name in allowed.split(", ") if re.fullmatch(r"[\w-]+:[\w-]+", name)]
        names += list(self.told.get("fault", {}))
        planted = []
        for name, answer in zip(names, self.answers([{"faults": [f"{name}=-1"]} for name in names])):
            allowed = answer.get("error", {}).get("allowed", "")
            usual = re.search(r"usual are (.+) to (.+)$", allowed)
            planted.append([name] + [f"{name}={severity}" for severity in (usual.groups() if usual else ())])
        return planted


def meters(netlist, number):
    """Two meters for a case; which and where goes round with the number of the case."""
    nodes, reference = list(netlist.nodes.values()), netlist.nodes["0"]
    moving = {relay[key] for relay in netlist.relays for key in ("coil", "contact")}
    moving |= {motor["branch"] for motor in netlist.motors}
    quiet = [name for index, name in enumerate(netlist.names) if index not in moving and "bridge" not in name]
    fuses = [netlist.names[fuse["branch"]] for fuse in netlist.fuses]
    red = nodes[number * 7 % len(nodes)]
    black = reference if number % 3 else nodes[(number * 11 + 1) % len(nodes)]
    between = [{"mode": mode, "red": red, "black": black} for mode in ("volts", "ohms", "low-z", "lamp", "diode")]
    inside = [{"mode": "clamp", "in": netlist.names[number * 5 % len(netlist.names)]}]
    inside += [{"mode": "amps", "in": quiet[number * 3 % len(quiet)]}]
    inside += [{"mode": "lamp", "in": fuses[number % len(fuses)]}] if fuses else []
    chosen = [inside[number % len(inside)]]
    if red != black:
        chosen.append(between[number % len(between)])
    return [meter for meter in chosen if "bridge" not in meter.get("in", "")]


def cases_of(program, every):
    severities, states = program.faults(), program.states()
    faults = [fault for planted in severities for fault in planted]
    cases = []
    for index, state in enumerate(states):
        cases.append({"state": state})
        cases.append({"state": state, "air": "-12 C"})
        # From state to state and from fault to fault another severity, unless every one is wanted.
        in_turn = [planted[(index + number) % len(planted)] for number, planted in enumerate(severities)]
        cases += [{"state": state, "faults": [fault]} for fault in (faults if every else in_turn)]
    for number in range(0, len(faults) * 3, 5):
        pair = [faults[number % len(faults)], faults[(number * 7 + 3) % len(faults)]]
        cases.append({"state": states[number % len(states)], "faults": pair, "air": "-5 C"})
    ground = program.told["machine"].get("ground", program.told["machine"].get("reference"))
    for number, part in enumerate(program.told["part"].values()):
        node = part.get("from") or part.get("plus")
        if node and ground and node != ground:
            cases.append({"state": states[number % len(states)], "bridge": [f"{node},{ground}=0.3 ohm"]})
    # A part the wrong way round carries a current only while nothing else gives way.
    ratings = {f"{fuse}.rating": "1 kA" for fuse in program.parts("fuse") + program.parts("breaker")}
    for diode in program.parts("diode"):
        for state in states:
            meters = [{"mode": mode, "in": diode} for mode in ("clamp", "amps")]
            cases.append({"state": state, "faults": [f"{diode}:reversed"], "set": ratings, "read": meters})
    for number, name in enumerate(program.told["part"]):
        cases.append({"state": states[number % len(states)], "open": [name]})
    return cases


def ends(netlist):
    return {name: branch[:2] for name, branch in zip(netlist.names, netlist.branches)}


def half(answer, netlist, coils, motors, turned):
    """Our answer, or one half of it, in the referee's terms: by branch instead of by part."""
    part = lambda name: name.split(".")[0]
    return {
        "nodes": answer["nodes"],
        "currents": answer["currents"],
        "coil_volts": {name: answer["coil_volts"].get(part(name)) for name in coils},
        "relays": {name: answer["relays"][part(name)] for name in coils if answer["relays"][part(name)] != "chatter"},
        "fuses": {
            netlist.names[fuse["branch"]]: answer["fuses"][part(netlist.names[fuse["branch"]])] == "blown"
            for fuse in netlist.fuses
        },
        "motors": {
            name: {
                "speed": answer["motors"][part(name)]["speed_rad_s"],
                "current": answer["motors"][part(name)]["current_a"],
                "torque": answer["motors"][part(name)]["torque_nm"],
            }
            for name in motors
        },
        "turned": turned,
    }


def expectation(case, answer, netlist, healthy_ends, ratio):
    """What the referee has to find, out of our answer."""
    coils = [netlist.names[relay["coil"]] for relay in netlist.relays]
    motors = [netlist.names[motor["branch"]] for motor in netlist.motors]
    turned = [name for name, pair in ends(netlist).items() if pair[0] != pair[1] and healthy_ends.get(name) == pair[::-1]]
    gone = [fault.removesuffix(":blown") for fault in case.get("faults", []) if fault.endswith(":blown")]
    form = lambda of: {**half(of, netlist, coils, motors, turned), "gone": gone}
    expect = form(answer)
    expect["outcome"] = answer["outcome"]
    expect["engaged"] = answer["engaged"]
    expect["ratio"], expect["cranking_rpm"] = ratio, answer["cranking_rpm"]
    before = answer.get("before_blow")
    expect["before_blow"] = before and {**before, "turned": turned}
    if answer["outcome"] == "chatter":
        released, pulled = answer["positions"]
        assert (released["position"], pulled["position"]) == ("released", "pulled")
        expect.update({**form(released), "pulled": form(pulled)})
        expect["chattering"] = [name for name in coils if answer["relays"][name.split(".")[0]] == "chatter"]
    expect["readings"] = [
        {**meter, **{key: said[key] for key in ("value", "overload", "outcome", "positions", "floating")}}
        for meter, said in zip(case["read"], answer["read"])
    ]
    for reading in expect["readings"]:
        if "in" in reading:
            del reading["floating"]
            reading["turned"] = reading["in"] in turned
        if reading["outcome"] == "chatter":
            del reading["overload"]
    return expect


def bring(binary, sheet, every, part, parts):
    """One share of a sheet's cases before the referee."""
    program, spice, tally = Program(binary, sheet), Ngspice(), Tally()
    healthy = {}
    cases = [case for number, case in enumerate(cases_of(program, every)) if number % parts == part]
    undecided, kinds = 0, collections.Counter()
    netlists = [program.netlist(case) for case in cases]
    for number, (case, text) in enumerate(zip(cases, netlists)):
        case["read"] = case.get("read") or meters(Netlist(text), number * parts + part)
    for case, text, answer in zip(cases, netlists, program.answers(cases)):
        netlist = Netlist(text)
        title = netlist.title.lstrip("* ")
        assert "error" not in answer, f"{title}: {answer}"
        healthy = healthy or ends(Netlist(program.netlist({"state": "rest"})))
        own = [name for name in netlist.names if not name.startswith("bridge-")]
        tally.word(f"{title}, branches", own, list(answer["currents"]))
        tally.word(f"{title}, nodes", set(netlist.nodes.values()), set(answer["nodes"]))
        expect = expectation(case, answer, netlist, healthy, program.ratio())
        try:
            undecided += judge(spice, {"netlist": text, "expect": expect}, tally)
        except (RuntimeError, KeyError) as trouble:
            tally.mismatches.append(f"{title}: referee gave up: {trouble!r}")
        kinds["cases"] += 1
        kinds["that chatter"] += answer["outcome"] == "chatter"
        kinds["with a fuse that opens"] += "before_blow" in answer
        kinds["with a motor that turns"] += any(motor["speed_rad_s"] > 0 for motor in answer["motors"].values())
        kinds["with floating nodes"] += None in answer["nodes"].values()
        kinds["readings"] += len(case["read"])
        kinds.update(f"by {meter['mode']}" for meter in case["read"])
        kinds["readings that chatter"] += sum(said["outcome"] == "chatter" for said in answer["read"])
    return program.id, kinds, tally, undecided, spice.coaxed


def main():
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    every = "--every" in sys.argv
    binary, *sheets = [word for word in sys.argv[1:] if word != "--every"]
    parts = os.cpu_count() or 1
    totals, worst, mismatches, undecided, coaxed, compared = {}, {}, [], 0, 0, 0
    with concurrent.futures.ProcessPoolExecutor(parts) as pool:
        shares = [pool.submit(bring, binary, sheet, every, part, parts) for sheet in sheets for part in range(parts)]
        for share in shares:
            sheet, kinds, tally, untold, forced = share.result()
            totals.setdefault(sheet, collections.Counter()).update(kinds)
            compared, undecided, coaxed = compared + tally.compared, undecided + untold, coaxed + forced
            mismatches += tally.mismatches
            for kind, found in tally.worst.items():
                worst[kind] = max(worst.get(kind, found), found)
    for sheet, kinds in totals.items():
        print(f"{sheet}: " + ", ".join(f"{count} {kind}" for kind, count in kinds.items()))
    print(f"{compared} values compared, {len(mismatches)} mismatches, {undecided} undecided")
    print(f"{coaxed} operating points needed other options than the netlist's to converge")
    for kind, (error, where) in sorted(worst.items()):
        print(f"worst {kind}: {error:.3g} ({where})")
    for mismatch in mismatches[:40]:
        print(f"MISMATCH {mismatch}")
    sys.exit(1 if mismatches or not compared else 0)


if __name__ == "__main__":
    main()
