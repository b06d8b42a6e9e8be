//! The shipped parts against what they were taken from: data sheets, standards, bench figures and cell models outside
//! the project. The source stands beside each check.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright::build::diag::Source;
use lampwright::build::file::read_build;
use lampwright::build::parts::{CellType, Fuse, PixelType, Protection, Strip, Wire, WireSize};
use lampwright::build::prop::{PartKind, Prop};
use lampwright::units::{Gauge, Quantity};

fn build(body: &str) -> Prop {
    let text = format!("[prop]\nname = \"x\"\n{body}");
    read_build(&Source::new("build.toml", text)).unwrap_or_else(|e| panic!("{e}"))
}

fn part(kind: &str, id: &str, more: &str) -> PartKind {
    let prop = build(&format!(
        "[parts.p]\nkind = \"{kind}\"\nfrom = \"{id}\"\n{more}"
    ));
    prop.parts[0].kind.clone()
}

fn cell(id: &str) -> CellType {
    match part("cell", id, "") {
        PartKind::Cell(cell) => *cell,
        _ => panic!("{id} is a cell"),
    }
}

fn fuse(id: &str) -> Fuse {
    match part("fuse", id, "") {
        PartKind::Fuse(fuse) => fuse,
        _ => panic!("{id} is a fuse"),
    }
}

fn protection(id: &str) -> Protection {
    match part("protection", id, "") {
        PartKind::Protection(protection) => protection,
        _ => panic!("{id} is a protection circuit"),
    }
}

fn strip(id: &str, pixels: u32) -> Strip {
    match part("strip", id, &format!("pixels = {pixels}\n")) {
        PartKind::Strip(strip) => *strip,
        _ => panic!("{id} is a strip"),
    }
}

fn pixel(id: &str) -> PixelType {
    let body = format!("[parts.p]\nkind = \"strip\"\npixels = 1\npixel = \"{id}\"\n");
    match build(&body).parts[0].kind.clone() {
        PartKind::Strip(strip) => strip.pixel,
        _ => panic!("a strip"),
    }
}

fn wire(id: &str) -> Wire {
    let ends = "[parts.a]\nkind = \"splice\"\n[parts.b]\nkind = \"splice\"\n";
    let body =
        format!("{ends}[[wires]]\nfrom = \"a\"\nto = \"b\"\ntype = \"{id}\"\nlength = \"1 m\"\n");
    build(&body).wires[0].clone()
}

fn close(found: f64, expected: f64, share: f64) {
    let off = (found - expected).abs() / expected.abs();
    assert!(off <= share, "{found} against {expected}: off by {off}");
}

/// Current of a channel at full drive over supply: the law of the pixel.
fn channel_a(pixel: &PixelType, index: usize, supply_v: f64) -> f64 {
    let c = &pixel.channels[index];
    let x = (supply_v - c.off.si()) / (c.full.si() - c.off.si());
    c.current.si() * x.clamp(0.0, 1.0)
}

/// PyBaMM 26.10.1.1, parameter set Chen2020: `reference/chen2020.json` (see PROVENANCE.md).
fn chen() -> serde_json::Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/reference/chen2020.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|v| v.as_f64().unwrap())
        .collect()
}

#[test]
fn open_circuit_voltage_and_capacity_of_the_21700_are_those_of_the_model() {
    let (cell, chen) = (cell("21700-nmc811-5ah"), chen());
    let soc = numbers(&chen["ocv"]["soc"]);
    let volts = numbers(&chen["ocv"]["ocv_v"]);
    assert_eq!(cell.ocv_soc.len(), soc.len());
    for ((s, v), (z, u)) in cell
        .ocv_soc
        .iter()
        .zip(&cell.ocv_v)
        .zip(soc.iter().zip(&volts))
    {
        assert!(
            (s - z).abs() < 1e-12 && (v - u).abs() < 1e-4,
            "{v} V against {u} V at {z}"
        );
    }
    let capacity_ah = chen["ocv"]["capacity_ah"]["negative"].as_f64().unwrap();
    close(cell.capacity.si() / 3600.0, capacity_ah, 1e-3);
}

