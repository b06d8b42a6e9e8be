//! The picture of `light`: how uneven each row looks over the distance of the diffusing layer.

use super::light::{LightReport, StripRows};
use super::picture::{BandSeries, Limit, LineChart};
use crate::study::diffuser::{unevenness, Row, JUST_SEEN};

/// Curves that can be told apart in print.
const MOST: usize = 6;
/// Points of a curve.
const POINTS: u32 = 120;
/// Longest distance that is drawn, in pitches of the widest row.
const REACH: f64 = 1.2;

/// Unevenness of every strip as drawn, and of the first with more pixels; `None` where no strip states a pitch.
pub fn light_picture(report: &LightReport) -> Option<LineChart> {
    let rows = |s: &StripRows, most: usize| -> Vec<(String, Row)> {
        let name = |k: usize| match k {
            0 => s.strip.clone(),
            _ => format!("{} with {} times the pixels", s.strip, k + 1),
        };
        let rows = s.rows.iter().flatten().take(most).enumerate();
        rows.map(|(k, row)| (name(k), row.clone())).collect()
    };
    let first = report.strips.first()?;
    let mut shown = rows(first, 3);
    shown.extend(report.strips.iter().skip(1).flat_map(|s| rows(s, 1)));
    shown.truncate(MOST);
    let widest = shown.iter().map(|(_, r)| r.pitch_m).fold(0.0, f64::max);
    if widest <= 0.0 {
        return None;
    }
    let curve = |(name, row): &(String, Row)| BandSeries {
        name: name.clone(),
        detail: format!(
            "{:.1} mm apart, {:.2} A/m",
            row.pitch_m * 1e3,
            row.white_a_per_m
        ),
        points: (1..=POINTS)
            .map(|k| REACH * widest * f64::from(k) / f64::from(POINTS))
            .map(|h| (h * 1e3, unevenness(row.pitch_m, &[h]) * 100.0))
            .collect(),
        band: Vec::new(),
    };
    Some(LineChart {
        title: "Dots behind a diffusing layer".to_owned(),
        subtitle: format!(
            "{}, cap {}: contrast of the lightest and the darkest place, by how far away the layer is; rows of one strip give the same light; beside each its current in full white",
            report.prop, report.cap
        ),
        x_name: "distance from the pixels to one layer in mm".to_owned(),
        y_name: "unevenness".to_owned(),
        y_unit: "%".to_owned(),
        from_zero: true,
        series: shown.iter().map(curve).collect(),
        limits: vec![Limit::new("just no longer seen", JUST_SEEN * 100.0)],
        caution: "Real layers pass some light unscattered and tubes are curved: hold a sample over a lit strip. Do not look into bare pixels."
            .to_owned(),
        conditions: "endless row of small Lambertian sources, perfectly diffusing layer".to_owned(),
        tool: format!("lampwright {}", env!("CARGO_PKG_VERSION")),
    })
}
