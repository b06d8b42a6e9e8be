//! The cut list: every wire with its cut length, and totals for each gauge.

use crate::build::parts::{Wire, WireSize};
use crate::build::prop::Prop;
use crate::units::{Gauge, Quantity};
use serde::Serialize;

/// What is added to a path for stripping and soldering where the build file states no slack, metres: common practice.
pub const SLACK_M: f64 = 0.010;
/// How far an end is stripped where the build file does not say, metres: common practice for 20 AWG to 30 AWG.
pub const STRIP_M: f64 = 0.004;

/// A wire to cut.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cut {
    /// Its label on the drawing.
    pub wire: String,
    /// One end.
    pub from: String,
    /// The other end.
    pub to: String,
    /// Gauge in words.
    pub gauge: String,
    /// Insulation colour.
    pub colour: Option<String>,
    /// Routed path, metres.
    pub path_m: f64,
    /// What is added to it, metres.
    pub slack_m: f64,
    /// Whether the build file states the slack.
    pub slack_stated: bool,
    /// Length to cut, metres.
    pub cut_m: f64,
    /// How far each end is stripped, metres.
    pub strip_m: f64,
    /// Insulation material.
    pub insulation: Option<String>,
    /// Temperature class of the insulation, °C.
    pub insulation_max_c: Option<f64>,
}

/// All the wire of one gauge.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Total {
    /// Gauge in words.
    pub gauge: String,
    /// Insulation material.
    pub insulation: Option<String>,
    /// Number of wires.
    pub wires: usize,
    /// Length to cut in all, metres.
    pub cut_m: f64,
}

/// The cut list of a prop.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CutList {
    /// Every wire that is cut, in file order.
    pub cuts: Vec<Cut>,
    /// Totals, thickest first.
    pub totals: Vec<Total>,
    /// Names of connections that are given by their resistance and so have no length.
    pub without_length: Vec<String>,
}

/// Makes the cut list.
pub fn cut_list(prop: &Prop) -> CutList {
    let mut cuts = Vec::new();
    let mut without_length = Vec::new();
    let mut totals: Vec<(f64, Total)> = Vec::new();
    for wire in &prop.wires {
        let WireSize::Gauge { gauge, length, .. } = &wire.size else {
            without_length.push(wire.name.clone());
            continue;
        };
        let cut = cut(wire, *gauge, length.si());
        match totals
            .iter_mut()
            .find(|(_, t)| t.gauge == cut.gauge && t.insulation == cut.insulation)
        {
            Some((_, total)) => {
                total.wires += 1;
                total.cut_m += cut.cut_m;
            }
            None => totals.push((
                area_mm2(*gauge),
                Total {
                    gauge: cut.gauge.clone(),
                    insulation: cut.insulation.clone(),
                    wires: 1,
                    cut_m: cut.cut_m,
                },
            )),
        }
        cuts.push(cut);
    }
    totals.sort_by(|a, b| b.0.total_cmp(&a.0));
    CutList {
        cuts,
        totals: totals.into_iter().map(|(_, t)| t).collect(),
        without_length,
    }
}

fn cut(wire: &Wire, gauge: Gauge, path_m: f64) -> Cut {
    let slack_m = wire.slack.map_or(SLACK_M, |s| s.si());
    Cut {
        wire: wire.name.clone(),
        from: wire.from.text.clone(),
        to: wire.to.text.clone(),
        gauge: gauge_words(gauge),
        colour: wire.colour.clone(),
        path_m,
        slack_m,
        slack_stated: wire.slack.is_some(),
        cut_m: path_m + slack_m,
        strip_m: wire.strip_length.map_or(STRIP_M, |s| s.si()),
        insulation: wire.insulation.clone(),
        insulation_max_c: wire.insulation_max.as_ref().map(|t| t.si() - 273.15),
    }
}

fn area_mm2(gauge: Gauge) -> f64 {
    match gauge {
        Gauge::Awg(n) => crate::electrical::wire::awg_area_mm2(n),
        Gauge::Metric(area) => area.si() * 1e6,
    }
}

/// A gauge in words.
pub fn gauge_words(gauge: Gauge) -> String {
    match gauge {
        Gauge::Awg(n) => format!("{n} AWG"),
        Gauge::Metric(area) => {
            let text = format!("{:.3}", area.si() * 1e6);
            format!("{} mm²", text.trim_end_matches('0').trim_end_matches('.'))
        }
    }
}
