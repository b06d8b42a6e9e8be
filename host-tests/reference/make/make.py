"""Makes every reference again and compares it with the committed numbers; `--write` replaces those.

Exit code 1 if a number differs by more than its tolerance or a description changed.
"""
import json
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

import cells
import circuits
import earlier
import pwm
import spice

HERE = Path(__file__).resolve().parent.parent
# How far two runs of the same tool may differ; far below what the tests grant.
STATIC = 1e-9
RIPPLE_SHARE = 1e-4
CELL_V = 1e-7


class Tally:
    def __init__(self):
        self.numbers, self.bad = 0, []

    def compare(self, where, new, old, within):
        """Walks both; every number within `within`, all else equal."""
        if isinstance(new, dict) and isinstance(old, dict) and new.keys() == old.keys():
            for k in new:
                self.compare(f"{where}.{k}", new[k], old[k], within)
        elif isinstance(new, list) and isinstance(old, list) and len(new) == len(old):
            for k, (n, o) in enumerate(zip(new, old)):
                self.compare(f"{where}[{k}]", n, o, within)
        elif isinstance(new, float) and isinstance(old, (int, float)):
            self.numbers += 1
            if not abs(new - old) <= within:
                self.bad.append(f"{where}: {new!r}, committed {old!r}")
        elif new != old:
            self.bad.append(f"{where}: {str(new)[:60]}, committed {str(old)[:60]}")


def rounded(value):
    """13 decimals: below a picovolt. Keeps the files readable; no check is finer."""
    if isinstance(value, dict):
        return {k: rounded(v) for k, v in value.items()}
    if isinstance(value, list):
        return [rounded(v) for v in value]
    return round(value, 13) if isinstance(value, float) else value


def read(name):
    path = HERE / name
    return json.loads(path.read_text()) if path.exists() else {"cases": []}


def write(name, content):
    text = json.dumps(content, ensure_ascii=False)
    if "cases" in content:
        head = {k: v for k, v in content.items() if k != "cases"}
        lines = ",\n".join(json.dumps(c, ensure_ascii=False) for c in content["cases"])
        text = json.dumps(head, ensure_ascii=False)[:-1] + ', "cases": [\n' + lines + "\n]}"
    (HERE / name).write_text(text + "\n")


def solved(cases, how):
    with ThreadPoolExecutor(2) as pool:
        return [dict(c, expected=rounded(e)) for c, e in zip(cases, pool.map(how, cases))]


def own(tally, name, kind, made, tolerance, writing):
    """A file whose descriptions are made here too."""
    generator = f"ngspice-{spice.version()}" if kind != "cell-profile/1" else f"PyBaMM {pybamm_version()}"
    new = json.loads(json.dumps({"format": kind, "generator": generator, "cases": made}))
    if writing:
        write(name, new)
        return
    old = read(name)
    tally.compare(f"{name} cases", [c["id"] for c in new["cases"]], [c["id"] for c in old["cases"]], 0)
    for n, o in zip(new["cases"], old["cases"]):
        for key in n:
            tally.compare(f"{name} {n['id']}.{key}", n[key], o.get(key), tolerance(o) if key == "expected" else 0.0)


def pybamm_version():
    import pybamm

    return pybamm.__version__


def ripple(case):
    return RIPPLE_SHARE * max(w["swing_v"] for w in case["expected"]["watch"])


def older(tally, name, how, within, writing):
    """A file whose cases stand as they are; only what comes out of them is made again."""
    content = read(name)
    for case in content["cases"]:
        found = how(case)
        old = {k: case["expected"][k] for k in found}
        if writing:
            case["expected"] |= found
        else:
            tally.compare(f"{name} {case['id']}", found, old, within)
    if writing:
        (HERE / name).write_text(json.dumps(content, indent=1, ensure_ascii=False) + "\n")


def chen(tally, writing):
    content = read("chen2020.json")
    found = earlier.chen(content)
    if not writing:
        tally.compare("chen2020.json ocv", found["ocv_v"], content["ocv"]["ocv_v"], 1e-9)
    for name, rows in found["pulses"].items():
        for new, row in zip(rows, content["pulses"][name]):
            if writing:
                row["v"] = new
                row["r_ohm"] = {t: (row["ocv_v"] - v) / content["current_a"] for t, v in new.items()}
            else:
                tally.compare(f"chen2020.json {name} {row['soc']} {row['t_c']}", new, row["v"], 2e-6)
    if writing:
        content["ocv"]["ocv_v"] = found["ocv_v"]
        (HERE / "chen2020.json").write_text(json.dumps(content, indent=1, ensure_ascii=False) + "\n")


def main():
    writing = "--write" in sys.argv[1:]
    tally, begun = Tally(), time.time()

    def done(what):
        print(f"{time.time() - begun:6.1f} s  {what}", flush=True)

    static = solved(circuits.statics(), spice.operating_point)
    own(tally, "circuits.json", "circuit-case/1", static, lambda _: STATIC, writing)
    done(f"{len(static)} operating points")
    made = solved(circuits.collapse(), spice.collapse)
    own(tally, "collapse.json", "collapse-case/1", made, lambda _: 1e-6, writing)
    done(f"{len(made)} collapses")
    made = solved(pwm.cases(), spice.pwm)
    own(tally, "pwm.json", "pwm-case/1", made, ripple, writing)
    done(f"{len(made)} PWM transients")
    older(tally, "ladder-public.json", earlier.ladder, STATIC, writing)
    done("ladders")
    made = [dict(c, expected=rounded(cells.solve(c))) for c in cells.cases()]
    own(tally, "cell-profiles.json", "cell-profile/1", made, lambda _: CELL_V, writing)
    older(tally, "cell-public.json", earlier.cell, CELL_V, writing)
    done("cell profiles")
    chen(tally, writing)
    done("pulses of the porous-electrode models")
    if writing:
        print("written; read `git diff` before you commit")
        return 0
    for line in tally.bad[:40]:
        print(f"DIFFERS  {line}")
    print(f"{tally.numbers} numbers compared, {len(tally.bad)} differ")
    return 1 if tally.bad or tally.numbers < 10_000 else 0


if __name__ == "__main__":
    sys.exit(main())
