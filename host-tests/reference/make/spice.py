"""Writes netlists for ngspice from the descriptions and reads its results."""
import os
import subprocess
import tempfile

import numpy as np

WANTED = "39"
# Tight enough that what is left is rounding. ngspice adds no conductance of its own to resistors and sources.
OPTIONS = ".options reltol=1e-11 abstol=1e-15 vntol=1e-14 gmin=1e-18 itl1=200 itl2=100"


class NgspiceError(Exception):
    pass


def version():
    text = subprocess.run(["ngspice", "-v"], capture_output=True, text=True).stdout
    return next((w.removeprefix("ngspice-") for w in text.split() if w.startswith("ngspice-")), "unknown")


def run(lines, control, vectors):
    """Runs a netlist; the named vectors as arrays (the scale first)."""
    with tempfile.TemporaryDirectory() as folder:
        raw = os.path.join(folder, "out.raw")
        deck = os.path.join(folder, "deck.cir")
        text = ["* reference case", *lines, ".control", *control, f"write {raw} {' '.join(vectors)}", ".endc", ".end"]
        with open(deck, "w") as f:
            f.write("\n".join(text) + "\n")
        done = subprocess.run(["ngspice", "-b", deck], capture_output=True, text=True, timeout=600)
        if not os.path.exists(raw):
            raise NgspiceError((done.stdout + done.stderr)[-1500:])
        return read_raw(raw)


def read_raw(path):
    with open(path, "rb") as f:
        data = f.read()
    head, body = data.split(b"Binary:\n", 1)
    fields = dict(l.split(":", 1) for l in head.decode().splitlines() if ":" in l and not l.startswith("\t"))
    count, points = int(fields["No. Variables"]), int(fields["No. Points"])
    names = [l.split("\t")[2] for l in head.decode().split("Variables:\n", 1)[1].splitlines() if l.strip()][:count]
    table = np.frombuffer(body[: 8 * count * points], dtype="<f8").reshape(points, count)
    return {name.lower(): table[:, k] for k, name in enumerate(names)}


def kv(branch):
    """A branch current of a voltage source, as ngspice names it in results."""
    return f"i({branch})"


