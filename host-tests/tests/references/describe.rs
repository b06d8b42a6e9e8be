//! Builds networks from the descriptions that the netlists for ngspice are written from as well.

use lampwright::electrical::{
    Channel, Feed, LoadLaw, Network, NetworkBuilder, PixelType, Rail, Ramp, StripDrive, StripSpec,
};
use serde_json::Value;

pub(crate) fn number(v: &Value) -> f64 {
    v.as_f64().unwrap_or_else(|| panic!("{v} is no number"))
}

pub(crate) fn text(v: &Value) -> &str {
    v.as_str().unwrap_or_else(|| panic!("{v} is no text"))
}

pub(crate) fn list(v: &Value) -> &[Value] {
    v.as_array().unwrap_or_else(|| panic!("{v} is no list"))
}

pub(crate) fn floats(v: &Value) -> Vec<f64> {
    list(v).iter().map(number).collect()
}

/// The cases of a file of `reference/`, of which there must be some.
pub(crate) fn cases(name: &str, least: usize) -> Vec<Value> {
    let cases = list(&crate::circuits::reference(name)["cases"]).to_vec();
    assert!(cases.len() >= least, "{name} lost cases");
    cases
}

/// Cells, wires (without open switches), loads and strips, in the order of the description.
pub(crate) fn network(case: &Value) -> Network {
    let mut b = Network::builder();
    for (k, c) in list(&case["cells"]).iter().enumerate() {
        let (pos, neg) = (b.node(text(&c["pos"])), b.node(text(&c["neg"])));
        b.source(
            &format!("cell{k}"),
            pos,
            neg,
            number(&c["emf_v"]),
            number(&c["ohm"]),
        );
    }
    for (k, w) in list(&case["wires"]).iter().enumerate() {
        if w["open"] == false {
            let (from, to) = (b.node(text(&w["a"])), b.node(text(&w["b"])));
            b.resistor(&format!("wire{k}"), from, to, number(&w["ohm"]));
        }
    }
    for (k, l) in list(&case["loads"]).iter().enumerate() {
        let (pos, neg) = (b.node(text(&l["pos"])), b.node(text(&l["neg"])));
        let (law, amount) = match text(&l["law"]) {
            "current" => {
                let full_v = number(&l["full_v"]);
                (LoadLaw::ConstantCurrent { full_v }, number(&l["amp"]))
            }
            "power" => {
                let min_v = number(&l["min_v"]);
                (LoadLaw::ConstantPower { min_v }, number(&l["watt"]))
            }
            other => panic!("unknown law {other}"),
        };
        b.load(&format!("load{k}"), pos, neg, law, amount);
    }
    for (k, s) in list(&case["strips"]).iter().enumerate() {
        strip(&mut b, k, s);
    }
    b.build().unwrap_or_else(|e| panic!("{}: {e}", case["id"]))
}

fn strip(b: &mut NetworkBuilder, k: usize, s: &Value) {
    let feeds = list(&s["feeds"]).iter().map(|f| Feed {
        rail: match text(&f["rail"]) {
            "pos" => Rail::Positive,
            _ => Rail::Negative,
        },
        pixel: f["pixel"].as_u64().unwrap() as usize,
        node: b.node(text(&f["node"])),
        ohm: number(&f["ohm"]),
    });
    let spec = StripSpec {
        name: format!("strip{k}"),
        law: pixel(&s["pixel"]),
        pixels: s["pixels"].as_u64().unwrap() as usize,
        rail_pos_ohm: number(&s["rail_pos_ohm"]),
        rail_neg_ohm: number(&s["rail_neg_ohm"]),
        feeds: feeds.collect(),
    };
    b.strip(spec);
}

fn pixel(law: &Value) -> PixelType {
    let ramp = |v: &Value| Ramp {
        off_v: number(&v["off_v"]),
        full_v: number(&v["full_v"]),
    };
    let channels: Vec<Channel> = list(&law["channels"])
        .iter()
        .map(|c| Channel {
            full_a: number(&c["full_a"]),
            ramp: ramp(c),
        })
        .collect();
    PixelType::new(&channels, number(&law["dark"]["a"]), ramp(&law["dark"])).unwrap()
}

/// Drive levels of each strip.
pub(crate) fn levels(case: &Value) -> Vec<Vec<u8>> {
    list(&case["strips"])
        .iter()
        .map(|s| {
            let level = |v: &Value| u8::try_from(v.as_u64().unwrap()).unwrap();
            list(&s["levels"]).iter().map(level).collect()
        })
        .collect()
}

pub(crate) fn drives(levels: &[Vec<u8>]) -> Vec<StripDrive<'_>> {
    levels.iter().map(|l| StripDrive::Levels(l)).collect()
}
