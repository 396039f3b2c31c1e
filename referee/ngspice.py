#!/usr/bin/env python3
"""Checks operating points against ngspice, a general circuit simulator, run in this process.

    apt-get install -y libngspice0
    cargo run -p circuit --example netlists -- random /tmp/random.jsonl 400
    python3 referee/ngspice.py /tmp/random.jsonl            # compares; exits 1 on any mismatch
    python3 referee/ngspice.py --time /tmp/starter.jsonl    # medians of `op` and of `alter` + `op`, in microseconds

Each line of the file is {"netlist": text, "expect": {"outcome", "nodes", "currents", "coil_volts", "relays", "fuses",
"motors", "engaged", "before_blow", "readings", "chattering", "pulled"}}; what is missing from "expect" is not compared.
The simulator only solves one pattern of open and closed at a time. Fuses, relays and motors are moved by the rules
written in `settle`, which are a second implementation of those in engine/circuit/src/operating_point.rs, made from
their description; so are the meters in `with_meter`. referee/sheets.py brings whole machines here.
"""
import copy
import ctypes
import json
import math
import re
import statistics
import sys
import time

VOLTS, AMPS, SHARE = 1e-3, 1e-3, 1e-3  # what a comparison allows: 1 mV or 1 mA, and 0.1 %
SPEED, TORQUE, OHMS = 0.1, 1e-4, 1e-3  # rad/s, N m, and ohms: what a comparison allows besides the share
FUSE_OPENS_ABOVE = 1.5
VOLTMETER, LOW_IMPEDANCE, AMMETER, LEADS = 10e6, 3e3, 0.24, 0.14  # ohms
TEST_CURRENT, COMPLIANCE, AMMETER_LIMIT = 0.5e-3, 3.0, 10.0


class VectorInfo(ctypes.Structure):
    _fields_ = [
        ("name", ctypes.c_char_p),
        ("type", ctypes.c_int),
        ("flags", ctypes.c_short),
        ("real", ctypes.POINTER(ctypes.c_double)),
        ("complex", ctypes.c_void_p),
        ("length", ctypes.c_int),
    ]


class Ngspice:
    """The shared library; what it prints is kept in `said`."""

    def __init__(self):
        self.lib = ctypes.CDLL("libngspice.so.0")
        self.said = []
        text = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p)
        ending = ctypes.CFUNCTYPE(
            ctypes.c_int, ctypes.c_int, ctypes.c_bool, ctypes.c_bool, ctypes.c_int, ctypes.c_void_p
        )
        self.keep = (
            text(lambda said, *_: self.said.append(said.decode("utf-8", "replace")) or 0),
            text(lambda *_: 0),
            ending(lambda *_: 0),
        )
        self.lib.ngSpice_Init(self.keep[0], self.keep[1], self.keep[2], None, None, None, None)
        self.lib.ngGet_Vec_Info.restype = ctypes.POINTER(VectorInfo)
        self.lib.ngGet_Vec_Info.argtypes = [ctypes.c_char_p]
        self.loaded = False
        self.coaxed = 0

    def command(self, text):
        return self.lib.ngSpice_Command(text.encode())

    def load(self, lines):
        if self.loaded:
            self.command("destroy all")
            self.command("remcirc")
        encoded = [line.encode() for line in lines] + [None]
        self.said.clear()
        self.lib.ngSpice_Circ((ctypes.c_char_p * len(encoded))(*encoded))
        self.loaded = True

    def op(self):
        self.said.clear()
        self.command("op")
        trouble = [line for line in self.said if re.search(r"singular|error|fail|aborted|no convergence", line, re.I)]
        if trouble and not any("No. of Data Rows" in line for line in self.said):
            raise RuntimeError("; ".join(trouble))

    def coax(self, title, lines, options):
        """Solves; when the simulator finds no convergence, tries colder filaments and less strict options."""
        loose = ".options reltol=1e-4 abstol=1e-12 vntol=1e-6 gmin=1e-12 itl1=1000 itl2=1000 temp=27 tnom=27"
        cold = [line.replace("=1.5", "=0.31") if line.startswith(".nodeset") else line for line in lines]
        leaky = [option.replace("gmin=1e-14", "gmin=1e-12") for option in options]
        for attempt, (body, chosen) in enumerate(
            [(lines, options), (cold, options), (lines, leaky), (cold, leaky), (cold, [loose]), (lines, [loose])]
        ):
            self.load([title, *body, *chosen, ".end"])
            try:
                self.op()
                self.coaxed += attempt > 0
                return
            except RuntimeError as trouble:
                last = trouble
        raise last

    def value(self, name):
        info = self.lib.ngGet_Vec_Info(name.encode())
        if not info or not info.contents.length:
            raise KeyError(name)
        return info.contents.real[info.contents.length - 1]