/// Resistance 10 s into a pulse, from the catalogue's r0, r1, c1 at a place of the map.
fn ten_seconds_ohm(cell: &CellType, celsius: f64, soc: f64) -> f64 {
    let at = |map: &lampwright::build::parts::Map| {
        let find = |axis: &[f64], x: f64| axis.iter().position(|a| (a - x).abs() < 1e-6).unwrap();
        map.value[find(&map.temperature_k, celsius + 273.15)][find(&map.soc, soc)]
    };
    let (r0, r1) = (at(&cell.r0), at(&cell.rc[0].resistance));
    r0 + r1 * (1.0 - (-10.0 / (r1 * cell.rc[0].capacitance.si())).exp())
}

/// The DFN pulses of `reference/chen2020.json`, 5 A. They hold the slope of the open-circuit voltage too, which the
/// catalogue's pair does not: up to 2 mΩ at 10 %.
#[test]
fn resistance_of_the_21700_is_that_of_the_model_when_warm_and_no_lower_in_the_cold() {
    let (cell, chen) = (cell("21700-nmc811-5ah"), chen());
    let pulse = |set: &str, celsius: f64, soc: f64| {
        let rows = chen["pulses"][set].as_array().unwrap();
        let row = rows
            .iter()
            .find(|r| r["t_c"].as_f64() == Some(celsius) && r["soc"].as_f64() == Some(soc));
        row.unwrap()["r_ohm"]["10"].as_f64().unwrap()
    };
    for soc in [0.1, 0.2, 0.5] {
        close(
            ten_seconds_ohm(&cell, 25.0, soc),
            pulse("Chen2020/DFN", 25.0, soc),
            0.07,
        );
        // In the cold Chen2020 is too low, as its note says; the catalogue stays above both sets, but not wildly.
        let cold = ten_seconds_ohm(&cell, 0.0, soc);
        for set in ["Chen2020/DFN", "OKane2022/DFN"] {
            let ratio = cold / pulse(set, 0.0, soc);
            assert!((0.95..1.45).contains(&ratio), "{set} {soc}: {ratio}");
        }
    }
}

/// Energy into the cold: each cell's resistance falls with temperature and its voltage rises with charge.
#[test]
fn every_cell_is_worse_in_the_cold() {
    for id in [
        "21700-nmc811-5ah",
        "21700-nmc811-5ah-oregan",
        "18650-nca-2-5ah",
        "26650-lfp-2-3ah",
        "pouch-lco-2-2ah",
    ] {
        let map = cell(id).r0;
        for pair in map.value.windows(2) {
            assert!(
                pair[0].iter().zip(&pair[1]).all(|(cold, warm)| cold > warm),
                "{id}"
            );
        }
    }
}

/// ASTM B258 diameter d = 0.127 mm · 92^((36−n)/39), annealed copper 17.241 Ω·mm²/km (IEC 60028): the chart's stranded
/// wires lie within 12 % of the solid formula.
#[test]
fn awg_wires_lie_near_the_standard() {
    for (gauge, kind) in [
        (18, "silicone"),
        (20, "ptfe"),
        (22, "ptfe"),
        (24, "ptfe"),
        (26, "ptfe"),
        (28, "ptfe"),
        (30, "ptfe"),
        (28, "enamel"),
        (32, "enamel"),
    ] {
        let WireSize::Gauge {
            gauge: size,
            per_length,
            ..
        } = wire(&format!("wire-{gauge}awg-{kind}")).size
        else {
            panic!("a gauge")
        };
        assert_eq!(size, Gauge::Awg(gauge));
        let d_mm = 0.127 * 92f64.powf(f64::from(36 - gauge) / 39.0);
        let ohm_per_m = 17.241e-3 / (std::f64::consts::PI / 4.0 * d_mm * d_mm);
        close(
            per_length.unwrap().si(),
            ohm_per_m,
            if kind == "enamel" { 1e-3 } else { 0.12 },
        );
    }
}

/// IEC 60228, class 5, highest resistance at 20 °C, Ω/km: plain, tinned.
#[test]
fn metric_wires_are_at_the_limit_of_the_standard() {
    for (size, plain, tinned) in [
        ("0-5", 39.0, 40.1),
        ("0-75", 26.0, 26.7),
        ("1", 19.5, 20.0),
        ("1-5", 13.3, 13.7),
        ("2-5", 7.98, 8.21),
    ] {
        for (kind, limit) in [("pvc", plain), ("silicone", tinned)] {
            let WireSize::Gauge { per_length, .. } = wire(&format!("wire-{size}mm2-{kind}")).size
            else {
                panic!("a gauge")
            };
            let per_length = per_length.unwrap();
            close(per_length.high.si(), limit * 1e-3, 1e-9);
        }
    }
}