class Netlist:
    """Netlist of a description. Every current that is compared flows through a source of 0 V."""

    def __init__(self, case):
        self.case = case
        self.nodes = {case["cells"][0]["neg"]: "0"}
        self.lines = [OPTIONS]
        self.vectors = []
        for k, c in enumerate(case["cells"]):
            p, n = self.node(c["pos"]), self.node(c["neg"])
            # Current of the EMF counts from its plus through it: negative in discharge.
            self.lines.append(f"vcell{k} e{k} {n} {c['emf_v']!r}")
            self.link(f"ecell{k}", f"e{k}", p, c["ohm"])
        for k, w in enumerate(case["wires"]):
            if not w["open"]:
                self.link(f"wire{k}", self.node(w["a"]), self.node(w["b"]), w["ohm"])
        for k, l in enumerate(case["loads"]):
            self.load(k, l)
        for k, s in enumerate(case["strips"]):
            self.strip(k, s)

    def node(self, name):
        if name not in self.nodes:
            self.nodes[name] = f"n{len(self.nodes)}"
        return self.nodes[name]

    def link(self, name, a, b, ohm):
        """A resistance with an ammeter."""
        self.vectors.append(kv(f"v{name}"))
        if ohm == 0.0:
            self.lines.append(f"v{name} {a} {b} 0")
        else:
            self.lines += [f"v{name} {a} x{name} 0", f"r{name} x{name} {b} {ohm!r}"]

    def load(self, k, l):
        p, n = self.node(l["pos"]), self.node(l["neg"])
        if l["law"] == "current":
            self.lines.append(f"bload{k} xload{k} {n} i={l['amp']!r}*min(max(v({p},{n})/{l['full_v']!r},0),1)")
        else:
            # The power comes from a voltage of its own, so that it can be swept.
            self.lines.append(f"vwatt{k} watt{k} 0 {l['watt']!r}")
            self.lines.append(f"bload{k} xload{k} {n} i=v(watt{k})/max(v({p},{n}),{l['min_v']!r})")
        self.lines.append(f"vload{k} {p} xload{k} 0")
        self.vectors.append(kv(f"vload{k}"))

    def strip(self, k, s):
        law, n = s["pixel"], len(s["pixel"]["channels"])
        for i in range(s["pixels"]):
            p, m = f"p{k}_{i}", f"m{k}_{i}"
            self.vectors += [f"v({p})", f"v({m})"]
            x = lambda c: f"min(max((v({p},{m})-{c['off_v']!r})/{c['full_v'] - c['off_v']!r},0),1)"
            terms = [f"{law['dark']['a']!r}*{x(law['dark'])}"]
            for c, channel in enumerate(law["channels"]):
                level = s["levels"][i * n + c]
                if level:
                    terms.append(f"{channel['full_a'] * level / 255!r}*{x(channel)}")
            self.lines.append(f"bpix{k}_{i} xpix{k}_{i} {m} i={'+'.join(terms)}")
            self.lines.append(f"vpix{k}_{i} {p} xpix{k}_{i} 0")
            self.vectors.append(kv(f"vpix{k}_{i}"))
            if i:
                self.lines.append(f"rp{k}_{i} p{k}_{i - 1} {p} {s['rail_pos_ohm']!r}")
                self.lines.append(f"rn{k}_{i} {m} m{k}_{i - 1} {s['rail_neg_ohm']!r}")
        for f, feed in enumerate(s["feeds"]):
            pad = ("p" if feed["rail"] == "pos" else "m") + f"{k}_{feed['pixel']}"
            ends = (self.node(feed["node"]), pad)
            if feed["rail"] == "neg":
                ends = ends[::-1]
            self.link(f"feed{k}_{f}", *ends, feed["ohm"])

    def all_vectors(self):
        return [f"v({n})" for n in self.nodes.values() if n != "0"] + self.vectors

    def start(self):
        """A guess of the upper operating point: all pluses at the highest voltage."""
        top = sum(c["emf_v"] for c in self.case["cells"] if c["neg"] != self.case["cells"][0]["neg"])
        top += self.case["cells"][0]["emf_v"]
        high = {p for l in self.case["loads"] for p in [l["pos"]]} | {
            f["node"] for s in self.case["strips"] for f in s["feeds"] if f["rail"] == "pos"}
        pads = [f"p{k}_{i}" for k, s in enumerate(self.case["strips"]) for i in range(s["pixels"])]
        names = [self.nodes[h] for h in high if self.nodes[h] != "0"] + pads
        return [f".nodeset v({n})={top!r}" for n in names]


def expected(net, row):
    """The results of a description, out of vectors by name."""
    case = net.case
    v = lambda node: 0.0 if node == "0" else row[f"v({node})"]
    at = lambda name: v(net.nodes[name])
    out = {
        "node_v": {name: v(node) for name, node in net.nodes.items()},
        "cell_a": [row[kv(f"vecell{k}")] for k in range(len(case["cells"]))],
        "wire_a": [0.0 if w["open"] else row[kv(f"vwire{k}")] for k, w in enumerate(case["wires"])],
        "load_v": [at(l["pos"]) - at(l["neg"]) for l in case["loads"]],
        "load_a": [row[kv(f"vload{k}")] for k in range(len(case["loads"]))],
        "strips": [],
    }
    for k, s in enumerate(case["strips"]):
        pixels = range(s["pixels"])
        out["strips"].append({
            "supply_v": [row[f"v(p{k}_{i})"] - row[f"v(m{k}_{i})"] for i in pixels],
            "current_a": [row[kv(f"vpix{k}_{i}")] for i in pixels],
            "feed_a": [row[kv(f"vfeed{k}_{f}")] for f in range(len(s["feeds"]))],
        })
    return out


