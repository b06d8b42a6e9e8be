//! `wire-current`: each wire against the current its gauge may carry.
//!
//! A wire that is given by its resistance alone has no gauge, and where it has no length either it is no wire but two
//! parts that touch: the contact that they make is a part of its own and is checked as one.

use super::carried::{branches_of, Carried};
use super::tube_heat::TubeHeats;
use super::Check;
use crate::build::parts::{Wire, WireSize};
use crate::electrical::heat::wire::wire_temperature_k;
use crate::electrical::wire::{awg_diameter_mm, Conductor};
use crate::profile::circuit::{BranchKind, Subject};
use crate::profile::figures::Figures;
use crate::study::ampacity::{ampacity_a, AMPACITY_SOURCE};
use crate::study::verdict::CheckResult;
use crate::units::{Gauge, Quantity, Temperature};

const ID: &str = "wire-current";
const PROTECTS: &str = "each wire's insulation from heat";
/// Thin insulated wires warm within tens of seconds; ten is cautious for 22 AWG and thicker (from memory).
const TAU_S: f64 = 10.0;

/// A wire of a known gauge.
struct Rated {
    limit_a: f64,
    diameter_m: f64,
    ohm_per_m: f64,
    tube: Option<usize>,
}

/// Each wire with what it may carry, where its gauge is known.
struct WireCurrent {
    wires: Vec<(Carried, Option<Rated>)>,
    heats: Option<TubeHeats>,
    surroundings_k: f64,
}

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let wires = branches_of(subject, BranchKind::Wire).filter_map(|(branch, info)| {
        let wire = subject.prop.wires.get(info.index)?;
        let touching = matches!(&wire.size, WireSize::Resistance(r) if r.high_si() == 0.0);
        let carried = Carried::new(branch, &wire.name, TAU_S);
        (!touching).then(|| (carried, rated(subject, wire)))
    });
    Box::new(WireCurrent {
        wires: wires.collect(),
        heats: TubeHeats::new(subject),
        surroundings_k: subject.circuit.condition.temperature_k,
    })
}

fn rated(subject: Subject<'_>, wire: &Wire) -> Option<Rated> {
    let WireSize::Gauge {
        gauge, per_length, ..
    } = &wire.size
    else {
        return None;
    };
    let (diameter_mm, by_gauge) = match gauge {
        Gauge::Awg(n) => (awg_diameter_mm(*n), Conductor::Awg(*n).ohm_per_m_20c()),
        Gauge::Metric(area) => {
            let mm2 = area.si() * 1e6;
            let diameter = (4.0 * mm2 / std::f64::consts::PI).sqrt();
            (diameter, Conductor::Class5Mm2(mm2).ohm_per_m_20c())
        }
    };
    // The half of a wire that lies in the warmer tube is not known: the tube of its first end counts.
    let tube = subject.prop.tube_of(wire.from.part);
    Some(Rated {
        limit_a: ampacity_a(*gauge, wire.insulation_max.as_ref().map(|t| t.si())),
        diameter_m: diameter_mm / 1e3,
        ohm_per_m: per_length.as_ref().map_or(by_gauge, |r| r.high_si()),
        tube,
    })
}

impl Check for WireCurrent {
    fn observe(&mut self, figures: &Figures) {
        for (carried, _) in &mut self.wires {
            carried.observe(figures);
        }
        if let Some(heats) = &mut self.heats {
            heats.observe(figures);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        let bores_k = self.heats.as_ref().map(TubeHeats::bores_k);
        let bores_k = bores_k.unwrap_or_default();
        let each = self.wires.iter();
        each.filter_map(|(carried, rated)| self.result(carried, rated.as_ref(), &bores_k))
            .collect()
    }
}

impl WireCurrent {
    fn result(
        &self,
        carried: &Carried,
        rated: Option<&Rated>,
        bores_k: &[f64],
    ) -> Option<CheckResult> {
        let Some(rated) = rated else {
            let why = "the wire is given by its resistance, so its gauge is not known";
            return Some(carried.without_limit(ID, PROTECTS, why));
        };
        let mut why =
            "RMS current over ten seconds against the bundled-wire rating of its gauge".to_owned();
        if let Some((celsius, rise_k)) = self.celsius(rated, carried.most_a()?, bores_k) {
            why.push_str(&format!(
                "; alone in still air it would reach about {celsius:.0} °C (estimate within a fifth of its rise of {rise_k:.1} K; hotter in a bundle or in foam)"
            ));
        }
        let judged = carried.judge(ID, PROTECTS, rated.limit_a)?;
        Some(judged.source(AMPACITY_SOURCE).why(why))
    }

    /// Temperature of the wire with that current for ever, in its tube where one is known, and its rise above what
    /// is around it.
    fn celsius(&self, wire: &Rated, rms_a: f64, bores_k: &[f64]) -> Option<(f64, f64)> {
        let heats = self.heats.as_ref();
        let bore_m = heats.zip(wire.tube).and_then(|(h, t)| h.bore_m(t));
        let bore_k = wire.tube.and_then(|tube| bores_k.get(tube));
        let around_k = bore_k.copied().unwrap_or(self.surroundings_k);
        rms_a.is_finite().then(|| {
            let kelvin =
                wire_temperature_k(wire.diameter_m, wire.ohm_per_m, rms_a, around_k, bore_m);
            (kelvin - Temperature::OFFSET, kelvin - around_k)
        })
    }
}