/// MF-MSMF data sheet, thermal derating chart: 1.10 A at 23 °C, 0.80 A at 60 °C.
#[test]
fn resettable_fuses_derate_as_printed() {
    let fuse = fuse("fuse-resettable-1-1a");
    close(
        fuse.hold_at(333.15).unwrap() / fuse.hold.si(),
        0.80 / 1.10,
        1e-9,
    );
    close(fuse.trip.as_ref().unwrap().si(), 2.2, 1e-9);
    assert_eq!(fuse.hold_at(373.15), None, "the chart ends at 85 °C");
}

/// DW01A: 150 ± 30 mV; FS8205A: at most 37 mΩ each at 2.5 V drive. Trip current = level / (2 × on-resistance).
#[test]
fn protection_trips_where_its_sheets_say() {
    let p = protection("protection-dw01a-fs8205a");
    close(p.trip.si(), 0.150 / p.resistance.si(), 1e-3);
    close(p.trip.low.si(), 0.120 / (2.0 * 0.037), 5e-3);
    close(p.trip.high.si(), 0.180 / p.resistance.low.si(), 1e-3);
    close(p.resistance.high.si(), 2.0 * 0.037, 1e-9);
}

/// Bench, blog.dest-unreach.be "Specs of the SK6812 LED strip": 16.11 mA white; RGBW together 38.9 mA, 3 % below the
/// sum; 0.23 mA dark; no visible dimming at 3.4 V; 6.2 mΩ between neighbours at 60 a metre.
#[test]
fn sk6812rgbw_draws_what_a_bench_measured() {
    let p = pixel("sk6812rgbw");
    let sum: f64 = (0..4).map(|c| channel_a(&p, c, 5.0)).sum();
    close(sum, 38.9e-3, 0.05);
    close(p.dark.si(), 70e-3 / 300.0, 0.02);
    close(channel_a(&p, 3, 3.4), 16.11e-3, 1e-6);
    assert!(channel_a(&p, 3, 3.37) < 16.11e-3);
    let s = strip("strip-sk6812rgbw-60", 60);
    close(s.rail_plus.si() + s.rail_minus.si(), 6.2e-3, 1e-9);
    close(s.pitch.unwrap().si(), 1.0 / 60.0, 1e-3);
}

/// Bench, floriansto/wordclock: 33.25 mA a pixel of full white above base. Bench, lowpowerlab.com: 28.8 mA at 3.3 V.
#[test]
fn ws2812b_draws_what_two_benches_measured() {
    let p = pixel("ws2812b");
    let white = |v: f64| (0..3).map(|c| channel_a(&p, c, v)).sum::<f64>();
    close(white(5.0), 33.25e-3, 0.015);
    close(white(3.3) + p.dark.si(), 28.8e-3, 0.01);
    // 14 pixels of full white: 465.5 mA.
    close(14.0 * white(5.0), 465.5e-3, 0.015);
}

/// SK9822-EC20 Rev 05: 18 mA · n/31, printed 5.229 mA at level 9.
#[test]
fn sk9822_at_level_nine() {
    close(
        channel_a(&pixel("sk9822-ec20-level9"), 0, 5.0),
        5.229e-3,
        1e-3,
    );
    close(channel_a(&pixel("sk9822-ec20"), 0, 5.0), 18e-3, 1e-9);
}

/// One-wire bits of all types last 1.2 to 1.3 µs (data sheets: 1.25 µs ± 600 ns and less), so 144 RGB pixels take 4.1 to
/// 4.7 ms with their reset.
#[test]
fn frames_take_as_long_as_the_sheets_say() {
    for id in [
        "ws2812b",
        "ws2812-2020",
        "ws2813a",
        "sk6812mini",
        "sk6812-2020-5ma",
    ] {
        let p = pixel(id);
        let seconds = 144.0 * p.seconds_per_pixel().unwrap() + p.reset_seconds();
        assert!((4.1e-3..4.75e-3).contains(&seconds), "{id}: {seconds}");
    }
    let p = pixel("sk6812rgbw");
    let seconds = 144.0 * p.seconds_per_pixel().unwrap() + p.reset_seconds();
    close(seconds, 5.84e-3, 0.05);
}
