//! Names of the nets: what wires and splices alone join.

use super::chains::{region, Region};
use crate::build::netlist::Pin;
use crate::build::prop::Prop;
use crate::build::supply::{spot, Spot, Supply};
use std::collections::BTreeMap;

/// The name of each wire's net: `+1`, `+2` ... on the supply side, `−1` ... on the return side, `S1` ... for signals,
/// counted in the order of the wires in the file.
pub(crate) fn net_names(prop: &Prop, supply: &Supply) -> Vec<String> {
    let mut group: BTreeMap<Spot, usize> = BTreeMap::new();
    for (i, wire) in prop.wires.iter().enumerate() {
        let (a, b) = (spot(&wire.from), spot(&wire.to));
        let known: Vec<usize> = [a, b]
            .iter()
            .filter_map(|s| group.get(s).copied())
            .collect();
        let id = known.first().copied().unwrap_or(i);
        for value in group.values_mut() {
            if known.contains(value) {
                *value = id;
            }
        }
        group.insert(a, id);
        group.insert(b, id);
    }
    let mut counts = [0usize; 3];
    let mut names: BTreeMap<usize, String> = BTreeMap::new();
    let mut out = Vec::new();
    for wire in &prop.wires {
        let at = spot(&wire.from);
        let id = group.get(&at).copied().unwrap_or(0);
        let name = names.entry(id).or_insert_with(|| {
            let (slot, letter) = match region(supply, at) {
                Region::Top => (0, "+"),
                Region::Bottom => (1, "−"),
                Region::Signal => (2, "S"),
            };
            counts[slot] += 1;
            format!("{letter}{}", counts[slot])
        });
        out.push(name.clone());
    }
    out
}

/// A pin's name in the drawing.
pub(crate) fn pin_name(pin: Pin, pixels: u32) -> String {
    let place = |n: u32| {
        if n == 0 {
            String::new()
        } else if n + 1 == pixels {
            " end".to_owned()
        } else {
            format!(" @{n}")
        }
    };
    match pin {
        Pin::Plus => "+".into(),
        Pin::Minus => "−".into(),
        Pin::A(_) => "a".into(),
        Pin::B(_) => "b".into(),
        Pin::Supply => "supply".into(),
        Pin::Ground => "ground".into(),
        Pin::Rail => "rail".into(),
        Pin::Input => "button".into(),
        Pin::Data(n) => format!("data{n}"),
        Pin::Clock(n) => format!("clock{n}"),
        Pin::RailPlus(n) => format!("+{}", place(n)),
        Pin::RailMinus(n) => format!("−{}", place(n)),
        Pin::DataIn => "in".into(),
        Pin::DataOut => "out".into(),
        Pin::ClockIn => "clk in".into(),
        Pin::ClockOut => "clk out".into(),
        Pin::Joint => String::new(),
    }
}
