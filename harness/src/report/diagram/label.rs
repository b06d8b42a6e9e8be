//! What is written beside wires and symbols.

use crate::build::netlist::Pin;
use crate::build::parts::WireSize;
use crate::build::prop::{PartKind, Prop};
use crate::report::picture::{shorten, width_px, Weight};
use crate::units::{Gauge, Quantity};

/// Letters of labels.
pub(crate) const SIZE: f64 = 10.0;
/// Distance of lines of text.
pub(crate) const LINE: f64 = 11.5;
/// Longest line beside a vertical wire.
const ROOM: f64 = 70.0;

/// The lines of a wire's label: name and net; gauge and length; colour; current.
pub(crate) fn wire_lines(
    prop: &Prop,
    index: usize,
    currents: &[Option<f64>],
    nets: &[String],
    narrow: bool,
) -> Vec<String> {
    let Some(wire) = prop.wires.get(index) else {
        return Vec::new();
    };
    let net = nets.get(index).map_or("", String::as_str);
    let mut lines = vec![format!("{} · {net}", wire.name)];
    match &wire.size {
        WireSize::Gauge { gauge, length, .. } => {
            let (gauge, length) = (gauge_text(*gauge), length_text(length.si()));
            if narrow {
                lines.push(gauge);
                lines.push(length);
            } else {
                lines.push(format!("{gauge} {length}"));
            }
        }
        WireSize::Resistance(r) => lines.push(format!("{} Ω", short(r.si()))),
    }
    if let Some(colour) = &wire.colour {
        if narrow && lines.len() > 2 {
            if let Some(last) = lines.last_mut() {
                *last = format!("{last} {colour}");
            }
        } else if let Some(first) = lines.first_mut() {
            *first = format!("{first} {colour}");
        }
    }
    if let Some(Some(amperes)) = currents.get(index) {
        let amperes = amperes.abs();
        lines.push(if amperes < 0.095 {
            format!("{:.0} mA", amperes * 1e3)
        } else {
            format!("{amperes:.2} A")
        });
    }
    lines
        .into_iter()
        .enumerate()
        .map(|(k, l)| shorten(&l, SIZE, weight(k), if narrow { ROOM } else { 150.0 }))
        .collect()
}

fn weight(line: usize) -> Weight {
    if line == 0 {
        Weight::SemiBold
    } else {
        Weight::Regular
    }
}

/// The width of lines of text.
pub(crate) fn lines_width(lines: &[String]) -> f64 {
    let widths = lines
        .iter()
        .enumerate()
        .map(|(k, l)| width_px(l, SIZE, weight(k)));
    widths.fold(0.0, f64::max)
}

/// Room that a wire needs in a row.
pub(crate) fn wire_width(
    prop: &Prop,
    index: usize,
    currents: &[Option<f64>],
    nets: &[String],
) -> f64 {
    lines_width(&wire_lines(prop, index, currents, nets, false)) + 12.0
}

/// Room that a two-ended part needs in a row.
pub(crate) fn element_width(prop: &Prop, part: usize, pin: Pin) -> f64 {
    (lines_width(&element_lines(prop, part, pin)) + 10.0).max(46.0)
}

/// Name and values of a two-ended part or a pole of a connector.
pub(crate) fn element_lines(prop: &Prop, part: usize, pin: Pin) -> Vec<String> {
    let Some(part) = prop.parts.get(part) else {
        return Vec::new();
    };
    let (name, value) = match &part.kind {
        PartKind::Connector { contact, poles } => {
            let n = match pin {
                Pin::A(n) | Pin::B(n) => n as usize,
                _ => 0,
            };
            let pole = poles.get(n).map_or("?", String::as_str);
            (format!("{}.{pole}", part.name), contact_value(contact))
        }
        PartKind::Switch(c) | PartKind::Contact(c) => (part.name.clone(), contact_value(c)),
        PartKind::Fuse(f) => (part.name.clone(), format!("{} A", short(f.hold.si()))),
        PartKind::Protection(p) => (part.name.clone(), format!("trips {} A", short(p.trip.si()))),
        PartKind::Resistor(r) => (part.name.clone(), format!("{} Ω", short(r.resistance.si()))),
        PartKind::Diode(d) => (part.name.clone(), format!("{} V", short(d.forward.si()))),
        _ => (part.name.clone(), String::new()),
    };
    [name, value]
        .into_iter()
        .filter(|l| !l.is_empty())
        .collect()
}

fn contact_value(contact: &crate::build::parts::Contact) -> String {
    match &contact.rating {
        Some(r) => format!("{} A", short(r.si())),
        None => format!("{} mΩ", short(contact.resistance.si() * 1e3)),
    }
}

/// Name and kind of a box.
pub(crate) fn box_lines(prop: &Prop, part: usize) -> Vec<String> {
    let Some(part) = prop.parts.get(part) else {
        return Vec::new();
    };
    let mut lines = vec![part.name.clone()];
    match &part.kind {
        PartKind::Cell(c) => {
            lines.push(format!("{} Ah", short(c.capacity.si() / 3600.0)));
            lines.extend(part.from.clone());
        }
        PartKind::Supply(s) => lines.push(format!("{} V", short(s.voltage.si()))),
        PartKind::Board(b) => lines.push(b.id.clone()),
        PartKind::Strip(s) => {
            lines.push(format!("{} × {}", s.pixels, s.pixel.id));
            let last = s.first + s.pixels.saturating_sub(1);
            if s.pixels > 1 {
                lines.push(format!("pixels {} to {last}", s.first));
            } else {
                lines.push(format!("pixel {last}"));
            }
        }
        PartKind::Capacitor(c) => lines.push(format!("{} µF", short(c.capacitance.si() * 1e6))),
        PartKind::Resistor(r) => lines.push(format!("{} Ω", short(r.resistance.si()))),
        _ => {}
    }
    if let (Some(from), PartKind::Board(_)) = (&part.from, &part.kind) {
        lines.truncate(1);
        lines.push(from.clone());
    }
    lines
}

/// A gauge as it is written on a drawing.
pub(crate) fn gauge_text(gauge: Gauge) -> String {
    match gauge {
        Gauge::Awg(n) => format!("{n} AWG"),
        Gauge::Metric(area) => format!("{} mm²", short(area.si() * 1e6)),
    }
}

/// A length in whole millimetres, or metres from ten on.
pub(crate) fn length_text(metres: f64) -> String {
    if metres >= 10.0 {
        format!("{} m", short(metres))
    } else {
        format!("{:.0} mm", metres * 1e3)
    }
}

/// Up to three significant digits.
pub(crate) fn short(v: f64) -> String {
    if v == 0.0 || !v.is_finite() {
        return "0".to_owned();
    }
    let digits = (2 - v.abs().log10().floor() as i32).clamp(0, 6) as usize;
    let text = format!("{v:.digits$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
