//! Single faults of a build: an open joint, a poor joint, pads that touch, a dead pixel, a reversed strip.

use super::OPEN_OHM;
use crate::build::netlist::{Pin, Terminal};
use crate::build::parts::{Wire, WireSize};
use crate::build::prop::{PartKind, Prop};
use crate::build::rated::Rated;
use crate::build::supply::{spot, Spot};
use crate::profile::condition::Condition;
use crate::profile::laws::wire_ohm;
use crate::units::{Quantity, Resistance};
use std::collections::BTreeSet;

/// Resistance of a poor joint, ohms.
pub const POOR_OHM: f64 = 0.3;
/// Resistance of a solder bridge, ohms.
const BRIDGE_OHM: f64 = 0.02;
/// What a reversed strip amounts to on a supply: its chips conduct backwards (from memory), ohms.
const REVERSED_OHM: f64 = 0.3;

/// Something that went wrong at the bench.
#[derive(Debug, Clone, PartialEq)]
pub enum Fault {
    /// A wire that makes no contact at one of its ends.
    Open(usize),
    /// A wire with a poor joint at one of its ends.
    Poor(usize),
    /// Two pads of a part that touch.
    Bridge(Spot, Spot),
    /// A pixel of a strip that stays dark: part, number in the strip.
    DeadPixel(usize, u32),
    /// A strip whose supply is exchanged.
    Reversed(usize),
}

impl Fault {
    /// The fault in words.
    pub fn words(&self, prop: &Prop) -> String {
        let wire = |i: &usize| {
            prop.wires.get(*i).map_or_else(String::new, |w| {
                format!("{} ({} to {})", w.name, w.from, w.to)
            })
        };
        let part = |i: &usize| prop.parts.get(*i).map_or("?", |p| p.name.as_str());
        match self {
            Self::Open(i) => format!("open joint on wire {}", wire(i)),
            Self::Poor(i) => format!("high-resistance joint on wire {}", wire(i)),
            Self::Bridge(a, b) => format!(
                "short on {} between {} and {}",
                part(&a.0),
                pad(a.1),
                pad(b.1)
            ),
            Self::DeadPixel(i, _) => format!("dead pixel in {}", part(i)),
            Self::Reversed(i) => format!("{} reversed: plus and minus exchanged", part(i)),
        }
    }

    /// What to do about it.
    pub fn mend(&self) -> &'static str {
        match self {
            Self::Open(_) => "look at both ends of the wire; re-make the joint with fresh flux",
            Self::Poor(_) => "re-make both joints of the wire; a good joint is a few milliohms",
            Self::Bridge(..) => "wick the solder away between the two pads and clean the flux off",
            Self::DeadPixel(..) => "the first dark pixel, or the one before it, is dead: replace it; data beyond it may stop too",
            Self::Reversed(_) => "switch off at once, exchange the two supply wires; test the strip again, it may be damaged",
        }
    }
}

fn pad(pin: Pin) -> &'static str {
    match pin {
        Pin::Plus | Pin::RailPlus(_) | Pin::Supply => "plus",
        Pin::Minus | Pin::RailMinus(_) | Pin::Ground => "minus",
        Pin::DataIn => "data-in",
        Pin::DataOut => "data-out",
        _ => "data",
    }
}

