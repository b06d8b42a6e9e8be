"""Descriptions of the reference circuits.

One description, two readers: `spice.py` writes a netlist from it for ngspice, `tests/reference_circuits.rs`
builds a network from it. SI units; pixels count from 0; all names and values are invented.

Keys of a case: id, group, about, cells (pos, neg, emf_v, ohm), wires (a, b, ohm; `open` for an open switch),
loads (pos, neg, law `current` with full_v and amp, or `power` with min_v and watt), strips (law, pixels, rails,
feeds, levels 0..255 pixel by pixel), and for PWM: capacitors, draws (pulses), watch, period_s. The minus of the
first cell is 0 V.
"""
import random

RGB = {
    "channels": [
        {"full_a": 0.012, "off_v": 1.9, "full_v": 2.3},
        {"full_a": 0.012, "off_v": 2.7, "full_v": 3.3},
        {"full_a": 0.012, "off_v": 2.7, "full_v": 3.3},
    ],
    "dark": {"a": 0.0006, "off_v": 0.0, "full_v": 1.5},
}
RGBW = {
    "channels": [
        {"full_a": 0.016, "off_v": 1.8, "full_v": 2.2},
        {"full_a": 0.014, "off_v": 2.6, "full_v": 3.1},
        {"full_a": 0.015, "off_v": 2.7, "full_v": 3.2},
        {"full_a": 0.018, "off_v": 2.65, "full_v": 3.15},
    ],
    "dark": {"a": 0.001, "off_v": 0.0, "full_v": 2.0},
}


class Case:
    """A case under construction; nodes are named, made by their first use."""

    def __init__(self, id, group, about):
        self.d = {
            "id": id, "group": group, "about": about,
            "cells": [], "wires": [], "loads": [], "strips": [],
        }

    def cell(self, pos="cell+", neg="cell-", emf_v=3.7, ohm=0.045):
        self.d["cells"].append({"pos": pos, "neg": neg, "emf_v": emf_v, "ohm": ohm})
        return self

    def wire(self, a, b, ohm, open=False):
        self.d["wires"].append({"a": a, "b": b, "ohm": ohm, "open": open})
        return self

    def leads(self, plus=0.06, minus=0.05):
        """From the cell to the buses `+` and `-`."""
        return self.wire("cell+", "+", plus).wire("-", "cell-", minus)

    def sink(self, pos, neg, amp, full_v=0.1):
        self.d["loads"].append({"pos": pos, "neg": neg, "law": "current", "full_v": full_v, "amp": amp})
        return self

    def power(self, pos, neg, watt, min_v=2.0):
        self.d["loads"].append({"pos": pos, "neg": neg, "law": "power", "min_v": min_v, "watt": watt})
        return self

    def strip(self, pixels, feeds, levels, rp=0.006, rn=0.006, law="rgb"):
        """`feeds`: (rail, pixel, node, ohm). `levels`: one for all, or a function of pixel and channel."""
        pixel = {"rgb": RGB, "rgbw": RGBW}[law]
        of = levels if callable(levels) else lambda i, c: levels
        n = len(pixel["channels"])
        self.d["strips"].append({
            "pixel": pixel, "pixels": pixels, "rail_pos_ohm": rp, "rail_neg_ohm": rn,
            "feeds": [{"rail": r, "pixel": p, "node": node, "ohm": ohm} for r, p, node, ohm in feeds],
            "levels": [int(of(i, c)) for i in range(pixels) for c in range(n)],
        })
        return self


def both(pixel, ohm=0.01, plus="+", minus="-"):
    return [("pos", pixel, plus, ohm), ("neg", pixel, minus, ohm)]


def rainbow(i, c):
    return (i * 37 + c * 85) % 256


def feeds():
    """Where a strip is fed."""
    def case(number, about, n, at, levels=200, emf=3.7, law="rgb", rp=0.006, rn=0.006):
        return Case(f"F{number:02}", "feeds", about).cell(emf_v=emf).leads().strip(n, at, levels, rp, rn, law).d

    plus, minus = lambda p, ohm=0.01: ("pos", p, "+", ohm), lambda p, ohm=0.01: ("neg", p, "-", ohm)
    return [
        case(1, "one end", 60, both(0)),
        case(2, "the far end only", 60, both(59), rainbow),
        case(3, "both ends", 60, both(0) + both(59), 255),
        case(4, "the middle", 61, both(30), rainbow),
        case(5, "three places, joints of different quality", 90, both(10, 0.02) + both(45, 0.2) + both(80, 0.005), 180),
        case(6, "crossed: plus at the near end, minus at the far end", 60, [plus(0), minus(59)], rainbow),
        case(7, "plus at both ends, minus in the middle", 60, [plus(0), plus(59), minus(29)], 160),
        case(8, "rails of different resistance", 72, both(0) + both(71), rainbow, rp=0.004, rn=0.015),
        case(9, "plus at one place, minus at three", 48, [plus(20), minus(0), minus(24), minus(47)], 220),
        case(10, "144 pixels fed at one end, the far ones starved", 144, both(0), 255, rp=0.009, rn=0.009),
        case(11, "a single pixel", 1, both(0), 255),
        case(12, "joints without resistance", 40, both(5, 0.0) + both(33, 0.0), rainbow),
        case(13, "two feeds on neighbouring pixels", 30, both(11) + both(12), 255),
        case(14, "four channels, nearly empty cell", 60, both(0) + both(59), rainbow, emf=3.1, law="rgbw"),
        case(15, "all dark", 100, both(0), 0),
    ]


