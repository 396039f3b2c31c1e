#!/usr/bin/env python3
"""Checks cells under current against porous-electrode models that PyBaMM solves: what is lost at once, and how a train of
pulses sags, rests and wakes up as the cell warms.

    cargo build --release -p physics --example pack
    python3 referee/battery.py target/release/examples/pack

Run live: the published sets of Prada 2013 (power cell) and Sulzer 2019 (lead-acid). The energy cell's set (BPX) is compared
with recorded answers, `battery_energy.json`; they are made anew, with bpx 1.1.1 and FaradayInstitution/BPX's
`examples/lfp_18650_cell_BPX.json` (commit 9b73d69) at hand, by

    python3 referee/battery.py --record lfp_18650_cell_BPX.json

What Prada 2013 lacks for warming is a can of 26 x 65 mm: 70 g, 1100 J/(kg K), 3.451e-5 m3, 6.37e-3 m2. Cooling is
10 W/(m2 K) everywhere (estimate).
"""
import json
import math
import pathlib
import subprocess
import sys
import warnings

warnings.filterwarnings("ignore")
import numpy
import pybamm

pybamm.set_logging_level("CRITICAL")
RECORD = pathlib.Path(__file__).with_name("battery_energy.json")
ZERO = 273.15
CHARGES, CELSIUS, RATES = (0.9, 0.7, 0.5, 0.3), (25.0, 0.0, -10.0, -20.0), (0.1, 0.3, 1.0, 3.0, 10.0, 30.0)
TRAIN = [(1, 5), (0, 30)] * 6
CONCENTRATIONS = {"power": (30555.0, 22806.0), "energy": (31400.0, 21200.0)}
CAPACITY = {"power": 2.3, "energy": 2.0}  # Ah
WARMING = {"power": (77.0, 0.0637), "energy": (32.95, 0.0431)}  # J/K, W/K
# pulse 1 first, last, end of its rest, pulse 6 first (V); temperature at its end (K), whose reference counts no heat of
# what diffuses
WITHIN = {"power": (0.003, 0.010, 0.005, 0.010, 0.4), "energy": (0.003, 0.008, 0.006, 0.006, 0.2)}


def values(name, path=None):
    """The published set, and the fillings of both electrodes at a charge."""
    given = pybamm.ParameterValues.create_from_bpx(path) if path else pybamm.ParameterValues("Prada2013")
    empty_n, full_n, full_p, empty_p = pybamm.lithium_ion.get_min_max_stoichiometries(given)
    given.update({"Lower voltage cut-off [V]": -5.0, "Upper voltage cut-off [V]": 9.0})
    return given, lambda charge: (empty_n + charge * (full_n - empty_n), empty_p + charge * (full_p - empty_p))


def start(name, fillings, celsius):
    initial = [f"Initial concentration in {side} electrode [mol.m-3]" for side in ("negative", "positive")]
    found = {key: share * full for key, share, full in zip(initial, fillings, CONCENTRATIONS[name])}
    return found | {"Ambient temperature [K]": celsius + ZERO, "Initial temperature [K]": celsius + ZERO}


def losses(name, path=None):
    """(charge, °C, A, V lost at once) over a grid; what the solver refuses is left out."""
    given, fillings = values(name, path)
    grid = [(charge, celsius, rate) for charge in CHARGES for celsius in CELSIUS for rate in (0.0, *RATES)]
    given.update({key: "[input]" for key in (*start(name, (0, 0), 0.0), "Current function [A]")})
    mesh = {"x_n": 40, "x_s": 20, "x_p": 40, "r_n": 10, "r_p": 10}  # nothing has diffused yet
    simulation = pybamm.Simulation(
        pybamm.lithium_ion.DFN(), parameter_values=given, var_pts=mesh, solver=pybamm.IDAKLUSolver(atol=1e-8, rtol=1e-7)
    )
    found, rest = [], math.nan
    for charge, celsius, rate in grid:
        amps = rate * CAPACITY[name]
        inputs = start(name, fillings(charge), celsius) | {"Current function [A]": amps}
        try:
            volts = float(simulation.solve([0, 1e-3], inputs=inputs)["Voltage [V]"].entries[0])
        except pybamm.SolverError:
            continue
        if rate == 0.0:
            rest = volts
        else:
            found.append((charge, celsius, amps, round(rest - volts, 6)))
    return found


