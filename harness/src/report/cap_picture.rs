//! Pictures of caps, levers and sweeps.

use super::picture::{Bar, BarChart, BarOrder, Cell, HeatMap, Tone};
use crate::study::levers::Lever;
use crate::study::map::ConditionMap;
use crate::study::sweep::summary::Outcome;

const CAUTION: &str = "Computed from data sheets and the drawing, not measured: measure your prop before you trust it.";

fn tool() -> String {
    format!("lampwright {}", env!("CARGO_PKG_VERSION"))
}

/// The cap over state of charge and temperature.
pub fn map_picture(prop: &str, preset: &str, map: &ConditionMap) -> HeatMap {
    HeatMap {
        title: "Highest safe cap over state of charge and temperature".to_owned(),
        subtitle: format!("{prop}, {preset}; below each cap what binds it; empty where a check fails at any cap; beside each temperature from which charge down it is limited"),
        value_name: "Cap, 1..255".to_owned(),
        decimals: 0,
        x_name: "state of charge in %".to_owned(),
        x_labels: map.soc.iter().map(|s| format!("{:.0}", s * 100.0)).collect(),
        y_name: "temperature in °C".to_owned(),
        y_labels: map.celsius.iter().zip(&map.limited_from_soc).map(row_label).collect(),
        cells: map
            .caps
            .iter()
            .map(|row| {
                row.iter()
                    .map(|c| Cell {
                        value: c.cap.map(f64::from),
                        note: c.binding.clone().unwrap_or_default(),
                    })
                    .collect()
            })
            .collect(),
        mark_below: None,
        caution: CAUTION.to_owned(),
        conditions: format!(
            "{} cell, unfavourable end of each tolerance; by a digest of the trace, good to a step or two",
            if map.aged { "aged" } else { "new" }
        ),
        tool: tool(),
    }
}

/// A row's temperature, and from which state of charge down the preset is limited there.
fn row_label((celsius, limited): (&f64, &Option<f64>)) -> String {
    let celsius = format!("{celsius:.0}").replace('-', "−");
    match limited {
        Some(soc) => format!("{celsius} · limited from {:.0} %", soc * 100.0),
        None => format!("{celsius} · not limited"),
    }
}

/// What changes of the prop would give.
pub fn levers_picture(prop: &str, preset: &str, levers: &[Lever]) -> BarChart {
    BarChart {
        title: "What would raise the cap".to_owned(),
        subtitle: format!("{prop}, {preset}: steps of cap gained by each change alone"),
        value_name: "gain of cap".to_owned(),
        unit: String::new(),
        decimals: 0,
        bars: levers
            .iter()
            .map(|l| Bar {
                name: l.change.clone(),
                value: Some(f64::from(l.gain)),
                detail: match (&l.mends[..], &l.binding) {
                    ([], Some(b)) => format!("then {b}"),
                    ([], None) => "then unbound".to_owned(),
                    (mends, _) => format!("mends {}", mends.join(", ")),
                },
                tone: Tone::Good,
            })
            .collect(),
        order: BarOrder::Given,
        caution: CAUTION.to_owned(),
        conditions: "worst of the cautious conditions".to_owned(),
        tool: tool(),
    }
}

/// The margin that 95 % of the drawn props have, check by check.
pub fn sweep_picture(prop: &str, preset: &str, samples: u64, outcomes: &[Outcome]) -> BarChart {
    let bar = |o: &Outcome| Bar {
        name: o.check.clone(),
        value: o.margin_95.map(|m| m * 100.0),
        detail: format!(
            "fails in {:.2} % ({:.2} to {:.2} %)",
            o.probability * 100.0,
            o.probability_low * 100.0,
            o.probability_high * 100.0
        ),
        tone: match o.margin_95 {
            Some(m) if m < 0.0 => Tone::Bad,
            Some(m) if m < 0.1 => Tone::Tight,
            Some(_) => Tone::Good,
            None => Tone::Neutral,
        },
    };
    BarChart {
        title: "Margin that 95 % of the props have at least".to_owned(),
        subtitle: format!("{prop}, {preset}: {samples} props drawn from the tolerances"),
        value_name: "margin as a share of the limit".to_owned(),
        unit: "%".to_owned(),
        decimals: 1,
        bars: outcomes.iter().filter(|o| o.check != "any").map(bar).collect(),
        order: BarOrder::Ascending,
        caution: CAUTION.to_owned(),
        conditions: "state of charge and temperature drawn too; shares of failing props with their 95 % interval".to_owned(),
        tool: tool(),
    }
}