class Netlist:
    """A netlist's elements by branch, and what its comments tell."""

    def __init__(self, text):
        self.lines = {}
        self.branches, self.names, self.nodes = [], [], {}
        self.relays, self.fuses, self.motors = [], [], []
        self.options = []
        self.title, *rest = text.splitlines()
        for line in rest:
            if line.startswith("*@ node "):
                node, name = line[8:].split(" ", 1)
                self.nodes[node] = json.loads(name)
            elif line.startswith("*@ branch "):
                branch, start, end, kind, name = line[10:].split(" ", 4)
                assert branch == f"b{len(self.branches)}"
                self.branches.append((start, end, kind))
                self.names.append(json.loads(name))
                self.lines[len(self.branches) - 1] = []
            elif line.startswith("*@ "):
                word, *pairs = line[3:].split()
                told = {key: self.read(value) for key, value in (pair.split("=") for pair in pairs)}
                {"relay": self.relays, "fuse": self.fuses, "motor": self.motors}[word].append(told)
            elif line.startswith(".options"):
                self.options.append(line)
            elif line and not line.startswith(("*", ".end")):
                self.lines[len(self.branches) - 1].append(line)

    @staticmethod
    def read(value):
        if re.fullmatch(r"b\d+", value):
            return int(value[1:])
        try:
            return float(value)
        except ValueError:
            return value


class Sets:
    def __init__(self):
        self.up = {}

    def find(self, node):
        while self.up.setdefault(node, node) != node:
            node = self.up[node]
        return node

    def join(self, left, right):
        self.up[self.find(left)] = self.find(right)


class Solution:
    def __init__(self, volts, floating, amps):
        self.volts, self.floating, self.amps = volts, floating, amps


class Bench:
    """Solves a netlist with some branches absent or replaced."""

    def __init__(self, spice, netlist):
        self.spice, self.netlist = spice, netlist
        self.branches, self.lines = netlist.branches, netlist.lines

    def circuit(self, absent, replaced):
        """Lines of the circuit to solve, the floating nodes, and the current sources left out."""
        kinds = {}
        for index, (_, _, kind) in enumerate(self.branches):
            kinds[index] = "open" if index in absent else kind
        paths, joined = Sets(), Sets()
        for index, (start, end, _) in enumerate(self.branches):
            if kinds[index] in ("linear", "junction", "lamp"):
                paths.join(start, end)
            if kinds[index] in ("linear", "junction", "lamp", "draw"):
                joined.join(start, end)
        floating = {node for node in self.netlist.nodes if paths.find(node) != paths.find("0")}
        lines, used, stranded = [], set(), set()
        for index, (start, end, _) in enumerate(self.branches):
            if kinds[index] == "open":
                continue
            if kinds[index] == "source" and joined.find(start) != joined.find(end):
                stranded.add(index)
                continue
            lines += replaced.get(index, self.lines[index])
            used |= {start, end}
        tied = {joined.find("0")}
        for node in sorted(used):
            if joined.find(node) not in tied:
                tied.add(joined.find(node))
                lines.append(f"vtie{node} {node} 0 0")
        return lines, used, floating, stranded

    def solve(self, absent, replaced):
        lines, used, floating, stranded = self.circuit(absent, replaced)
        if not used:
            return Solution({node: 0.0 for node in self.netlist.nodes}, floating, [0.0] * len(self.branches))
        self.spice.coax(self.netlist.title, lines, self.netlist.options)
        volts = {node: 0.0 for node in self.netlist.nodes}
        for node in used - {"0"}:
            volts[node] = self.spice.value(node)
        amps = []
        for index, (start, end, kind) in enumerate(self.branches):
            elements = replaced.get(index, self.lines[index])
            if index in absent or index in stranded or kind == "open":
                amps.append(0.0)
            elif elements[0].startswith("v"):
                amps.append(self.spice.value(f"vb{index}#branch"))
            elif elements[0].startswith("i"):
                amps.append(float(elements[0].split()[-1]))
            else:
                amps.append((volts[start] - volts[end]) / float(elements[0].split()[-1]))
        return Solution(volts, floating, amps)


