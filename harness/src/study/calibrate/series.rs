//! A measured quantity cut into pieces of time, and what a prediction reads over the same pieces.
//!
//! A log that is finer than the frames is averaged over pieces as long as a frame; one that is coarser keeps its
//! samples, each taken as the mean over its interval, which is how integrating meters work (common practice).

use crate::build::measured::Measured;

/// A piece of time over which a reading holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// Middle of the piece on the meter's clock, seconds.
    pub time_s: f64,
    /// Length of the piece, seconds: that of its samples.
    pub width_s: f64,
    /// Mean reading.
    pub value: f64,
    /// Samples in it.
    pub samples: u32,
}

/// A measured quantity over time.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Series {
    /// The pieces, in order of time; those without a reading are left out.
    pub pieces: Vec<Piece>,
    /// Usual length of a piece, seconds.
    pub width_s: f64,
}

impl Series {
    /// Cuts a quantity of a log into pieces for frames of `period_s`.
    pub fn of(log: &Measured, values: &[f64], period_s: f64) -> Self {
        if log.interval_s >= 0.75 * period_s {
            let pieces = log.time_s.iter().zip(values);
            return Self {
                pieces: pieces
                    .filter(|(_, v)| v.is_finite())
                    .map(|(t, v)| Piece {
                        time_s: *t,
                        width_s: log.interval_s,
                        value: *v,
                        samples: 1,
                    })
                    .collect(),
                width_s: log.interval_s.max(period_s),
            };
        }
        let usual = period_s / log.interval_s;
        let mut pieces = Vec::new();
        let mut at = 0_u64;
        let mut open = Open::default();
        for (t, v) in log.time_s.iter().zip(values) {
            // A hair more, so that a time on a boundary is on its right side whatever its rounding.
            let bin = (t / period_s + 1e-6) as u64;
            if bin != at {
                pieces.extend(open.close(log.interval_s, usual));
                at = bin;
            }
            if v.is_finite() {
                open.take(*t, *v);
            }
        }
        pieces.extend(open.close(log.interval_s, usual));
        Self {
            pieces,
            width_s: period_s,
        }
    }
}

/// The samples of a piece that is not complete yet.
#[derive(Debug, Clone, Copy, Default)]
struct Open {
    sum: f64,
    count: u32,
    first_s: f64,
    last_s: f64,
}

impl Open {
    fn take(&mut self, time_s: f64, value: f64) {
        if self.count == 0 {
            self.first_s = time_s;
        }
        self.last_s = time_s;
        self.sum += value;
        self.count += 1;
    }

    /// The piece, unless half of its `usual` number of samples is missing or one within it is; begins anew.
    fn close(&mut self, interval_s: f64, usual: f64) -> Option<Piece> {
        let done = std::mem::take(self);
        let count = f64::from(done.count);
        let width_s = done.last_s - done.first_s + interval_s;
        let whole = (width_s / (count * interval_s) - 1.0).abs() < 0.1;
        (count >= 0.5 * usual && count > 0.0 && whole).then(|| Piece {
            time_s: (done.first_s + done.last_s) / 2.0,
            width_s,
            value: done.sum / count,
            samples: done.count,
        })
    }
}

/// A prediction that can be averaged over any piece of time: one value a frame, summed up.
#[derive(Debug, Clone, PartialEq)]
pub struct Summed {
    sums: Vec<f64>,
    values: Vec<f64>,
    period_s: f64,
}

impl Summed {
    /// Sums up values of frames of `period_s`.
    pub fn of(values: &[f64], period_s: f64) -> Self {
        let mut sums = Vec::with_capacity(values.len() + 1);
        let mut sum = 0.0;
        sums.push(sum);
        for v in values {
            sum += v * period_s;
            sums.push(sum);
        }
        Self {
            sums,
            values: values.to_vec(),
            period_s,
        }
    }

    /// Length of the prediction, seconds.
    pub fn length_s(&self) -> f64 {
        self.values.len() as f64 * self.period_s
    }

    /// The integral from the start to a time, held at its ends.
    fn until(&self, time_s: f64) -> f64 {
        let at = (time_s / self.period_s).clamp(0.0, self.values.len() as f64);
        let k = (at as usize).min(self.values.len().saturating_sub(1));
        let (sum, value) = (self.sums.get(k), self.values.get(k));
        match (sum, value) {
            (Some(s), Some(v)) => s + v * (at - k as f64) * self.period_s,
            _ => 0.0,
        }
    }

    /// The mean over a piece of time around `middle_s`.
    pub fn mean(&self, middle_s: f64, width_s: f64) -> f64 {
        (self.until(middle_s + width_s / 2.0) - self.until(middle_s - width_s / 2.0)) / width_s
    }

    /// By how much the mean changes when the piece moves later, per second.
    pub fn slope(&self, middle_s: f64, width_s: f64) -> f64 {
        let value = |t: f64| {
            let k = (t / self.period_s).floor();
            if k < 0.0 {
                return 0.0;
            }
            self.values.get(k as usize).copied().unwrap_or(0.0)
        };
        (value(middle_s + width_s / 2.0) - value(middle_s - width_s / 2.0)) / width_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mean_over_parts_of_frames() {
        let s = Summed::of(&[1.0, 3.0, 5.0], 0.5);
        assert_eq!(s.length_s(), 1.5);
        assert!((s.mean(0.25, 0.5) - 1.0).abs() < 1e-12);
        // Half of the first frame, half of the second.
        assert!((s.mean(0.5, 0.5) - 2.0).abs() < 1e-12);
        assert!((s.mean(0.75, 1.5) - 3.0).abs() < 1e-12);
        // Moving later by 0.1 s takes 0.1 s of 1 away and adds 0.1 s of 3, over 0.5 s.
        let moved = s.mean(0.6, 0.5) - s.mean(0.5, 0.5);
        assert!((moved / 0.1 - s.slope(0.55, 0.5)).abs() < 1e-9);
    }

    #[test]
    fn fine_logs_are_averaged_and_coarse_ones_kept() {
        let log = |interval: f64, n: usize| Measured {
            time_s: (0..n).map(|k| k as f64 * interval).collect(),
            current_a: (0..n).map(|k| (k as f64 * interval).floor()).collect(),
            interval_s: interval,
            ..Measured::default()
        };
        let fine = log(0.1, 100);
        let s = Series::of(&fine, &fine.current_a, 1.0);
        assert_eq!(s.width_s, 1.0);
        assert!(s.pieces.iter().all(|p| p.samples >= 9));
        let coarse = log(2.0, 10);
        let s = Series::of(&coarse, &coarse.current_a, 1.0);
        assert_eq!((s.pieces.len(), s.width_s), (10, 2.0));
    }
}