def rest_curve(given, fillings):
    potential = lambda side, share: float(given.evaluate(given[f"{side} electrode OCP [V]"](pybamm.Scalar(share))))
    rows = []
    for charge in numpy.linspace(0.3, 1.0, 71):
        negative, positive = fillings(charge)
        rows.append((charge, potential("Positive", positive) - potential("Negative", negative), 0.0))
    return rows


def train(name, amps, celsius, path=None, shells=120):
    """Pulse 1 first, last, end of its rest, pulse 6 first, in volts; temperature at its end."""
    given, fillings = values(name, path)
    given.update(start(name, fillings(0.9), celsius) | {"Total heat transfer coefficient [W.m-2.K-1]": 10.0})
    if name == "power":
        for part in ("electrode", "current collector"):
            for layer in (f"Negative {part}", f"Positive {part}", "Separator"):
                heat = {"density [kg.m-3]": 0.070 / 3.451e-5, "specific heat capacity [J.kg-1.K-1]": 1100.0}
                heat["thermal conductivity [W.m-1.K-1]"] = 1.0
                given.update({f"{layer} {key}": value for key, value in heat.items()})
        for side, thickness, conductivity in (("Negative", 1e-5, 5.8e7), ("Positive", 1.5e-5, 3.7e7)):
            given.update({f"{side} current collector thickness [m]": thickness})
            given.update({f"{side} current collector conductivity [S.m-1]": conductivity})
        given.update({"Cell volume [m3]": 3.451e-5, "Cell cooling surface area [m2]": 6.37e-3})
    pieces = (f"Discharge at {amps} A for 5 seconds (0.5 second period)", "Rest for 30 seconds (1 second period)")
    solved = pybamm.Simulation(
        pybamm.lithium_ion.DFN({"thermal": "lumped"}),
        parameter_values=given,
        experiment=pybamm.Experiment([pieces] * 6),
        var_pts={"x_n": 40, "x_s": 40, "x_p": 40, "r_n": shells, "r_p": shells},
        solver=pybamm.IDAKLUSolver(atol=1e-8, rtol=1e-7),
    ).solve().cycles
    volts = lambda cycle, step: solved[cycle].steps[step]["Voltage [V]"].entries
    last = solved[5].steps[0]["Volume-averaged cell temperature [C]"].entries[-1]
    return [float(one) for one in (volts(0, 0)[0], volts(0, 0)[-1], volts(0, 1)[-1], volts(5, 0)[0], last)]


def acid(amps):
    """Volts that a cell has lost after 5 s, from full; the set is of 21.7 °C."""
    given = pybamm.ParameterValues("Sulzer2019")
    given.update({"Lower voltage cut-off [V]": 0.1, "Upper voltage cut-off [V]": 9.0})
    held = pybamm.Experiment([(f"Rest for 1 seconds", f"Discharge at {amps} A for 5 seconds (0.5 second period)")])
    steps = pybamm.Simulation(pybamm.lead_acid.Full(), parameter_values=given, experiment=held).solve().cycles[0].steps
    return float(steps[0]["Voltage [V]"].entries[0] - steps[1]["Voltage [V]"].entries[-1])


def ask(binary, lines):
    said = subprocess.run([binary], input="\n".join(lines) + "\n", capture_output=True, text=True, check=True).stdout
    return [[float(word) for word in line.split()] for line in said.splitlines()]