def splices():
    return [
        Case("S01", "splices", "a strip cut in two, rejoined by short wires").cell().leads()
        .strip(30, both(0) + [("pos", 29, "cut+", 0.0), ("neg", 29, "cut-", 0.0)], 200)
        .wire("cut+", "rest+", 0.012).wire("rest-", "cut-", 0.015)
        .strip(30, both(0, 0.0, "rest+", "rest-"), 200).d,
        Case("S02", "splices", "a T in the plus lead feeds both ends").cell().leads()
        .wire("+", "T", 0.03).wire("T", "left", 0.02).wire("T", "right", 0.11)
        .strip(60, [("pos", 0, "left", 0.01), ("pos", 59, "right", 0.01), ("neg", 0, "-", 0.01)], rainbow).d,
        Case("S03", "splices", "three strips on a star splice").cell(emf_v=3.9).leads()
        .wire("+", "star+", 0.02).wire("star-", "-", 0.02)
        .strip(12, both(0, 0.01, "star+", "star-"), 255).strip(24, both(23, 0.02, "star+", "star-"), rainbow)
        .strip(6, both(3, 0.03, "star+", "star-"), 90).d,
        Case("S04", "splices", "a bad splice of 1 ohm in the minus of the second strip").cell().leads()
        .strip(20, both(0), 255).wire("bad", "-", 1.0)
        .strip(20, [("pos", 0, "+", 0.01), ("neg", 0, "bad", 0.01)], 255).d,
        Case("S05", "splices", "a ring: both ends on one splice each, and the splices joined").cell().leads()
        .wire("+", "near", 0.02).wire("near", "far", 0.05).wire("back", "-", 0.02).wire("end", "back", 0.05)
        .strip(50, [("pos", 0, "near", 0.005), ("pos", 49, "far", 0.005),
                    ("neg", 0, "back", 0.005), ("neg", 49, "end", 0.005)], rainbow).d,
        Case("S06", "splices", "a daisy chain: what the far end of one strip feeds").cell(emf_v=4.1).leads()
        .strip(25, both(0) + both(24, 0.004, "a+", "a-"), 120).strip(25, both(0, 0.01, "a+", "a-") +
                                                                   both(24, 0.004, "b+", "b-"), 120)
        .strip(25, both(0, 0.01, "b+", "b-"), 120).d,
    ]


def mixed():
    return [
        Case("M01", "mixed loads", "strip, board current, amplifier power, bleeder resistance").cell().leads()
        .strip(40, both(0), rainbow).sink("+", "-", 0.08, 3.0).power("+", "-", 1.5).wire("+", "-", 470.0).d,
        Case("M02", "mixed loads", "an amplifier at the end of thin leads").cell(emf_v=3.6).leads()
        .wire("+", "amp+", 0.25).wire("amp-", "-", 0.25).power("amp+", "amp-", 2.5).strip(20, both(0), 255).d,
        Case("M03", "mixed loads", "a switching regulator and a linear one side by side").cell().leads()
        .power("+", "-", 0.9, 2.5).sink("+", "-", 0.15, 3.3).d,
        Case("M04", "mixed loads", "two strips, three loads, one node each").cell(emf_v=3.95, ohm=0.08).leads(0.03, 0.09)
        .wire("+", "x", 0.04).wire("x", "y", 0.04).wire("-", "z", 0.02)
        .strip(30, both(0, 0.01, "x", "z"), rainbow).strip(30, both(29, 0.01, "y", "-"), 70)
        .sink("y", "z", 0.11).power("x", "-", 0.7).power("y", "-", 0.4).d,
        Case("M05", "mixed loads", "a load on the far end of a strip").cell(emf_v=4.0).leads()
        .strip(30, both(0) + both(29, 0.01, "tail+", "tail-"), 100).power("tail+", "tail-", 0.8).d,
        Case("M06", "mixed loads", "a starved sink and starved pixels").cell(emf_v=3.0, ohm=0.4).leads(0.3, 0.3)
        .strip(50, both(0), 255).sink("+", "-", 0.2, 3.3).d,
        Case("M07", "mixed loads", "resistors only").cell().leads().wire("+", "mid", 4.7).wire("mid", "-", 10.0)
        .wire("+", "-", 22.0).d,
        Case("M08", "mixed loads", "an amplifier that moves the supply of starved pixels").cell(emf_v=3.3, ohm=0.15)
        .leads().strip(60, both(0) + both(59), 255).power("+", "-", 1.2).d,
    ]


