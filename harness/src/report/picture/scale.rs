//! Value to pixel, ticks at 1-2-5 steps, ticks of time, unit prefixes, and numbers as text.

/// Most ticks an axis ever gets, whatever is asked for.
const MOST_TICKS: usize = 60;

/// A linear scale from values to pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    from: (f64, f64),
    to: (f64, f64),
}

impl Scale {
    /// Maps `from.0` to `to.0` and `from.1` to `to.1`. A span of nothing is widened, so that every value has
    /// a place.
    pub fn new(from: (f64, f64), to: (f64, f64)) -> Self {
        Self {
            from: widened(from.0, from.1),
            to,
        }
    }

    /// The pixel of `value`; not finite when `value` is not.
    pub fn at(&self, value: f64) -> f64 {
        let share = (value - self.from.0) / (self.from.1 - self.from.0);
        self.to.0 + share * (self.to.1 - self.to.0)
    }

    /// The pixel of `value`, kept inside the scale's own range.
    pub fn at_clamped(&self, value: f64) -> f64 {
        let (low, high) = (self.to.0.min(self.to.1), self.to.0.max(self.to.1));
        self.at(value).clamp(low, high)
    }

    /// The values at both ends.
    pub fn domain(&self) -> (f64, f64) {
        self.from
    }
}

/// Ticks of an axis: where they are, what they say, and the unit of what they say.
#[derive(Debug, Clone, PartialEq)]
pub struct Ticks {
    /// Positions in the axis's own unit, ascending.
    pub values: Vec<f64>,
    /// One label a position.
    pub labels: Vec<String>,
    /// Decimals of the labels.
    pub decimals: usize,
    /// What the labels are counted in (empty for plain numbers).
    pub unit: &'static str,
}

/// A range that is finite, ascending and not empty.
fn widened(low: f64, high: f64) -> (f64, f64) {
    if !(low.is_finite() && high.is_finite()) {
        return (0.0, 1.0);
    }
    let (low, high) = (low.min(high), low.max(high));
    if high - low > (low.abs() + high.abs()) * 1e-12 {
        return (low, high);
    }
    if low == 0.0 {
        return (0.0, 1.0);
    }
    let half = low.abs() * 0.1;
    (low - half, high + half)
}

/// The smallest of 1, 2, 5 times a power of ten that is not below `raw`, with the power.
fn nice_step(raw: f64) -> (f64, i32) {
    let power = raw.log10().floor() as i32;
    let base = 10f64.powi(power);
    for factor in [1.0, 2.0, 5.0] {
        if factor * base >= raw * (1.0 - 1e-9) {
            return (factor * base, power);
        }
    }
    (10.0 * base, power + 1)
}

/// At most about `target` ticks at 1-2-5 steps within `low..=high`.
pub fn nice_ticks(low: f64, high: f64, target: usize) -> Ticks {
    let (low, high) = widened(low, high);
    let (step, power) = nice_step((high - low) / target.clamp(1, MOST_TICKS) as f64);
    let decimals = usize::try_from(-power).unwrap_or(0).min(12);
    let values = multiples(step, low, high);
    let labels = values.iter().map(|&v| number(v, decimals)).collect();
    Ticks {
        values,
        labels,
        decimals,
        unit: "",
    }
}

/// Whole multiples of `step` within the range, a rounding error beyond its ends included.
fn multiples(step: f64, low: f64, high: f64) -> Vec<f64> {
    let first = (low / step - 1e-9).ceil();
    let last = (high / step + 1e-9).floor();
    (0..=MOST_TICKS)
        .map(|i| first + i as f64)
        .take_while(|&k| k <= last)
        .map(|k| k * step)
        .collect()
}

/// The range widened to whole tick steps.
pub(crate) fn nice_domain(low: f64, high: f64, target: usize) -> (f64, f64) {
    let (low, high) = widened(low, high);
    let (step, _) = nice_step((high - low) / target.clamp(1, MOST_TICKS) as f64);
    (
        (low / step + 1e-9).floor() * step,
        (high / step - 1e-9).ceil() * step,
    )
}

/// Steps of a time axis from one second up, in seconds.
const TIME_STEPS_S: [f64; 16] = [
    1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1200.0, 1800.0, 3600.0, 7200.0,
    21_600.0, 86_400.0,
];

/// Ticks of a time axis from 0 to `duration_s`, at most about `target` of them: in seconds up to two minutes,
/// then as minutes:seconds, from two hours as hours:minutes.
pub fn time_ticks(duration_s: f64, target: usize) -> Ticks {
    let (_, end) = widened(0.0, duration_s.max(0.0));
    let raw = end / target.clamp(1, MOST_TICKS) as f64;
    if raw <= 1.0 {
        return Ticks {
            unit: "s",
            ..nice_ticks(0.0, end, target)
        };
    }
    let step = TIME_STEPS_S
        .into_iter()
        .find(|&step| step >= raw)
        .unwrap_or_else(|| nice_step(raw / 86_400.0).0 * 86_400.0);
    let values = multiples(step, 0.0, end);
    let style = TimeStyle::of(end);
    let labels = values.iter().map(|&t| style.write(t, 0)).collect();
    Ticks {
        values,
        labels,
        decimals: 0,
        unit: style.unit(),
    }
}

/// How times within a given duration are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum TimeStyle {
    /// Up to two minutes.
    Seconds,
    /// Up to two hours.
    MinutesSeconds,
    /// Beyond.
    HoursMinutes,
}

