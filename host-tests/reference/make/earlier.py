"""Solves the cases of `ladder-public.json` and `cell-public.json` again, and the pulses of `chen2020.json`."""
import numpy as np

import cells
import spice


def ladder(case):
    """ngspice's operating point of a `ladder-case/1`, under the keys of its `expected`."""
    lines, load, strip = [spice.OPTIONS], case["load"], case["strip"]
    source = case["source"]
    lines += [f"vemf emf 0 {source['ocv_v']!r}", f"rcell emf t {source['r_cell_ohm']!r}"]

    def chain(name, a, b, parts):
        nodes = [a] + [f"{name}{k}" for k in range(1, len(parts))] + [b]
        for k, part in enumerate(parts):
            lines.append(f"r{name}{k} {nodes[k]} {nodes[k + 1]} {part['ohm']!r}")

    chain("sp", "t", "bp", source["series_pos"])
    chain("sn", "bn", "0", source["series_neg"])
    for k, f in enumerate(case["feeds"]):
        lines += [f"rfp{k} bp p{f['pixel']} {f['r_pos_ohm']!r}", f"rfn{k} m{f['pixel']} bn {f['r_neg_ohm']!r}"]

    def share(x):
        if load["law"] == "softclip":
            e = load["eps"] ** 2
            return f"0.5*(1+sqrt(({x})*({x})+{e!r})-sqrt(({x}-1)*({x}-1)+{e!r}))"
        u = f"min(max({x},0),1)"
        return u if load["law"] == "clip" else f"({u}*{u}*(3-2*{u}))"

    vectors = ["v(t)", "v(bp)", "i(vemf)"] + (["v(bn)"] if source["series_neg"] else [])
    for i in range(strip["n"]):
        p, m = f"p{i}", f"m{i}"
        parts = list(zip(case["i_set_a"][i], load["channels"])) + [(load["dark"]["i_a"], load["dark"])]
        over = lambda c: f"(v({p},{m})-{c['v_off']!r})/{c['v_full'] - c['v_off']!r}"
        terms = [f"{a!r}*{share(over(c))}" for a, c in parts if a]
        lines += [f"bpix{i} x{i} {m} i={'+'.join(terms) or '0'}", f"vpix{i} {p} x{i} 0"]
        vectors += [f"v({p})", f"v({m})", f"i(vpix{i})"]
        if i:
            lines += [f"rp{i} p{i - 1} {p} {strip['r_pos_per_pitch_ohm']!r}",
                      f"rn{i} {m} m{i - 1} {strip['r_neg_per_pitch_ohm']!r}"]
    lines += [f".nodeset v(p{i})={source['ocv_v']!r}" for i in range(strip["n"])]
    row = {k: float(a[0]) for k, a in spice.run(lines, ["op"], vectors).items()}
    n = range(strip["n"])
    return {
        "i_source_a": -row["i(vemf)"], "v_cell_terminal": row["v(t)"], "v_bus_pos": row["v(bp)"],
        "v_bus_neg": row.get("v(bn)", 0.0),
        "v_pos": [row[f"v(p{i})"] for i in n], "v_neg": [row[f"v(m{i})"] for i in n],
        "v_pixel": [row[f"v(p{i})"] - row[f"v(m{i})"] for i in n],
        "i_pixel_a": [row[f"i(vpix{i})"] for i in n],
    }


def cell(case):
    """PyBaMM's run of a `cell-case/1`, under the keys of its `expected`."""
    flat = lambda ohm: {"soc": [0.0, 1.0], "celsius": [0.0, 50.0], "ohm": [[ohm, ohm], [ohm, ohm]]}
    found = cells.solve({
        "soc": case["soc0"], "celsius": 25.0, "capacity_ah": case["capacity_ah"],
        "ocv": {"soc": case["ocv_table"]["soc"], "v": case["ocv_table"]["ocv_v"], "interpolation": "linear"},
        "r0": flat(case["r0_ohm"]),
        "rc": [{"ohm": flat(p["r_ohm"]), "farad": p["c_f"], "v0_v": p["v0_v"]} for p in case["rc"]],
        "segments": case["current"]["segments_t_start_s_i_a"], "end_s": case["t_end_s"],
    })
    return {"t_s": found["t_s"], "v_terminal": found["v"], "soc": found["soc"]}


def chen(committed):
    """The open-circuit table and the 5 A pulses of `chen2020.json`, by the models it names."""
    import pybamm

    out = {"ocv_v": [], "pulses": {}}
    sets = {"DFN": pybamm.lithium_ion.DFN, "SPMe": pybamm.lithium_ion.SPMe}
    values = pybamm.ParameterValues("Chen2020")
    param = pybamm.LithiumIonParameters()
    x = pybamm.InputParameter("x")
    temperature = pybamm.Scalar(298.15)
    neg = values.process_symbol(param.n.prim.U(x, temperature))
    pos = values.process_symbol(param.p.prim.U(x, temperature))
    ends = committed["ocv"]["stoichiometry"]
    for soc in committed["ocv"]["soc"]:
        at_n = ends["x0"] + soc * (ends["x100"] - ends["x0"])
        at_p = ends["y0"] + soc * (ends["y100"] - ends["y0"])
        volt = lambda symbol, value: float(np.squeeze(symbol.evaluate(inputs={"x": value})))
        out["ocv_v"].append(volt(pos, at_p) - volt(neg, at_n))
    for name, rows in committed["pulses"].items():
        parameter_set, kind = name.split("/")
        out["pulses"][name] = []
        for row in rows:
            model = sets[kind]()
            points = model.default_var_pts
            if kind == "DFN":
                points = {**points, "r_n": 200, "r_p": 200, "x_n": 40, "x_s": 40, "x_p": 40}
            v = pybamm.ParameterValues(parameter_set)
            v.update({"Current function [A]": 5.0, "Ambient temperature [K]": 273.15 + row["t_c"],
                      "Initial temperature [K]": 273.15 + row["t_c"]})
            times = [float(t) for t in row["v"]]
            simulation = pybamm.Simulation(model, parameter_values=v, var_pts=points,
                                           solver=pybamm.IDAKLUSolver(rtol=1e-8, atol=1e-9))
            solution = simulation.solve(np.array([0.0, *times]), initial_soc=row["soc"])
            out["pulses"][name].append({t: float(u) for t, u in zip(row["v"], solution["Voltage [V]"](np.array(times)))})
    return out
