"""Cell profiles: descriptions out of the parts catalogue, results from PyBaMM's Thevenin model.

A case holds its own tables, so that a later change of the catalogue changes no reference before `--write`.
"""
import random
import tomllib
from pathlib import Path

import numpy as np

CATALOGUE = Path(__file__).resolve().parents[3] / "harness" / "parts" / "cells.toml"
UNITS = {"Ah": 1.0, "mΩ": 1e-3, "Ω": 1.0, "V": 1.0, "F": 1.0, "%": 0.01, "°C": 1.0}


def si(text):
    number, unit = text.split()
    return float(number) * UNITS[unit]


def table(part, key):
    t = part[key]
    return {
        "soc": [round(si(s), 6) for s in t["soc"]],
        "celsius": [si(c) for c in t["temperature"]],
        "ohm": [[round(si(v), 9) for v in row] for row in t["value"]],
    }


def pulses(seed, seconds, amps, idle=0.02):
    """Currents that hold from one millisecond to a later one, as effects draw them."""
    rng = random.Random(seed)
    t, out = 0.0, []
    while t < seconds:
        out.append([round(t, 3), round(amps * rng.random() ** 2, 3)])
        t += round(0.03 + 1.2 * rng.random() ** 2, 3)
        if t < seconds:
            out.append([round(t, 3), idle])
            t += round(0.02 + 0.8 * rng.random(), 3)
    return out


def case(id, about, part, soc, celsius, pairs, segments, end, interpolation="linear"):
    p = tomllib.loads(CATALOGUE.read_text())[part]
    rc = [{"ohm": table(p, "r1"), "farad": si(p["c1"]["value"])}]
    if pairs == 2:
        # A faster pair, made up: 0.4 times the first in resistance, 0.6 s at the warm end.
        fast = table(p, "r1")
        fast["ohm"] = [[round(0.4 * v, 9) for v in row] for row in fast["ohm"]]
        rc.append({"ohm": fast, "farad": round(0.6 / fast["ohm"][-1][-1], 3)})
    return {
        "id": id, "group": "cell", "about": about, "part": part, "soc": soc, "celsius": celsius,
        "capacity_ah": si(p["capacity"]["value"]),
        "ocv": {"soc": [round(si(s), 6) for s in p["ocv"]["soc"]], "v": [si(v) for v in p["ocv"]["voltage"]],
                "interpolation": interpolation},
        "r0": table(p, "r0"), "rc": rc, "segments": segments, "end_s": end,
    }


def cases():
    nmc, nca, lfp = "21700-nmc811-5ah", "18650-nca-2-5ah", "26650-lfp-2-3ah"
    long = [[0.0, 5.0], [10.0, 1.0], [30.0, 8.0], [35.0, 0.0], [60.0, 2.5], [120.0, 0.05]]
    return [
        case("Q1", "NMC811, one pair, 25 °C, effects", nmc, 0.62, 25.0, 1, pulses(1, 40.0, 4.0), 40.0),
        case("Q2", "NMC811, two pairs, 0 °C, effects", nmc, 0.35, 0.0, 2, pulses(2, 40.0, 3.0), 40.0),
        case("Q3", "NCA, one pair, 25 °C, long pulses", nca, 0.8, 25.0, 1, long, 150.0),
        case("Q4", "NCA, two pairs, -10 °C, effects, curved open-circuit table", nca, 0.5, -10.0, 2,
             pulses(4, 40.0, 2.5), 40.0, "pchip"),
        case("Q5", "LFP, one pair, 40 °C, a steady 2 A over the knee", lfp, 0.22, 40.0, 1,
             [[0.0, 2.0], [600.0, 0.0]], 700.0),
        case("Q6", "LFP, two pairs, 12 °C (between two rows), effects", lfp, 0.7, 12.0, 2, pulses(6, 40.0, 3.5), 40.0),
    ]


def held(pybamm, name, soc, celsius, t):
    """A table over state of charge and temperature whose ends hold beyond it."""
    x, y = np.array(t["soc"]), np.array(t["celsius"])
    inside = [
        pybamm.minimum(pybamm.maximum(soc, x[0]), x[-1]),
        pybamm.minimum(pybamm.maximum(celsius, y[0]), y[-1]),
    ]
    return pybamm.Interpolant((x, y), np.array(t["ohm"]).T, inside, name=name, interpolator="linear")


def solve(c):
    """Two samples in each segment, at a quarter and at 95 % of it; in long ones more."""
    import pybamm

    def volts(soc):
        o = c["ocv"]
        return pybamm.Interpolant(np.array(o["soc"]), np.array(o["v"]), soc, "ocv", o["interpolation"])

    model = pybamm.equivalent_circuit.Thevenin(options={"number of rc elements": len(c["rc"])})
    values = {
        "Current function [A]": "[input]",
        "Cell capacity [A.h]": c["capacity_ah"], "Nominal cell capacity [A.h]": c["capacity_ah"],
        "Initial SoC": c["soc"], "Initial temperature [K]": c["celsius"] + 273.15,
        "Ambient temperature [K]": c["celsius"] + 273.15,
        # So heavy that it stays at its temperature.
        "Cell thermal mass [J/K]": 1e12, "Jig thermal mass [J/K]": 1e12,
        "Cell-jig heat transfer coefficient [W/K]": 0.0, "Jig-air heat transfer coefficient [W/K]": 0.0,
        "Entropic change [V/K]": 0.0,
        "Upper voltage cut-off [V]": 10.0, "Lower voltage cut-off [V]": 0.0,
        "Open-circuit voltage [V]": volts,
        "R0 [Ohm]": lambda celsius, current, soc: held(pybamm, "r0", soc, celsius, c["r0"]),
    }
    for k, pair in enumerate(c["rc"], 1):
        values[f"R{k} [Ohm]"] = lambda celsius, current, soc, t=pair["ohm"]: held(pybamm, f"r{k}", soc, celsius, t)
        values[f"C{k} [F]"] = pair["farad"]
        values[f"Element-{k} initial overpotential [V]"] = -pair.get("v0_v", 0.0)
    parameters = pybamm.ParameterValues("ECM_Example")
    parameters.update(values, check_already_exists=False)
    simulation = pybamm.Simulation(model, parameter_values=parameters,
                                   solver=pybamm.IDAKLUSolver(rtol=1e-10, atol=1e-12))
    out = {"t_s": [], "v": [], "soc": []}
    ends = [s[0] for s in c["segments"][1:]] + [c["end_s"]]
    solution = None
    for (start, amp), end in zip(c["segments"], ends):
        long = end - start
        shares = [0.25, 0.95] if long < 5 else [0.02, 0.1, 0.25, 0.4, 0.55, 0.7, 0.85, 0.95]
        before = 0.0 if solution is None else float(solution.t[-1])
        solution = simulation.step(long, t_eval=np.array([0.0, *(s * long for s in shares), long]),
                                   inputs={"Current function [A]": amp}, save=False, starting_solution=solution)
        at = np.array([before + s * long for s in shares])
        out["t_s"] += [round(start + s * long, 6) for s in shares]
        out["v"] += [float(x) for x in np.atleast_1d(solution["Voltage [V]"](at))]
        out["soc"] += [float(x) for x in np.atleast_1d(solution["SoC"](at))]
    return out