def ohm_error(net, row):
    """Largest violation of Ohm's law. Once in a while ngspice calls something an operating point that is none, above
    all after `.nodeset`: nothing is taken on trust."""
    case, worst = net.case, 0.0
    v = lambda node: 0.0 if node == "0" else row[f"v({node})"]
    links = [(net.nodes[w["a"]], net.nodes[w["b"]], w["ohm"], f"vwire{k}")
             for k, w in enumerate(case["wires"]) if not w["open"]]
    for k, s in enumerate(case["strips"]):
        inward, outward = [0.0] * s["pixels"], [0.0] * s["pixels"]
        for f, feed in enumerate(s["feeds"]):
            rail = "p" if feed["rail"] == "pos" else "m"
            ends = [net.nodes[feed["node"]], f"{rail}{k}_{feed['pixel']}"]
            links.append((*(ends if rail == "p" else ends[::-1]), feed["ohm"], f"vfeed{k}_{f}"))
            (inward if rail == "p" else outward)[feed["pixel"]] += row[kv(f"vfeed{k}_{f}")]
        for rail, amps, ohm, sign in (("p", inward, s["rail_pos_ohm"], 1), ("m", outward, s["rail_neg_ohm"], -1)):
            along = 0.0
            for i in range(s["pixels"] - 1):
                along += amps[i] - row[kv(f"vpix{k}_{i}")]
                fall = sign * (v(f"{rail}{k}_{i}") - v(f"{rail}{k}_{i + 1}"))
                worst = max(worst, abs(fall - ohm * along))
    for a, b, ohm, name in links:
        # Through 1 Mohm a rounded current already is some nanovolts.
        worst = max(worst, abs(v(a) - v(b) - ohm * row[kv(name)]) - 1e-13 * ohm)
    return worst


def checked(net, row, what):
    error = ohm_error(net, row)
    if not error < 1e-9:
        raise NgspiceError(f"{net.case['id']}: {what} breaks Ohm's law by {error} V")
    return expected(net, row)


def operating_point(case):
    net, last = Netlist(case), None
    # A guess helps where plain iteration fails.
    for guess in ([], net.start()):
        try:
            found = run(net.lines + guess, ["op"], net.all_vectors())
            return checked(net, {k: float(a[0]) for k, a in found.items()}, "`.op`")
        except NgspiceError as error:
            last = error
    raise last


def critical_power(case):
    """The power of the last load at which ngspice loses the operating point, by ever finer sweeps upwards."""
    last = len(case["loads"]) - 1
    load = case["loads"][last]
    net = Netlist(case)
    p, n = net.node(load["pos"]), net.node(load["neg"])
    low, high = 0.0, 3.0 * case["cells"][0]["emf_v"] ** 2
    for _ in range(6):
        step = (high - low) / 30
        # From below, so that each point starts from the upper operating point of the one before.
        found = run(net.lines + net.start(), [f"dc vwatt{last} {low!r} {high + step / 2!r} {step!r}"],
                    [f"v({x})" for x in (p, n) if x != "0"])
        scale = next(a for k, a in found.items() if "sweep" in k)
        supply = found[f"v({p})"] - (found[f"v({n})"] if n != "0" else 0.0)
        # Past the collapse ngspice finds the load below its lowest supply, or nothing.
        held = supply >= max(load["min_v"], 1.0)
        if held.all() and len(held) > 30:
            raise NgspiceError(f"{case['id']}: no collapse between {low} and {high} W")
        held = len(held) if held.all() else int(np.argmin(held))
        if held == 0:
            raise NgspiceError(f"{case['id']}: no operating point at {low} W")
        low = float(scale[held - 1])
        # A little further than the point that was lost: the collapse itself may be that very point.
        high = low + 1.05 * step
    return 0.5 * (low + high)


def swept(case):
    """The operating point that a rising power of the last load leads to: the upper one, where there are several."""
    last = len(case["loads"]) - 1
    watt = case["loads"][last]["watt"]
    net = Netlist(case)
    found = run(net.lines, [f"dc vwatt{last} 0 {watt * (1 + 1e-12)!r} {watt / 200!r}"], net.all_vectors())
    scale = next(a for k, a in found.items() if "sweep" in k)
    if abs(scale[-1] - watt) > 1e-9 * watt:
        raise NgspiceError(f"{case['id']}: the sweep ended at {scale[-1]} W")
    return checked(net, {k: float(a[-1]) for k, a in found.items()}, "`.dc`")


