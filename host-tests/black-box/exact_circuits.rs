//! Circuits of an outside program or handbook, typed in exactly through the build file.

use crate::bench::{Bench, Table};
use std::fmt::Write as _;

/// A build with an ideal or given source, lead resistances and one strip.
struct Circuit {
    ocv_v: f64,
    r0_ohm: f64,
    lead_plus_ohm: f64,
    lead_minus_ohm: f64,
    pixels: usize,
    rail_plus_ohm: f64,
    rail_minus_ohm: f64,
    channel_a: f64,
    off_v: f64,
    full_v: f64,
    dark_a: f64,
}

impl Circuit {
    fn build(&self) -> String {
        let mut t = String::new();
        let _ = writeln!(
            t,
            "[prop]\nname = \"typed in\"\n[pixels.p]\ndark-current = \"{} A\"",
            self.dark_a
        );
        for c in ["red", "green", "blue"] {
            let _ = writeln!(
                t,
                "{c} = {{ current = \"{} A\", off = \"{} V\", full = \"{} V\" }}",
                self.channel_a, self.off_v, self.full_v
            );
        }
        let _ = writeln!(
            t,
            "[parts.cell]\nkind = \"cell\"\ncapacity = \"5 Ah\"\nr0 = \"{} ohm\"\ncut-off = \"2.5 V\"\n\
             ocv = {{ soc = [\"0 %\", \"100 %\"], voltage = [\"{v} V\", \"{v} V\"] }}\n\
             [parts.s]\nkind = \"strip\"\npixel = \"p\"\npixels = {}\nrail-plus = \"{} ohm\"\nrail-minus = \"{} ohm\"",
            self.r0_ohm, self.pixels, self.rail_plus_ohm, self.rail_minus_ohm,
            v = self.ocv_v
        );
        let _ = writeln!(t, "[[wires]]\nname = \"p\"\nfrom = \"cell.plus\"\nto = \"s.plus\"\nresistance = \"{} ohm\"", self.lead_plus_ohm);
        let _ = writeln!(t, "[[wires]]\nname = \"n\"\nfrom = \"s.minus\"\nto = \"cell.minus\"\nresistance = \"{} ohm\"", self.lead_minus_ohm);
        t
    }