def compare_losses(binary, name, expected, mismatches):
    found = ask(binary, [f"drop {name} {charge} {celsius} {amps}" for charge, celsius, amps, _ in expected])
    errors = [ours[0] - theirs[3] for ours, theirs in zip(found, expected, strict=True)]
    rms, worst = math.sqrt(sum(error * error for error in errors) / len(errors)), max(map(abs, errors))
    print(f"{name}: {len(errors)} losses at once, {1e3 * rms:.2f} mV rms, {1e3 * worst:.2f} mV at most")
    if not (len(errors) > 60 and rms <= 0.002 and worst <= 0.005):
        mismatches.append(f"{name}, losses at once")


def compare_train(binary, name, amps, celsius, expected, mismatches, curve=()):
    heat_capacity, cooling = WARMING[name]
    pieces = " ".join(f"{on * amps},{seconds}" for on, seconds in TRAIN)
    rows = " ".join(",".join(f"{value:.6f}" for value in row) for row in curve)
    ours = ask(binary, [f"curve {rows}", f"train {name} 0.9 {celsius} {heat_capacity} {cooling} {pieces}"])[0]
    found = [ours[0], ours[1], ours[4], ours[30], ours[32]]
    errors = [a - b for a, b in zip(found, expected, strict=True)]
    shown = ", ".join(f"{1e3 * error:+.1f} mV" for error in errors[:4])
    woken = expected[3] - expected[0]
    print(f"{name}, {amps:g} A, {celsius:g} °C: {shown}; {errors[4]:+.2f} K; wakes up by {1e3 * woken:+.1f} mV")
    for what, error, within in zip(("first", "last", "rest", "sixth first", "temperature"), errors, WITHIN[name]):
        if not abs(error) <= within:
            mismatches.append(f"{name}, {amps} A, {celsius} °C, {what}: {error:+.4f}, allowed {within}")


def main():
    if len(sys.argv) == 3 and sys.argv[1] == "--record":
        path = sys.argv[2]
        cases = [(4.0, 25.0), (4.0, 0.0), (4.0, -10.0), (4.0, -20.0), (10.0, 25.0), (10.0, 0.0), (10.0, -10.0)]
        trains = [[*case, [round(one, 5) for one in train("energy", *case, path)]] for case in cases]
        made = {"with": f"PyBaMM {pybamm.__version__}", "losses": losses("energy", path), "trains": trains}
        rows = lambda key: ",\n  ".join(json.dumps(row) for row in made[key])
        body = f'"with": {json.dumps(made["with"])},\n "losses": [\n  {rows("losses")}],\n "trains": [\n  {rows("trains")}]'
        RECORD.write_text("{" + body + "}\n", encoding="utf-8")
        return
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    binary, mismatches = sys.argv[1], []
    recorded = json.loads(RECORD.read_text(encoding="utf-8"))
    compare_losses(binary, "power", losses("power"), mismatches)
    compare_losses(binary, "energy", recorded["losses"], mismatches)
    curve = rest_curve(*values("power"))
    for amps, celsius in ((23.0, 25.0), (23.0, -10.0)):
        compare_train(binary, "power", amps, celsius, train("power", amps, celsius, shells=60), mismatches, curve)
    for amps, celsius, expected in recorded["trains"]:
        compare_train(binary, "energy", amps, celsius, expected, mismatches)
    for amps in (1.7, 17.0, 51.0, 85.0, 170.0):
        # Our rest curve in its place; warmth has nowhere to show within 5 s in so much mass.
        rest, last = (ask(binary, [f"train acid 1 21.7 1e9 0 {held},5"])[0][1] for held in (0.0, amps))
        error = rest - last - acid(amps)
        print(f"acid, {amps:g} A, 5 s: {6e3 * error:+.1f} mV over six cells")
        if not abs(6 * error) <= 0.010:
            mismatches.append(f"acid, {amps} A: {6 * error:+.4f} V over six cells")
    for mismatch in mismatches:
        print(f"MISMATCH {mismatch}")
    sys.exit(1 if mismatches else 0)


if __name__ == "__main__":
    main()