/// Every single fault that is looked for.
pub fn all(prop: &Prop) -> Vec<Fault> {
    let mut out = Vec::new();
    for (i, wire) in prop.wires.iter().enumerate() {
        // A contact by touch has no joint.
        if matches!(wire.size, WireSize::Gauge { .. }) {
            out.push(Fault::Open(i));
            out.push(Fault::Poor(i));
        }
    }
    let wired: BTreeSet<Spot> = prop
        .wires
        .iter()
        .flat_map(|w| [spot(&w.from), spot(&w.to)])
        .collect();
    let mut bridge = |a: Spot, b: Spot| {
        if wired.contains(&a) && wired.contains(&b) {
            out.push(Fault::Bridge(a, b));
        }
    };
    for (i, part) in prop.parts.iter().enumerate() {
        match part.kind {
            PartKind::Strip(_) => {
                // Pads on a strip lie in the order plus, data, minus: neighbours touch.
                bridge((i, Pin::RailPlus(0)), (i, Pin::DataIn));
                bridge((i, Pin::RailMinus(0)), (i, Pin::DataIn));
                bridge((i, Pin::RailPlus(0)), (i, Pin::RailMinus(0)));
            }
            PartKind::Board(_) => {
                bridge((i, Pin::Supply), (i, Pin::Ground));
                bridge((i, Pin::Ground), (i, Pin::Data(1)));
                bridge((i, Pin::Data(1)), (i, Pin::Data(2)));
            }
            PartKind::Capacitor(_) => bridge((i, Pin::Plus), (i, Pin::Minus)),
            _ => {}
        }
    }
    for (i, strip) in prop.strips() {
        out.push(Fault::DeadPixel(i, strip.pixels / 2));
        out.push(Fault::Reversed(i));
    }
    out
}

/// A prop with a fault in it; and pixels that stay dark.
pub(super) fn with_fault(prop: &Prop, fault: &Fault) -> (Prop, Vec<(usize, u32)>) {
    let mut faulty = prop.clone();
    let mut dead = Vec::new();
    match fault {
        Fault::Open(i) => set_ohm(&mut faulty, *i, OPEN_OHM),
        Fault::Poor(i) => {
            let own = prop
                .wires
                .get(*i)
                .map_or(0.0, |w| wire_ohm(w, &Condition::nominal()));
            set_ohm(&mut faulty, *i, own + POOR_OHM);
        }
        Fault::Bridge(a, b) => add_wire(&mut faulty, *a, *b, BRIDGE_OHM),
        Fault::DeadPixel(part, pixel) => dead.push((*part, *pixel)),
        Fault::Reversed(part) => {
            for wire in &mut faulty.wires {
                for end in [&mut wire.from, &mut wire.to] {
                    if end.part == *part {
                        end.pin = match end.pin {
                            Pin::RailPlus(n) => Pin::RailMinus(n),
                            Pin::RailMinus(n) => Pin::RailPlus(n),
                            other => other,
                        };
                    }
                }
            }
        }
    }
    (faulty, dead)
}

/// The same on a supply, where a reversed strip conducts.
pub(super) fn on_supply(faulty: &Prop, fault: &Fault) -> Prop {
    let mut prop = faulty.clone();
    if let Fault::Reversed(part) = fault {
        let pins = |plus: bool| {
            faulty
                .wires
                .iter()
                .flat_map(|w| [&w.from, &w.to])
                .find_map(|t| match t.pin {
                    Pin::RailPlus(_) if plus && t.part == *part => Some(spot(t)),
                    Pin::RailMinus(_) if !plus && t.part == *part => Some(spot(t)),
                    _ => None,
                })
        };
        if let (Some(a), Some(b)) = (pins(true), pins(false)) {
            add_wire(&mut prop, a, b, REVERSED_OHM);
        }
    }
    prop
}

fn set_ohm(prop: &mut Prop, wire: usize, ohm: f64) {
    if let Some(wire) = prop.wires.get_mut(wire) {
        wire.size = WireSize::Resistance(Rated::exact(Resistance::from_si(ohm)));
    }
}

fn add_wire(prop: &mut Prop, a: Spot, b: Spot, ohm: f64) {
    let terminal = |s: Spot| Terminal {
        part: s.0,
        pin: s.1,
        text: String::new(),
    };
    let ohm = Resistance::from_si(ohm);
    prop.wires
        .push(Wire::of_resistance("bridge", terminal(a), terminal(b), ohm));
    if let Some(place) = prop.wire_places.last().cloned() {
        prop.wire_places.push(place);
    }
}