    fn profile(&self, frames: &[u8]) -> Table {
        let bench = Bench::new();
        bench.write("build.toml", self.build());
        bench.write("frames.rgb", frames);
        let ran = bench.run(&["profile", ".", "--frames", "frames.rgb", "--format", "csv"]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        Table::parse(&ran.out)
    }
}

/// Equal sinks on a ladder: the drop at the last is r·I·N(N+1)/2 (closed form; step resistance after a
/// bench measurement of an SK6812 strip, about 6.2 mΩ between neighbours).
#[test]
fn equal_sinks_on_a_ladder_meet_the_closed_form() {
    let n = 60;
    let circuit = Circuit {
        ocv_v: 5.0,
        r0_ohm: 0.0,
        lead_plus_ohm: 0.0062,
        lead_minus_ohm: 0.0,
        pixels: n,
        rail_plus_ohm: 0.0062,
        rail_minus_ohm: 0.0,
        channel_a: 0.020,
        off_v: 1.0,
        full_v: 2.0,
        dark_a: 0.0,
    };
    let table = circuit.profile(&[255, 0, 0].repeat(n));
    let expected = 0.0062 * 0.020 * (n * (n + 1) / 2) as f64;
    assert!((expected - 0.22692).abs() < 1e-6);
    let found = 5.0 - table.number(0, "pixel_supply_min_v");
    assert!((found - expected).abs() < 1e-6, "{found} {expected}");
    assert!((table.number(0, "cell_current_a") - 1.2).abs() < 1e-8);
}

/// One pixel on the slope of its channel: I = I_c·(V − Voff)/(Vfull − Voff) meets V = E − R·I at a point
/// that can be worked by hand.
#[test]
fn a_pixel_on_its_slope_meets_the_hand_worked_point() {
    let circuit = Circuit {
        ocv_v: 3.0,
        r0_ohm: 2.0,
        lead_plus_ohm: 1.0,
        lead_minus_ohm: 1.0,
        pixels: 1,
        rail_plus_ohm: 0.0,
        rail_minus_ohm: 0.0,
        channel_a: 0.1,
        off_v: 2.0,
        full_v: 3.0,
        dark_a: 0.001,
    };
    let table = circuit.profile(&[255, 0, 0]);
    // V = 3 − 4·(0.001 + 0.1·(V − 2)), so 1.4·V = 3 − 0.004 + 0.8.
    let v = (3.0 - 0.004 + 0.8) / 1.4;
    let a = (3.0 - v) / 4.0;
    assert!((table.number(0, "cell_current_a") - a).abs() < 1e-8);
    assert!((table.number(0, "cell_voltage_v") - (3.0 - 2.0 * a)).abs() < 1e-8);
}

/// Coincidence peak of free-running pixels: mean Σ d·I plus z standard deviations. The channels of one pixel
/// switch on together, so their duties overlap by the lesser of the two: covariance (min(d, e) − d·e)·I²,
/// which for a channel with itself is the d(1−d)·I² of a Bernoulli variable. z = 3.7190 for the 0.9999 quantile (normal distribution tables), at ample supply.
#[test]
fn the_coincidence_peak_follows_mean_and_variance() {
    let n = 50;
    let circuit = Circuit {
        ocv_v: 5.0,
        r0_ohm: 0.01,
        lead_plus_ohm: 0.01,
        lead_minus_ohm: 0.01,
        pixels: n,
        rail_plus_ohm: 0.001,
        rail_minus_ohm: 0.001,
        channel_a: 0.012,
        off_v: 1.0,
        full_v: 2.0,
        dark_a: 0.0006,
    };
    let table = circuit.profile(&[51, 102, 0].repeat(n));
    let (d1, d2, n) = (51.0 / 255.0, 102.0 / 255.0, n as f64);
    let mean = n * (0.0006 + 0.012 * (d1 + d2));
    let covariance = d1.min(d2) - d1 * d2;
    let each = d1 * (1.0 - d1) + d2 * (1.0 - d2) + 2.0 * covariance;
    let variance = n * 0.012f64.powi(2) * each;
    let peak = mean + 3.719_016 * variance.sqrt();
    assert!((table.number(0, "cell_current_a") - mean).abs() < 1e-7);
    assert!((table.number(0, "cell_current_peak_a") - peak).abs() < 1e-6);
    let aligned = n * (0.0006 + 2.0 * 0.012);
    assert!((table.number(0, "cell_current_aligned_a") - aligned).abs() < 1e-7);
}

/// The cell of the Thevenin check case (R0 25 mΩ, R1 10 mΩ, C1 2000 F, 5 Ah, OCV = 3.0 + 1.2·SoC): after
/// 10 s at 5 A the terminal voltage is 3.451993 V (PyBaMM and the closed form agree to 1 µV).
#[test]
fn a_cell_typed_in_full_follows_its_closed_form() {
    let bench = Bench::new();
    bench.write(
        "build.toml",
        r#"
[prop]
name = "cell"
[pixels.sink]
dark-current = "0 A"
red = { current = "5 A", off = "0.5 V", full = "1 V" }
green = { current = "0 A", off = "0.5 V", full = "1 V" }
blue = { current = "0 A", off = "0.5 V", full = "1 V" }
[parts.cell]
kind = "cell"
capacity = "5 Ah"
ocv = { soc = ["0 %", "100 %"], voltage = ["3.0 V", "4.2 V"], interpolation = "linear" }
r0 = "25 mΩ"
r1 = "10 mΩ"
c1 = "2000 F"
cut-off = "2.5 V"
[parts.s]
kind = "strip"
pixel = "sink"
pixels = 1
[[wires]]
from = "cell.plus"
to = "s.plus"
resistance = "0 ohm"
[[wires]]
from = "s.minus"
to = "cell.minus"
resistance = "0 ohm"
"#,
    );
    // 5 A for 10 s, then nothing: the first dark frame shows the RC pair alone.
    let frames = [[255, 0, 0].repeat(1001), vec![0, 0, 0]].concat();
    bench.write("frames.rgb", &frames);
    let ran = bench.run(&[
        "profile",
        ".",
        "--frames",
        "frames.rgb",
        "--frame-rate",
        "100",
        "--soc",
        "50 %",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let table = Table::parse(&ran.out);
    let at_10_s = table.number(1000, "cell_voltage_v");
    assert!((at_10_s - 3.451_993).abs() < 1e-5, "{at_10_s}");
    let after = table.number(1001, "cell_voltage_v");
    let soc: f64 = 0.5 - 5.0 * 10.01 / 18_000.0;
    let v1 = 5.0 * 0.010 * (1.0 - (-10.01f64 / 20.0).exp());
    assert!((after - (3.0 + 1.2 * soc - v1)).abs() < 1e-6, "{after}");
}
