"""The strip of the speed comparison by Newton's method with numpy and LAPACK's tridiagonal solver (scipy).

usage: banded.py EMF_V FRAMES SUPPLIES, as newton.c. Prints frames a second (processor time, the fastest run),
the largest disagreement in volt and Newton steps a frame."""

import sys
import time

import numpy as np
from scipy.linalg.lapack import dgtsv

PIXELS, AGREE_V = 144, 1e-6
OFF_V, FULL_V = np.array([1.9, 2.7, 2.7]), np.array([2.3, 3.3, 3.3])
FULL_A, DARK_A, DARK_FULL_V = 0.012, 0.0006, 1.5
PITCH_OHM, FEED_OHM = 0.012, 0.16
PER_V = 1 / (FULL_V - OFF_V)
Y, Y0 = 1 / PITCH_OHM, 1 / FEED_OHM
SIDE = np.full(PIXELS - 1, -Y)
BARE = np.full(PIXELS, 2 * Y)
BARE[0], BARE[-1] = Y + Y0, Y


def solve(emf, frame, v):
    set_a = frame * (FULL_A / 255)
    for step in range(1, 101):
        x = (v[:, None] - OFF_V) * PER_V
        dark = v / DARK_FULL_V
        i = (set_a * x.clip(0, 1)).sum(1) + DARK_A * dark.clip(0, 1)
        g = (set_a * PER_V * ((x > 0) & (x < 1))).sum(1)
        g += DARK_A / DARK_FULL_V * ((dark > 0) & (dark < 1))
        right = g * v - i
        right[0] += Y0 * emf
        _, _, _, new, info = dgtsv(SIDE, BARE + g, SIDE, right)
        assert info == 0
        moved = np.abs(new - v).max()
        v = new
        if moved < 1e-9:
            return v, step
    raise ArithmeticError("a frame does not settle")


def main(emf, frames, supplies):
    emf = float(emf)
    frames = np.fromfile(frames, np.uint8).reshape(-1, PIXELS, 3).astype(float)
    expected = np.fromfile(supplies).reshape(-1, PIXELS)
    v, worst, steps = np.full(PIXELS, emf), 0.0, 0
    for frame, right in zip(frames, expected):
        v, n = solve(emf, frame, v)
        steps += n
        worst = max(worst, np.abs(v - right).max())
    assert worst < AGREE_V, f"off by {worst} V"
    best = np.inf
    for _ in range(3):
        start = time.process_time()
        for frame in frames:
            v, _ = solve(emf, frame, v)
        best = min(best, time.process_time() - start)
    print(f"{len(frames) / best:.0f} {worst:.3g} {steps / len(frames):.2f}")


main(*sys.argv[1:])
