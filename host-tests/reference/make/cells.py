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


def case(id, about, part, soc, celsius, pairs, segments, end, interpolation="linear", thermal=None):
    p = tomllib.loads(CATALOGUE.read_text())[part]
    rc = [{"ohm": table(p, "r1"), "farad": si(p["c1"]["value"])}][:pairs]
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
    } | ({"thermal": thermal} if thermal else {})


def lumped(joule_per_k, watt_per_k, ambient_c):
    """A cell of one temperature in surroundings of another; figures of the order of a 21700 or 18650 cell in still air."""
    return {"joule_per_k": joule_per_k, "watt_per_k": watt_per_k, "ambient_c": ambient_c}


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
        case("Q7", "NMC811, no pair, warms itself from 0 °C in still air, 8 A on and off", nmc, 0.9, 0.0, 0,
             [[0.0, 8.0], [300.0, 0.5], [400.0, 8.0], [900.0, 0.0]], 1200.0, thermal=lumped(70.0, 0.06, 0.0)),
        case("Q8", "NCA, two pairs, brought from -10 °C into 25 °C, effects", nca, 0.7, -10.0, 2,
             pulses(8, 200.0, 4.0), 200.0, thermal=lumped(45.0, 0.05, 25.0)),
    ]


def held(pybamm, name, soc, celsius, t):
    """A table over state of charge and temperature whose ends hold beyond it."""
    x, y = np.array(t["soc"]), np.array(t["celsius"])
    inside = [
        pybamm.minimum(pybamm.maximum(soc, x[0]), x[-1]),
        pybamm.minimum(pybamm.maximum(celsius, y[0]), y[-1]),
    ]
    return pybamm.Interpolant((x, y), np.array(t["ohm"]).T, inside, name=name, interpolator="linear")


def thermal(c):
    """PyBaMM's lumped thermal model: the cell gives its heat to a jig, the jig to the air. So light a jig, so well cooled,
    is the air itself. Without a lumped model the cell is so heavy that it stays at its own temperature."""
    t = c.get("thermal")
    return {
        "Ambient temperature [K]": (t["ambient_c"] if t else c["celsius"]) + 273.15,
        "Cell thermal mass [J/K]": t["joule_per_k"] if t else 1e12,
        "Cell-jig heat transfer coefficient [W/K]": t["watt_per_k"] if t else 0.0,
        "Jig thermal mass [J/K]": 1.0 if t else 1e12,
        "Jig-air heat transfer coefficient [W/K]": 1e6 if t else 0.0,
    }


def heat_where_it_arises(model, c):
    """PyBaMM counts i·v of a pair as heat at once; what its capacitor stores becomes heat only as it runs down. The
    resistance gives off v²/R: the difference is added here, so that both sides mean the same heat."""
    v = model.variables
    for k in range(1, len(c["rc"]) + 1):
        over = v[f"Element-{k} overpotential [V]"]
        more = over**2 / v[f"R{k} [Ohm]"] - v[f"Element-{k} irreversible heat generation [W]"]
        model.rhs[v["Cell temperature [degC]"]] += more / c["thermal"]["joule_per_k"]


def solve(c):
    """Two samples in each segment, at a quarter and at 95 % of it; in long ones more."""
    import pybamm

    def volts(soc):
        o = c["ocv"]
        return pybamm.Interpolant(np.array(o["soc"]), np.array(o["v"]), soc, "ocv", o["interpolation"])

    model = pybamm.equivalent_circuit.Thevenin(options={"number of rc elements": len(c["rc"])})
    if "thermal" in c:
        heat_where_it_arises(model, c)
    values = {
        "Current function [A]": "[input]",
        "Cell capacity [A.h]": c["capacity_ah"], "Nominal cell capacity [A.h]": c["capacity_ah"],
        "Initial SoC": c["soc"], "Initial temperature [K]": c["celsius"] + 273.15,
        **thermal(c),
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
    out = {"t_s": [], "v": [], "soc": []} | ({"celsius": []} if "thermal" in c else {})
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
        if "thermal" in c:
            out["celsius"] += [float(x) for x in np.atleast_1d(solution["Cell temperature [degC]"](at))]
    return out
