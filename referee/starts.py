#!/usr/bin/env python3
"""Checks starts in time against ngspice, a general circuit simulator, and times both side by side.

    cargo run --release -p physics --example starts >/tmp/starts.jsonl
    python3 referee/starts.py /tmp/starts.jsonl        # exits 1 on a mismatch

Each line of the file is one start with the netlist of the same circuit. Speeds and voltages are compared along the way;
a chattering relay by how often it opens and by the speed at the end, since two solvers never chatter in step.
"""
import bisect
import json
import sys
import time

from ngspice import Ngspice

SHARE = 5e-3  # of the largest value of a curve


def vector(spice, name):
    info = spice.lib.ngGet_Vec_Info(name.encode())
    if not info or not info.contents.real:
        raise RuntimeError(f"the simulator has no {name}")
    return [info.contents.real[index] for index in range(info.contents.length)]


def at(times, values, when):
    place = min(max(bisect.bisect_left(times, when), 1), len(times) - 1)
    left, right = times[place - 1], times[place]
    share = (when - left) / (right - left) if right > left else 0.0
    return values[place - 1] + share * (values[place] - values[place - 1])


def solve(spice, start, tolerance, longest):
    """Seconds that the simulator takes; what it found is in its vectors."""
    spice.load(start["netlist"].splitlines())
    spice.command(f"option reltol={tolerance}")
    begun = time.perf_counter()
    spice.command(f"tran 1e-4 {start['end_s']} 0 {longest} uic")
    return time.perf_counter() - begun


def fair(spice, start, speed, times, fine):
    """The least time in which the simulator is itself within 0.1 % of its best, as near as these settings come."""
    size, found = max(fine), []
    for tolerance, longest in ((1e-3, 1e-3), (1e-3, 2e-4), (1e-4, 2e-4), (1e-4, 5e-5), (1e-5, 5e-5)):
        took = solve(spice, start, tolerance, longest)
        own, speeds = vector(spice, "time"), vector(spice, speed)
        when = [start["end_s"] * step / 400 for step in range(4, 400)]
        off = max(abs(at(own, speeds, t) - at(times, fine, t)) / size for t in when)
        found.append((off > 1e-3, took, off))
    return min(found)[1:]


def compare(spice, start):
    crank = start["case"] == "crank"
    speed = "wc" if crank else "w"
    solve(spice, start, 1e-5, 2e-5)
    times = vector(spice, "time")
    if times[-1] < 0.999 * start["end_s"]:
        raise RuntimeError(f"the simulator stopped at {times[-1]} s: {'; '.join(spice.said[-3:])}")
    theirs = {"volts": vector(spice, "posts"), "speed": vector(spice, speed)}
    ours = {"volts": [row[1] for row in start["samples"]], "speed": [row[4 if crank else 3] for row in start["samples"]]}
    when = [row[0] for row in start["samples"]]
    faults = []
    if start["case"] == "chatter":
        contact = vector(spice, "n1")
        closed = [abs(contact[i] - theirs["volts"][i]) < 0.5 * theirs["volts"][i] for i in range(len(times))]
        openings = sum(1 for before, after in zip(closed, closed[1:]) if before and not after)
        if abs(openings - start["openings"]) > max(1, 0.05 * openings):
            faults.append(f"the contact opens {start['openings']} times, the simulator's {openings}")
        mine, other = ours["speed"][-1], theirs["speed"][-1]
        if abs(mine - other) > 0.02 * other:
            faults.append(f"speed at the end {mine:.1f}, the simulator's {other:.1f} rad/s")
        worst, said = abs(mine - other) / other, f"{start['openings']} openings ({openings})"
    else:
        worst, said = 0.0, ""
        for what in ("volts", "speed"):
            size = max(abs(value) for value in theirs[what])
            apart = max(abs(at(when, ours[what], t) - at(times, theirs[what], t)) / size
                        for t in [start["end_s"] * step / 400 for step in range(4, 400)])
            worst = max(worst, apart)
            if apart > SHARE:
                faults.append(f"{what} differ by {100 * apart:.2f} % of the largest")
    took, theirs_off = fair(spice, start, speed, times, theirs["speed"])
    print(f"{start['case']}: worst {100 * worst:.3f} % {said}; {1e3 * start['median_s']:.2f} ms in {start['steps']} steps, "
          f"the simulator {1e3 * took:.1f} ms within {100 * theirs_off:.2f} %, {took / start['median_s']:.0f} times as long")
    for fault in faults:
        print(f"  MISMATCH {fault}")
    return not faults


def main():
    spice = Ngspice()
    with open(sys.argv[1], encoding="utf-8") as lines:
        good = [compare(spice, json.loads(line)) for line in lines]
    sys.exit(0 if all(good) and len(good) == 3 else 1)


if __name__ == "__main__":
    main()
