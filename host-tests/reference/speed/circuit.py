"""The strip of the speed comparison in ngspice: a sweep over frames, each point started from the one before.

usage: circuit.py EMF_V FRAMES SUPPLIES SCRATCH. Prints frames a second and the largest disagreement in volt. The
time is the processor time of a run over all frames less that of a run over one: reading the netlist does not count.
Both rails are drawn as two chains of resistors, each pixel as one behavioural source whose drive levels are a
function of the swept voltage."""

import os
import re
import resource
import struct
import subprocess
import sys

PIXELS, AGREE_V = 144, 1e-6
RAMPS = [(1.9, 2.3), (2.7, 3.3), (2.7, 3.3)]


def netlist(emf, frames, points, out):
    def level(pixel, channel):
        steps = ",".join(f"{k},{f[3 * pixel + channel] * 0.012 / 255:.17g}" for k, f in enumerate(frames))
        return f"pwl(v(x),{steps})" if len(frames) > 1 else f"{frames[0][3 * pixel + channel] * 0.012 / 255:.17g}"

    lines = ["* strip", "vx x 0 0", f"vcell c 0 {emf}", "rcell c plus 0.1", "rp plus p0 0.03", "rn n0 0 0.03"]
    for k in range(PIXELS):
        if k:
            lines += [f"rp{k} p{k - 1} p{k} 0.006", f"rn{k} n{k} n{k - 1} 0.006"]
        v = f"v(p{k},n{k})"
        law = [f"0.0006*min(max({v}/1.5,0),1)"]
        for c, (off, full) in enumerate(RAMPS):
            law.append(f"{level(k, c)}*min(max(({v}-{off})/{full - off:.17g},0),1)")
        lines.append(f"b{k} p{k} n{k} i={'+'.join(law)}")
    vectors = " ".join(f"v(p{k})-v(n{k})" for k in range(PIXELS))
    # Tolerances as tight as the agreement that is asked for needs.
    lines += [
        ".options reltol=1e-9 vntol=1e-9 abstol=1e-12 gmin=1e-15 itl1=500 itl2=500 klu",
        ".control", f"dc vx 0 {points - 1} 1" if points > 1 else "dc vx 0 0 1",
        "set numdgt=15", "set wr_singlescale", f"wrdata {out} {vectors}", "quit 0", ".endc", ".end",
    ]
    return "\n".join(lines)


def run(emf, frames, points, scratch):
    deck, out = os.path.join(scratch, "strip.cir"), os.path.join(scratch, "strip.txt")
    with open(deck, "w") as f:
        f.write(netlist(emf, frames, points, out))
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    done = subprocess.run(["ngspice", "-b", deck], capture_output=True, text=True, check=False)
    spent = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before
    if done.returncode or re.search("no convergence", done.stdout + done.stderr, re.I):
        sys.exit(done.stdout[-800:] + done.stderr[-800:])
    with open(out) as f:
        rows = [[float(x) for x in line.split()][1:] for line in f]
    return spent, rows


def main(emf, frames, supplies, scratch):
    frames, supplies = open(frames, "rb").read(), open(supplies, "rb").read()
    count = min(len(frames) // (3 * PIXELS), 128)
    shown = [frames[3 * PIXELS * k : 3 * PIXELS * (k + 1)] for k in range(count)]
    expected = [struct.unpack_from(f"<{PIXELS}d", supplies, 8 * PIXELS * k) for k in range(count)]
    whole, rows = min((run(emf, shown, count, scratch) for _ in range(2)), key=lambda r: r[0])
    # The same netlist, swept over one frame alone.
    one, _ = min((run(emf, shown, 1, scratch) for _ in range(2)), key=lambda r: r[0])
    worst = max(abs(a - b) for row, right in zip(rows, expected) for a, b in zip(row, right))
    if len(rows) != count or not worst < AGREE_V:
        sys.exit(f"{len(rows)} of {count} frames, off by {worst} V")
    print(f"{(count - 1) / (whole - one):.0f} {worst:.3g}")


main(*sys.argv[1:])