def grounds():
    return [
        Case("G01", "several grounds", "board and strip return by leads of their own").cell().wire("cell+", "+", 0.05)
        .wire("gb", "cell-", 0.08).wire("gs", "cell-", 0.03).sink("+", "gb", 0.12, 3.0)
        .strip(50, [("pos", 0, "+", 0.01), ("neg", 0, "gs", 0.01)], 255).d,
        Case("G02", "several grounds", "a loop: the grounds are joined at the strip as well").cell()
        .wire("cell+", "+", 0.05).wire("gb", "cell-", 0.08).wire("gs", "cell-", 0.03).wire("gb", "gs", 0.02)
        .sink("+", "gb", 0.12, 3.0).strip(50, [("pos", 0, "+", 0.01), ("neg", 0, "gs", 0.01)], 255).d,
        Case("G03", "several grounds", "three: board, amplifier, strip at its far end").cell(emf_v=3.85)
        .wire("cell+", "+", 0.05).wire("g1", "cell-", 0.08).wire("g2", "cell-", 0.06).wire("g3", "cell-", 0.04)
        .sink("+", "g1", 0.09, 3.0).power("+", "g2", 1.8)
        .strip(60, [("pos", 0, "+", 0.01), ("neg", 59, "g3", 0.01)], rainbow).d,
        Case("G04", "several grounds", "the strip's minus through the board's ground").cell()
        .wire("cell+", "+", 0.05).wire("gb", "cell-", 0.1).wire("gs", "gb", 0.05).sink("+", "gb", 0.1, 3.0)
        .strip(30, [("pos", 0, "+", 0.01), ("neg", 0, "gs", 0.01)], 200).d,
    ]


def switches():
    def base(id, about):
        return Case(id, "switches", about).cell()

    return [
        base("W01", "closed, in the plus leg").wire("cell+", "+", 0.03).wire("-", "cell-", 0.05)
        .strip(40, both(0), 255).sink("+", "-", 0.05, 3.0).d,
        base("W02", "open in the plus leg of the strip, a leak of 1 Mohm across it").wire("cell+", "+", 0.05)
        .wire("-", "cell-", 0.05).wire("+", "s+", 0.02, open=True).wire("+", "s+", 1e6)
        .strip(20, [("pos", 0, "s+", 0.01), ("neg", 0, "-", 0.01)], 255).sink("+", "-", 0.05, 3.0).d,
        base("W03", "open in the minus leg of the strip, pulled down by 100 kohm").wire("cell+", "+", 0.05)
        .wire("-", "cell-", 0.05).wire("s-", "-", 0.02, open=True).wire("s-", "-", 1e5)
        .strip(20, [("pos", 0, "+", 0.01), ("neg", 0, "s-", 0.01)], 255).sink("+", "-", 0.05, 3.0).d,
        base("W04", "closed in both legs, one worn contact").wire("cell+", "k+", 0.02).wire("k+", "+", 0.03)
        .wire("-", "k-", 0.35).wire("k-", "cell-", 0.02).strip(40, both(0) + both(39), rainbow).d,
        base("W05", "two closed contacts in parallel").wire("cell+", "+", 0.04).wire("cell+", "+", 0.07)
        .wire("-", "cell-", 0.05).strip(40, both(20), 255).d,
        base("W06", "one of two feeds switched off, in the minus leg").leads().wire("f-", "-", 0.02, open=True)
        .strip(40, both(0) + [("pos", 39, "+", 0.01), ("neg", 39, "f-", 0.01)], 255).d,
    ]


def cells():
    return [
        Case("C01", "cells", "two in parallel with different voltages").cell("a", "cell-", 3.62, 0.05)
        .cell("b", "cell-", 3.71, 0.08).wire("a", "+", 0.02).wire("b", "+", 0.02).wire("-", "cell-", 0.03)
        .strip(40, both(0), 200).d,
        Case("C02", "cells", "two in series, a tap between them").cell("mid", "cell-", 3.6, 0.06)
        .cell("top", "mid", 3.75, 0.07).wire("top", "+", 0.05).wire("-", "cell-", 0.05).wire("mid", "tap", 0.04)
        .strip(30, [("pos", 0, "tap", 0.01), ("neg", 0, "-", 0.01)], rainbow).power("+", "-", 3.0, 4.0).d,
        Case("C03", "cells", "no resistance of its own").cell(ohm=0.0).leads().strip(30, both(0), 255).d,
    ]