def with_meter(netlist, meter):
    """The netlist with a meter in it, and the branch whose current or voltage the meter tells."""
    metered = copy.copy(netlist)
    metered.branches, metered.lines = list(netlist.branches), dict(netlist.lines)

    def add(start, end, kind, lines):
        index = len(metered.branches)
        metered.branches.append((start, end, kind))
        metered.lines[index] = [line.format(b=index, start=start, end=end) for line in lines]
        return index

    mode = meter["mode"]
    if "in" in meter:
        index = netlist.names.index(meter["in"])
        start, end, _ = netlist.branches[index]
        if mode != "clamp":
            kind, lines = ("linear", [RESISTOR % AMMETER]) if mode == "amps" else ("lamp", TEST_LAMP)
            metered.branches[index] = (start, end, kind)
            metered.lines[index] = [line.format(b=index, start=start, end=end) for line in lines]
            metered.fuses = [fuse for fuse in netlist.fuses if fuse["branch"] != index]
        return metered, index
    by_name = {name: node for node, name in netlist.nodes.items()}
    red, black = by_name[meter["red"]], by_name[meter["black"]]
    if mode == "lamp":
        return metered, add(red, black, "lamp", TEST_LAMP)
    if mode in ("ohms", "diode"):
        add(black, red, "source", ["ib{b} {start} {end} %r" % TEST_CURRENT])
    return metered, add(red, black, "linear", [RESISTOR % (LOW_IMPEDANCE if mode == "low-z" else VOLTMETER)])


RESISTOR = "rb{b} {start} {end} %r"
FILAMENT = "(2.26*(max(v(h{b}),0.29)/0.3)**1.2)"
TEST_LAMP = [
    "vb{b} {start} mb{b} 0",
    "bb{b} mb{b} {end} i=v(mb{b},{end})/" + FILAMENT,
    "bh{b} 0 h{b} i=v(mb{b},{end})*v(mb{b},{end})/" + FILAMENT + "-(0.09*(v(h{b})-0.3)+0.123*(max(v(h{b}),0)**4-0.0081))",
    ".nodeset v(h{b})=1.5",
]


def told(netlist, meter, branch, solution):
    """What a meter in a solved circuit says: value, or nothing where it shows none, and whether it is overloaded."""
    start, end, _ = netlist.branches[branch]
    volts, amps = solution.volts[start] - solution.volts[end], solution.amps[branch]
    if meter["mode"] == "ohms":
        over = abs(volts) > COMPLIANCE
        return (None if over else volts / TEST_CURRENT + LEADS - meter.get("nulled", 0.0)), over
    if meter["mode"] in ("amps", "clamp"):
        amps = -amps if meter.get("turned") else amps
        return amps, meter["mode"] == "amps" and abs(amps) > AMMETER_LIMIT
    return volts, meter["mode"] == "diode" and abs(volts) > COMPLIANCE