def collapse(case):
    """Just below the critical power ngspice finds the load running; just above it only below its lowest supply."""
    critical = critical_power(case)
    before, after = (dict(case, loads=[dict(l) for l in case["loads"]]) for _ in range(2))
    before["loads"][-1]["watt"] = round(critical * 0.999, 6)
    after["loads"][-1]["watt"] = round(critical * 1.001, 6)
    beyond = operating_point(after)
    return {
        "critical_w": critical,
        "before_w": before["loads"][-1]["watt"],
        "before": swept(before),
        "after_w": after["loads"][-1]["watt"],
        "after_load_v": beyond["load_v"][-1],
    }


# PWM

POINTS = 3000
SAMPLES = 40


def pwm(case):
    """The last period of a long transient run from the average state."""
    net = Netlist(case)
    period = case["period_s"]
    fastest = min(d["period_s"] for d in case["draws"])
    lines, mean, slow = list(net.lines), [], 0.0
    for k, d in enumerate(case["draws"]):
        p, n = net.node(d["pos"]), net.node(d["neg"])
        mean.append(f"idraw{k} {p} {n} {d['amp'] * d['on_share']!r}")
        lines += [pulse(k, d, p, n)]
    for k, c in enumerate(case["capacitors"]):
        p, n = net.node(c["pos"]), net.node(c["neg"])
        resistance = c["esr_ohm"] or 1e-9
        lines += [f"resr{k} {p} c{k} {resistance!r}", f"cbulk{k} c{k} {n} {c['farad']!r} ic=@{k}@"]
        slow = max(slow, c["farad"] * (0.5 + c["esr_ohm"]))
    at_rest = run(net.lines + mean, ["op"], net.all_vectors())
    volts = lambda name: 0.0 if net.nodes[name] == "0" else float(at_rest[f"v({net.nodes[name]})"][0])
    for k, c in enumerate(case["capacitors"]):
        lines = [l.replace(f"@{k}@", repr(volts(c["pos"]) - volts(c["neg"]))) for l in lines]
    periods = int(np.ceil(8 * slow / period)) + 2
    step = fastest / POINTS
    begin, end = (periods - 1) * period, periods * period
    found = run(lines, [f"tran {step!r} {end!r} {begin!r} {step!r} uic"], net.all_vectors())
    return summary(case, net, found, begin)


def pulse(k, d, p, n):
    per, edge = d["period_s"], d["period_s"] * 1e-7
    if d["on_share"] >= 1.0:
        return f"idraw{k} {p} {n} {d['amp']!r}"
    on, delay = d["on_share"] * per, d["delay_share"] * per
    if delay + on > per:
        # Over the end of the period: the complement, upside down.
        return (f"idraw{k} {p} {n} pulse({d['amp']!r} 0 {delay + on - per - edge / 2!r} {edge!r} {edge!r} "
                f"{per - on - edge!r} {per!r})")
    # An edge at time 0 would be cut in half; the first period is not looked at.
    return f"idraw{k} {p} {n} pulse(0 {d['amp']!r} {max(delay - edge / 2, 0)!r} {edge!r} {edge!r} {on - edge!r} {per!r})"


def summary(case, net, found, begin):
    period = case["period_s"]
    # The first period begins at 0, the recorded one at `begin`: edges of draws are at whole shares of either.
    time = found["time"] - begin
    keep = np.concatenate(([True], np.diff(time) > 0))
    time = time[keep]
    node = lambda name: 0.0 if net.nodes[name] == "0" else found[f"v({net.nodes[name]})"][keep]
    # Odd shares of the period: none of them sits on an edge.
    at = [(k + 0.5137) / SAMPLES * period for k in range(SAMPLES)]
    out = {"t_s": at, "watch": []}
    for pos, neg in case["watch"]:
        v = node(pos) - node(neg)
        out["watch"].append({
            "v": [float(x) for x in np.interp(at, time, v)],
            "swing_v": float(v.max() - v.min()),
        })
    a = found[kv("vecell0")][keep]
    mean = float(np.trapezoid(a, time) / (time[-1] - time[0]))
    out["cell_mean_a"] = mean
    out["cell_variance_a2"] = float(np.trapezoid((a - mean) ** 2, time) / (time[-1] - time[0]))
    out["cell_max_a"] = float(a.max())
    return out