def decades():
    return [
        Case("D01", "nine decades", "1 uohm bus beside 1 kohm leads").cell(ohm=0.02).wire("cell+", "+", 1e-6)
        .wire("-", "cell-", 1e-6).wire("+", "far", 1e3).wire("far", "-", 1e3).sink("+", "far", 0.0005)
        .strip(20, both(0, 1e-6), 255).d,
        Case("D02", "nine decades", "feeds of 1 uohm, 10 mohm and 100 ohm on one strip").cell().leads()
        .strip(60, both(0, 1e-6) + both(30, 0.01) + both(59, 100.0), rainbow, rp=1e-4, rn=0.05).d,
        Case("D03", "nine decades", "a mesh of resistances from 1 uohm to 1 kohm").cell().leads(1e-6, 1e-3)
        .wire("+", "a", 1e-5).wire("a", "b", 1e-2).wire("+", "b", 10.0).wire("b", "c", 1e3).wire("a", "c", 1e-4)
        .wire("g", "-", 1e-6).wire("g", "-", 1.0).strip(25, both(0, 1e-5, "b", "g"), 255)
        .sink("c", "g", 0.2).d,
    ]


def anything():
    """Random networks: a tree on each side, wires across, loads and strips between."""
    out = []
    for seed in range(1, 11):
        rng = random.Random(seed)
        pick = lambda n: int(rng.random() * n)
        ohm = lambda: round(10 ** (-3 + 2.5 * rng.random()), 6)
        case = Case(f"R{seed:02}", "random", f"made up by chance, seed {seed}")
        case.cell("p0", "n0", round(3.0 + 1.2 * rng.random(), 3), round(0.02 + 0.1 * rng.random(), 4))
        for side in "pn":
            for k in range(1, 5):
                case.wire(f"{side}{pick(k)}", f"{side}{k}", ohm())
            a, b = pick(5), pick(5)
            if a != b:
                case.wire(f"{side}{a}", f"{side}{b}", ohm())
        node = lambda: (f"p{pick(5)}", f"n{pick(5)}")
        case.wire(*node(), round(1 + 1000 * rng.random(), 1))
        case.sink(*node(), round(0.2 * rng.random(), 4))
        case.power(*node(), round(0.6 * rng.random(), 4))
        for _ in range(1 + pick(3)):
            n = 2 + pick(60)
            levels = [pick(256) for _ in range(n * 3)]
            at = [("pos", pick(n), f"p{pick(5)}", ohm()) for _ in range(1 + pick(3))]
            at += [("neg", pick(n), f"n{pick(5)}", ohm()) for _ in range(1 + pick(3))]
            case.strip(n, at, lambda i, c: levels[i * 3 + c], ohm() / 10, ohm() / 10)
        out.append(case.d)
    return out


def collapse():
    """The last load of each is raised until ngspice finds no operating point at which it runs."""
    def case(number, about, build):
        d = build(Case(f"K{number:02}", "collapse", about)).d
        return d

    return [
        case(1, "a constant power alone behind a resistance",
             lambda c: c.cell(emf_v=3.7, ohm=0.2).leads(0.1, 0.1).power("+", "-", 0.0, 0.4)),
        case(2, "beside a strip fed at one end",
             lambda c: c.cell(emf_v=4.1, ohm=0.1).leads().strip(60, both(0), 128).power("+", "-", 0.0, 0.4)),
        case(3, "beside a strip at the end of long leads, starved pixels give way",
             lambda c: c.cell(emf_v=3.6, ohm=0.1).leads(0.2, 0.2).strip(80, both(0) + both(79), 255)
             .power("+", "-", 0.0, 0.4)),
        case(4, "on the far end of a strip",
             lambda c: c.cell(emf_v=4.0).leads().strip(30, both(0) + both(29, 0.01, "t+", "t-"), 60)
             .power("t+", "t-", 0.0, 0.4)),
        case(5, "beside another constant power and a sink",
             lambda c: c.cell(emf_v=3.9, ohm=0.08).leads().wire("+", "x", 0.15).wire("y", "-", 0.15)
             .sink("+", "-", 0.3).power("+", "-", 2.0, 0.4).power("x", "y", 0.0, 0.4)),
    ]


def statics():
    return feeds() + splices() + mixed() + grounds() + switches() + cells() + decades() + anything()
