//! Residuals before and after calibration.

use super::calibrate::CalibrateReport;
use super::picture::{BandSeries, LineChart};
use crate::study::calibrate::{Agreement, Pair};

/// Points that a curve is drawn with at most; each stands for the readings of its piece of time.
const MOST_POINTS: usize = 600;

/// Readings less predictions over the play, with the stated and with the fitted values: of the first current
/// that was logged, else of the first voltage.
pub fn residual_picture(report: &CalibrateReport) -> Option<LineChart> {
    let agreements = &report.calibration.agreements;
    let current = agreements.iter().find(|a| a.quantity == "current");
    let a = current.or_else(|| agreements.first())?;
    let series = |name: &str, of: &dyn Fn(&Pair) -> f64, spread: f64| BandSeries {
        name: name.to_owned(),
        detail: format!("spread {:.3} m{}", spread * 1e3, a.unit),
        ..curve(a, of)
    };
    Some(LineChart {
        title: format!("What the model leaves over of the {}", a.quantity),
        subtitle: format!(
            "{}, log {}: readings less predictions; line: mean, band: lowest to highest of each piece of time",
            report.prop,
            a.log + 1
        ),
        x_name: "time in the play in s".to_owned(),
        y_name: "measured − predicted".to_owned(),
        y_unit: format!("m{}", a.unit),
        from_zero: false,
        series: vec![
            series("fitted values", &|p| p.measured - p.after, a.whole.after.spread),
            series("stated values", &|p| p.measured - p.before, a.whole.before.spread),
        ],
        limits: Vec::new(),
        caution: "Holds for the prop, the cell and the temperature on this bench; the checks keep their own margins."
            .to_owned(),
        conditions: report.bench.clone(),
        tool: format!("lampwright {}", env!("CARGO_PKG_VERSION")),
    })
}

/// A curve of means with the range around it, in thousandths.
fn curve(a: &Agreement, of: &dyn Fn(&Pair) -> f64) -> BandSeries {
    let size = a.pairs.len().div_ceil(MOST_POINTS).max(1);
    let mut out = BandSeries::default();
    for piece in a.pairs.chunks(size) {
        let n = piece.len() as f64;
        let time = piece.iter().map(|p| p.time_s).sum::<f64>() / n;
        let values = || piece.iter().map(|p| of(p) * 1e3);
        out.points.push((time, values().sum::<f64>() / n));
        if size > 1 {
            let low = values().fold(f64::INFINITY, f64::min);
            let high = values().fold(f64::NEG_INFINITY, f64::max);
            out.band.push((time, low, high));
        }
    }
    out
}