STILL, STALLED, TURNING, MESHED, SPENT = "still", "stalled", "turning", "meshed", "spent"


def motor_lines(motor, shaft, ends):
    """A motor at rest is its resistance; turning, it is what V = IR + Kw and KI = T + Bw make of it."""
    index, (start, end, _) = motor["branch"], ends
    ohms, constant = motor["resistance"], motor["constant"]
    if shaft in (STILL, STALLED, SPENT):
        return [f"rb{index} {start} {end} {ohms!r}"]
    torque, drag = motor["friction"], motor["drag"]
    if shaft == MESHED and "inertia" in motor:
        torque, drag = torque + motor["load"], drag + motor["load-drag"]
    if drag < 1e-9:
        return [f"ib{index} {start} {end} {torque / constant!r}"]
    return [
        f"vb{index} {start} mb{index} {-constant * torque / drag!r}",
        f"rb{index} mb{index} {end} {ohms + constant * constant / drag!r}",
    ]


class Settled:
    """How it ends; `pulled` and `chattering` only when relays chatter, `before_blow` only when a fuse opened."""

    def __init__(self, outcome, state, before_blow, chattering=(), pulled=None):
        self.outcome, self.state, self.before_blow = outcome, state, before_blow
        self.chattering, self.pulled = chattering, pulled


def settle(spice, netlist):
    """The rules: one change a pass, then solve again."""
    bench = Bench(spice, netlist)
    relays, fuses, motors = netlist.relays, netlist.fuses, netlist.motors
    pulled = [False] * len(relays)
    pull_ins = [0] * len(relays)
    blown = [False] * len(fuses)
    shafts = [STILL] * len(motors)
    drops, before_blow = [], None
    for _ in range(400):
        absent = {fuse["branch"] for fuse, gone in zip(fuses, blown) if gone}
        for relay, is_pulled in zip(relays, pulled):
            closed = {"no": is_pulled, "open": False, "closed": True}[relay["stuck"]]
            if not closed:
                absent.add(relay["contact"])
        replaced = {
            motor["branch"]: motor_lines(motor, shaft, netlist.branches[motor["branch"]])
            for motor, shaft in zip(motors, shafts)
        }
        solution = bench.solve(absent, replaced)
        state = (solution, list(pulled), list(blown), list(shafts))
        # 1. The worst fuse.
        loads = [
            0.0 if gone else abs(solution.amps[fuse["branch"]]) / fuse["rating"] for fuse, gone in zip(fuses, blown)
        ]
        if loads and max(loads) > FUSE_OPENS_ABOVE:
            before_blow = before_blow or solution
            blown[loads.index(max(loads))] = True
            pulled = [False] * len(relays)
            pull_ins = [0] * len(relays)
            shafts = [STILL] * len(motors)
            drops = []
            continue
        # 2. All relays that ask.
        asking = []
        for index, relay in enumerate(relays):
            start, end, kind = netlist.branches[relay["coil"]]
            volts = 0.0 if kind == "open" else abs(solution.volts[start] - solution.volts[end])
            if (volts < relay["drop-out"]) if pulled[index] else (volts >= relay["pull-in"]):
                asking.append(index)
        if asking:
            again = [index for index in asking if not pulled[index] and pull_ins[index]]
            if again:
                pulled_half = next(old for fell, old in reversed(drops) if fell & set(again))
                return Settled("chatter", state, before_blow, again, pulled_half)
            fell = {index for index in asking if pulled[index]}
            if fell:
                drops.append((fell, state))
            for index in asking:
                pulled[index] = not pulled[index]
                pull_ins[index] += pulled[index]
            shafts = [STILL] * len(motors)
            continue
        # 3. A motor starts; failing that, one that would turn backwards stops.
        moved = False
        for index, motor in enumerate(motors):
            torque = motor["constant"] * solution.amps[motor["branch"]]
            if shafts[index] == STILL and motor["blocked"] == "false" and torque > motor["breakaway"]:
                shafts[index] = started(motor, torque)
                moved = True
                break
        if not moved:
            for index, motor in enumerate(motors):
                if shafts[index] in (TURNING, MESHED) and speed_of(netlist, motor, solution) < -1e-6:
                    shafts[index] = SPENT
                    moved = True
                    break
        if not moved:
            return Settled("steady", state, before_blow)
    raise RuntimeError("never settles")