impl TimeStyle {
    /// The style for a picture that lasts `duration_s`.
    pub(crate) fn of(duration_s: f64) -> Self {
        if duration_s <= 120.0 {
            Self::Seconds
        } else if duration_s <= 7200.0 {
            Self::MinutesSeconds
        } else {
            Self::HoursMinutes
        }
    }

    /// What the axis counts in.
    pub(crate) fn unit(self) -> &'static str {
        match self {
            Self::Seconds => "s",
            Self::MinutesSeconds => "min:s",
            Self::HoursMinutes => "h:min",
        }
    }

    /// `t_s` without its unit; `decimals` apply to seconds only.
    pub(crate) fn write(self, t_s: f64, decimals: usize) -> String {
        let whole = t_s.max(0.0).round();
        match self {
            Self::Seconds => number(t_s, decimals),
            Self::MinutesSeconds => format!("{:.0}:{:02.0}", (whole / 60.0).floor(), whole % 60.0),
            Self::HoursMinutes => {
                let minutes = (t_s.max(0.0) / 60.0).floor();
                format!("{:.0}:{:02.0}", (minutes / 60.0).floor(), minutes % 60.0)
            }
        }
    }

    /// `t_s` with its unit, as used in running text.
    pub(crate) fn say(self, t_s: f64, decimals: usize) -> String {
        match self {
            Self::Seconds => format!("{} s", self.write(t_s, decimals)),
            Self::MinutesSeconds => format!("{} min", self.write(t_s, decimals)),
            Self::HoursMinutes => format!("{} h", self.write(t_s, decimals)),
        }
    }
}

/// `value` with fixed decimals and a true minus sign; never "−0".
pub(crate) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|ch| matches!(ch, '0' | '.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// The factor and prefix that bring `largest` (in a base unit such as A or V) to a readable size.
pub(crate) fn prefix(largest: f64) -> (f64, &'static str) {
    let size = largest.abs();
    if !size.is_finite() || size == 0.0 || size >= 0.3 {
        (1.0, "")
    } else if size >= 0.3e-3 {
        (1e3, "m")
    } else {
        (1e6, "µ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_whole_multiples_of_1_2_or_5() {
        assert_eq!(nice_ticks(0.0, 3.1, 5).labels, ["0", "1", "2", "3"]);
        assert_eq!(
            nice_ticks(2.9, 4.2, 6).labels,
            ["3.0", "3.5", "4.0"],
            "a step of 0.5 is the finest with at most about six ticks"
        );
        assert_eq!(
            nice_ticks(-0.2, 0.2, 4).labels,
            ["−0.2", "−0.1", "0.0", "0.1", "0.2"]
        );
        assert_eq!(
            nice_ticks(0.0, 1000.0, 5).labels,
            ["0", "200", "400", "600", "800", "1000"]
        );
    }

    #[test]
    fn odd_ranges_still_give_ticks() {
        for (low, high) in [
            (0.0, 0.0),
            (4.1, 4.1),
            (f64::NAN, 1.0),
            (f64::NEG_INFINITY, f64::INFINITY),
            (3.0, 1.0),
            (1e15, 1e15 + 1.0),
            (-5e-9, 7e-9),
        ] {
            let ticks = nice_ticks(low, high, 5);
            assert!(!ticks.values.is_empty(), "{low}..{high}");
            assert!(ticks.values.len() <= MOST_TICKS + 1);
            assert!(ticks.values.iter().all(|v| v.is_finite()));
        }
    }

    #[test]
    fn time_is_written_in_the_unit_of_its_length() {
        assert_eq!(
            time_ticks(2.0, 4).labels,
            ["0.0", "0.5", "1.0", "1.5", "2.0"]
        );
        let five_minutes = time_ticks(300.0, 10);
        assert_eq!(five_minutes.unit, "min:s");
        assert_eq!(five_minutes.labels[..3], ["0:00", "0:30", "1:00"]);
        let long = time_ticks(4.0 * 3600.0, 8);
        assert_eq!(long.unit, "h:min");
        assert_eq!(long.labels[1], "0:30");
        assert_eq!(time_ticks(0.0, 8).unit, "s");
        assert_eq!(TimeStyle::of(300.0).say(83.4, 1), "1:23 min");
        assert_eq!(TimeStyle::of(300.0).write(59.6, 0), "1:00");
    }

    #[test]
    fn prefixes_keep_numbers_readable() {
        assert_eq!(prefix(2.5), (1.0, ""));
        assert_eq!(prefix(0.02), (1e3, "m"));
        assert_eq!(prefix(20e-6), (1e6, "µ"));
        assert_eq!(prefix(0.0), (1.0, ""));
    }

    #[test]
    fn minus_zero_is_zero() {
        assert_eq!(number(-0.001, 2), "0.00");
        assert_eq!(number(-1.5, 1), "−1.5");
    }

    #[test]
    fn a_scale_maps_its_ends_and_survives_an_empty_span() {
        let scale = Scale::new((0.0, 10.0), (100.0, 0.0));
        assert!((scale.at(2.5) - 75.0).abs() < 1e-12);
        assert!((scale.at_clamped(99.0) - 0.0).abs() < 1e-12);
        assert!(Scale::new((3.0, 3.0), (0.0, 100.0)).at(3.0).is_finite());
        assert!(scale.at(f64::NAN).is_nan());
    }
}
