"""Descriptions of the PWM cases: capacitors and pulses of current (see `circuits.py` for the other keys).

A draw takes `amp` from `delay_share` of its `period_s` on for `on_share` of it, again and again. `period_s` of the
case is a whole number of each of these periods.
"""
from circuits import Case


class Pulsed(Case):
    def __init__(self, id, about, period_s):
        super().__init__(id, "pwm", about)
        self.d |= {"period_s": period_s, "capacitors": [], "draws": [], "watch": []}

    def capacitor(self, pos, neg, farad, esr_ohm):
        self.d["capacitors"].append({"pos": pos, "neg": neg, "farad": farad, "esr_ohm": esr_ohm})
        return self

    def draw(self, pos, neg, amp, on, delay=0.0, period_s=None):
        self.d["draws"].append({
            "pos": pos, "neg": neg, "amp": amp, "period_s": period_s or self.d["period_s"],
            "on_share": on, "delay_share": delay,
        })
        return self

    def watch(self, *pairs):
        self.d["watch"] += [list(p) for p in pairs]
        return self

    def ladder(self, n, rp, rn, pulses):
        """A strip as plain resistances: pixel k draws between pk and nk. `pulses(k)`: (amp, on, delay)."""
        self.wire("+", "p0", 0.01).wire("n0", "-", 0.01)
        for k in range(1, n):
            self.wire(f"p{k - 1}", f"p{k}", rp).wire(f"n{k}", f"n{k - 1}", rn)
        for k in range(n):
            for amp, on, delay in pulses(k):
                self.draw(f"p{k}", f"n{k}", amp, on, delay)
        return self


def cases():
    """PWM rates: 400 Hz (WS2812B, first sheet), 1.2 kHz (SK6812), 2 kHz (WS2812-2020), 4 kHz (SK9822), 19.2 kHz
    (APA102, from memory)."""
    node = lambda id, about, hz: Pulsed(id, about, 1 / hz).cell().leads().watch(("+", "-"), ("cell+", "cell-"))
    return [
        node("T01", "400 Hz, 1000 uF, half of the time 2 A", 400.0).capacitor("+", "-", 1e-3, 0.03)
        .draw("+", "-", 2.0, 0.5).d,
        node("T02", "1.2 kHz, 470 uF, a fifth of the time", 1200.0).capacitor("+", "-", 4.7e-4, 0.05)
        .draw("+", "-", 2.0, 0.2).d,
        node("T03", "2 kHz, 1000 uF, 70 % of the time", 2000.0).capacitor("+", "-", 1e-3, 0.02)
        .draw("+", "-", 1.5, 0.7).d,
        node("T04", "4 kHz, 2200 uF, a time constant of many periods", 4000.0).capacitor("+", "-", 2.2e-3, 0.015)
        .draw("+", "-", 2.0, 0.4).d,
        node("T05", "19.2 kHz, 100 uF ceramic, no series resistance", 19200.0).capacitor("+", "-", 1e-4, 0.0)
        .draw("+", "-", 1.0, 0.3).d,
        node("T06", "2 kHz, no capacitor", 2000.0).draw("+", "-", 1.0, 0.3).d,
        node("T07", "1.2 kHz, three channels switched on together", 1200.0).capacitor("+", "-", 1e-3, 0.03)
        .draw("+", "-", 0.7, 0.8).draw("+", "-", 0.6, 0.35).draw("+", "-", 0.8, 0.1).d,
        node("T08", "2 kHz, eight pixels on a ladder, each with a phase of its own", 2000.0)
        .ladder(8, 0.02, 0.025, lambda k: [(0.2, 0.3 + 0.05 * k, (0.137 * k) % 1)])
        .capacitor("p0", "n0", 1e-3, 0.02).watch(("p0", "n0"), ("p7", "n7")).d,
        node("T09", "1.2 kHz, a capacitor at each end of a ladder", 1200.0)
        .ladder(10, 0.03, 0.03, lambda k: [(0.15, 0.25, 0.0), (0.15, 0.6, 0.0)])
        .capacitor("p0", "n0", 1e-3, 0.03).capacitor("p9", "n9", 2.2e-4, 0.05).watch(("p0", "n0"), ("p9", "n9")).d,
        node("T10", "2 kHz, capacitor at the far end only", 2000.0)
        .ladder(6, 0.04, 0.04, lambda k: [(0.25, 0.45, 0.0)]).capacitor("p5", "n5", 4.7e-4, 0.04)
        .watch(("p0", "n0"), ("p5", "n5")).d,
        node("T11", "audio: an amplifier's 100 Hz bursts beside 2 kHz PWM", 100.0)
        .draw("+", "-", 1.2, 0.4).draw("+", "-", 1.0, 0.5, 0.0, 1 / 2000.0).capacitor("+", "-", 2.2e-3, 0.02).d,
        Pulsed("T12", "three pixels whose oscillators run free: 1000, 1100 and 1300 Hz", 0.01).cell().leads()
        .watch(("+", "-")).capacitor("+", "-", 4.7e-4, 0.02).draw("+", "-", 0.5, 0.3, 0.0, 1 / 1000.0)
        .draw("+", "-", 0.6, 0.5, 0.0, 1 / 1100.0).draw("+", "-", 0.4, 0.7, 0.0, 1 / 1300.0).d,
        Pulsed("T13", "board and strip on grounds of their own, a capacitor on each", 1 / 1200.0).cell()
        .wire("cell+", "s+", 0.05).wire("s-", "cell-", 0.04).wire("cell+", "b+", 0.08).wire("b-", "cell-", 0.09)
        .capacitor("s+", "s-", 1e-3, 0.03).capacitor("b+", "b-", 1e-4, 0.1).draw("s+", "s-", 1.8, 0.45)
        .draw("b+", "b-", 0.12, 1.0).watch(("s+", "s-"), ("b+", "b-"), ("s-", "b-")).d,
    ]