def started(motor, torque):
    if "inertia" not in motor:
        return TURNING
    throws = motor["engages-above"] <= 0 or (torque - motor["friction"]) / motor["inertia"] > motor["engages-above"]
    if not throws:
        return TURNING
    return MESHED if torque > motor["engine-breakaway"] else STALLED


def speed_of(netlist, motor, solution):
    start, end, _ = netlist.branches[motor["branch"]]
    across = solution.volts[start] - solution.volts[end]
    return (across - solution.amps[motor["branch"]] * motor["resistance"]) / motor["constant"]


class Tally:
    def __init__(self):
        self.compared, self.mismatches, self.worst = 0, [], {}
        self.apart = {}

    def number(self, kind, where, found, expected, slack):
        self.compared += 1
        if (found is None) != (expected is None):
            self.mismatches.append(f"{where}: {kind} {expected}, referee {found}")
            return
        if found is None:
            return
        error = abs(found - expected)
        if not error <= slack + SHARE * abs(found):
            self.apart[kind, where] = (found, expected, slack)
        elif error > self.worst.get(kind, (-1.0, ""))[0]:
            self.worst[kind] = (error, where)

    def word(self, where, found, expected):
        self.compared += 1
        if found != expected:
            self.mismatches.append(f"{where}: {expected!r}, referee {found!r}")

    def state(self, title, netlist, state, expect):
        solution, pulled, blown, shafts = state
        for node, name in netlist.nodes.items():
            if name in expect.get("nodes", {}):
                found = None if node in solution.floating else solution.volts[node]
                self.number("volts", f"{title}, {name}", found, expect["nodes"][name], VOLTS)
        for index, name in enumerate(netlist.names):
            if name in expect.get("currents", {}):
                amps = -solution.amps[index] if name in expect.get("turned", ()) else solution.amps[index]
                self.number("amps", f"{title}, {name}", amps, expect["currents"][name], AMPS)
        for relay, is_pulled in zip(netlist.relays, pulled):
            name = netlist.names[relay["coil"]]
            start, end, kind = netlist.branches[relay["coil"]]
            if "coil_volts" in expect:
                volts = None if kind == "open" else solution.volts[start] - solution.volts[end]
                volts = -volts if volts is not None and name in expect.get("turned", ()) else volts
                self.number("coil volts", f"{title}, {name}", volts, expect["coil_volts"].get(name), VOLTS)
            if name in expect.get("relays", {}):
                self.word(f"{title}, relay {name}", "pulled" if is_pulled else "released", expect["relays"][name])
        for fuse, gone in zip(netlist.fuses, blown):
            name = netlist.names[fuse["branch"]]
            if name in expect.get("fuses", {}):
                self.word(f"{title}, fuse {name}", gone or name in expect.get("gone", ()), expect["fuses"][name])
        if "engaged" in expect:
            engaged = any(shaft in (MESHED, STALLED) for shaft in shafts)
            self.word(f"{title}, engaged", engaged, expect["engaged"])
        if "cranking_rpm" in expect:
            meshed = [motor for motor, shaft in zip(netlist.motors, shafts) if shaft in (MESHED, STALLED)]
            speed = max(speed_of(netlist, meshed[0], solution), 0.0) if MESHED in shafts else 0.0
            rpm = speed * 60 / (2 * math.pi) / expect["ratio"]
            self.number("cranking rpm", title, rpm, expect["cranking_rpm"], 0.05)
        for motor, shaft in zip(netlist.motors, shafts):
            name = netlist.names[motor["branch"]]
            where = f"{title}, motor {name}"
            turning, amps = shaft in (TURNING, MESHED), solution.amps[motor["branch"]]
            speed = max(speed_of(netlist, motor, solution), 0.0) if turning else 0.0
            for key, value in expect.get("motors", {}).get(name, {}).items():
                if key == "turning":
                    self.word(f"{where} turning", turning, value)
                elif key == "engaged":
                    self.word(f"{where} engaged", shaft in (MESHED, STALLED), value)
                elif key == "speed":
                    self.number("speed", where, speed, value, SPEED)
                elif key == "current":
                    self.number("amps", where, amps, value, AMPS)
                elif key == "torque":
                    self.number("torque", where, motor["constant"] * amps, value, TORQUE)
                else:
                    raise KeyError(key)


def compare(spice, line, tally):
    netlist, expect = Netlist(line["netlist"]), line["expect"]
    title = netlist.title.lstrip("* ")
    settled = settle(spice, netlist)
    tally.word(f"{title}, outcome", settled.outcome, expect.get("outcome", settled.outcome))
    if settled.outcome != expect.get("outcome", settled.outcome):
        return
    tally.state(title, netlist, settled.state, expect)
    if settled.pulled and "pulled" in expect:
        coils = [netlist.names[netlist.relays[index]["coil"]] for index in settled.chattering]
        tally.word(f"{title}, chattering", coils, expect.get("chattering", coils))
        tally.state(f"{title}, pulled half", netlist, settled.pulled, expect["pulled"])
    if "before_blow" in expect:
        where, before = f"{title}, before the fuse opened", expect["before_blow"]
        tally.word(where, settled.before_blow is not None, before is not None)
        if before and settled.before_blow:
            tally.state(where, netlist, (settled.before_blow, *settled.state[1:]), before)
    for reading in expect.get("readings", []):
        read(spice, netlist, settled, title, reading, tally)


def read(spice, netlist, without, title, reading, tally):
    """Connects a meter, enters the state, and compares what it says."""
    of = reading.get("in") or f"{reading['red']},{reading['black']}"
    where = f"{title}, {reading['mode']} at {of}"
    kind = "reading of " + reading["mode"]
    slack = {"ohms": OHMS, "amps": AMPS, "clamp": AMPS}.get(reading["mode"], VOLTS)
    metered, branch = with_meter(netlist, reading)
    settled = settle(spice, metered)
    tally.word(f"{where}, outcome", settled.outcome, reading["outcome"])
    if settled.outcome != reading["outcome"]:
        return
    if "floating" in reading:
        leads = {node for node, name in netlist.nodes.items() if name in (reading.get("red"), reading.get("black"))}
        tally.word(f"{where}, floating", bool(leads & without.state[0].floating), reading["floating"])
    halves = [("", settled.state, reading)]
    if settled.pulled:
        released, pulled = reading["positions"]
        tally.word(f"{where}, value while it chatters", None, reading["value"])
        halves = [(", released", settled.state, released), (", pulled", settled.pulled, pulled)]
    for half, state, expect in halves:
        value, over = told(metered, reading, branch, state[0])
        # Above the compliance of a junction test only the overload counts: the netlist's constant currents leak 1 nA a
        # volt, which is much at the thousands of volts that 0.5 mA would raise across 10 Mohm.
        if not (over and reading["mode"] == "diode"):
            tally.number(kind, where + half, value, expect["value"], slack)
        if "overload" in expect:
            tally.word(f"{where}{half}, overload", over, expect["overload"])


def judge(spice, line, tally):
    """Compares a circuit. A number that differs is asked for again with other options of the simulator: when its own
    answers then differ from each other (a node held by nothing but leakage, a false convergence), it cannot tell."""
    compare(spice, line, tally)
    if not tally.apart:
        return 0
    others = []
    for leak in ("1e-12", "1e-13"):
        other = Tally()
        compare(spice, {**line, "netlist": line["netlist"].replace("gmin=1e-14", f"gmin={leak}")}, other)
        others.append(other.apart)
    undecided = 0
    for (kind, where), (found, expected, slack) in tally.apart.items():
        again = [other.get((kind, where), (expected,))[0] for other in others]
        if all(abs(answer - found) <= slack + SHARE * abs(found) for answer in again):
            tally.mismatches.append(f"{where}: {kind} {expected!r}, referee {found!r}")
        else:
            undecided += 1
            print(f"undecided {where}: {kind} {expected!r}, referee {found!r}, with other options {again}")
    tally.apart.clear()
    return undecided


def measure(spice, line, rounds=400):
    """Times the settled pattern: `op` alone, and one resistance altered, then `op`."""
    netlist = Netlist(line["netlist"])
    title = netlist.title.lstrip("* ")
    _, pulled, blown, shafts = settle(spice, netlist).state
    absent = {fuse["branch"] for fuse, gone in zip(netlist.fuses, blown) if gone}
    for relay, is_pulled in zip(netlist.relays, pulled):
        if not {"no": is_pulled, "open": False, "closed": True}[relay["stuck"]]:
            absent.add(relay["contact"])
    replaced = {
        motor["branch"]: motor_lines(motor, shaft, netlist.branches[motor["branch"]])
        for motor, shaft in zip(netlist.motors, shafts)
    }
    lines, used, *_ = Bench(spice, netlist).circuit(absent, replaced)
    spice.load([netlist.title, *lines, *netlist.options, ".end"])
    resistor = next(line.split() for line in lines if line.startswith("rb"))
    plain, altered = [], []
    for turn in range(rounds):
        start = time.perf_counter()
        spice.command("op")
        plain.append(time.perf_counter() - start)
        ohms = float(resistor[3]) * (1.0 + 0.01 * (turn % 7))
        start = time.perf_counter()
        spice.command(f"alter {resistor[0]} = {ohms!r}")
        spice.command("op")
        altered.append(time.perf_counter() - start)
        if turn % 50 == 49:
            spice.command("destroy all")
    print(
        f"{title}: {len(used)} nodes, op {statistics.median(plain) * 1e6:.1f} us, "
        f"alter + op {statistics.median(altered) * 1e6:.1f} us (medians of {rounds})"
    )


def main():
    arguments = sys.argv[1:]
    timing = "--time" in arguments
    paths = [argument for argument in arguments if argument != "--time"]
    if not paths:
        sys.exit(__doc__)
    spice, tally, circuits, undecided = Ngspice(), Tally(), 0, 0
    for path in paths:
        with open(path, encoding="utf-8") as file:
            for text in file:
                line = json.loads(text)
                if timing:
                    measure(spice, line)
                    continue
                circuits += 1
                try:
                    undecided += judge(spice, line, tally)
                except (RuntimeError, KeyError) as trouble:
                    tally.mismatches.append(f"{line['netlist'].splitlines()[0]}: referee gave up: {trouble}")
    if timing:
        return
    print(f"{circuits} circuits, {tally.compared} values compared, {len(tally.mismatches)} mismatches, {undecided} undecided")
    print(f"{spice.coaxed} operating points needed other options than the netlist's to converge")
    for kind, (error, where) in tally.worst.items():
        print(f"worst {kind}: {error:.3g} ({where})")
    for mismatch in tally.mismatches[:40]:
        print(f"MISMATCH {mismatch}")
    sys.exit(1 if tally.mismatches or not tally.compared else 0)


if __name__ == "__main__":
    main()
