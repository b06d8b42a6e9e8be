//! Minimum and maximum of a long series in equal slices of time, gathered as the values come.
//!
//! A trace of an hour has 216,000 frames and a picture about a thousand columns. Each column keeps its lowest
//! and its highest value with their times, so no peak is lost and memory does not grow with the trace. Where
//! there is at most one value a column, the values are kept as they are.

/// Columns of an envelope unless told otherwise: about two for each px of plot width.
const DEFAULT_COLUMNS: usize = 2000;

/// A value at a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Time, s.
    pub t_s: f64,
    /// Value in the series' base unit.
    pub value: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Column {
    low: Sample,
    high: Sample,
    /// A value was missing between the column before and this one.
    after_gap: bool,
}

/// The lowest and highest values of a series in equal slices of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Envelope {
    start_s: f64,
    end_s: f64,
    columns: Vec<Option<Column>>,
    pending_gap: bool,
    last_t_s: Option<f64>,
    shortest_step_s: Option<f64>,
}

impl Envelope {
    /// An empty envelope of `start_s..=end_s` with `columns` slices (at least one). Ends that are not
    /// finite or not ascending give one slice that takes everything.
    pub fn with_columns(start_s: f64, end_s: f64, columns: usize) -> Self {
        Self {
            start_s,
            end_s,
            columns: vec![None; columns.max(1)],
            pending_gap: false,
            last_t_s: None,
            shortest_step_s: None,
        }
    }

    /// An empty envelope of `0..=duration_s`, fine enough for any picture here.
    pub fn new(duration_s: f64) -> Self {
        Self::with_columns(0.0, duration_s, DEFAULT_COLUMNS)
    }

    /// Adds a value; call in the order of time. A value that is not finite is missing and leaves a gap;
    /// a time that is not finite is taken as missing too. Times outside the range count to its end slices.
    pub fn push(&mut self, t_s: f64, value: f64) {
        if !t_s.is_finite() {
            self.pending_gap = true;
            return;
        }
        if let Some(last) = self.last_t_s {
            let step = t_s - last;
            if step > 0.0 && self.shortest_step_s.is_none_or(|shortest| step < shortest) {
                self.shortest_step_s = Some(step);
            }
        }
        self.last_t_s = Some(t_s);
        if !value.is_finite() {
            self.pending_gap = true;
            return;
        }
        self.keep(Sample { t_s, value });
    }

    fn keep(&mut self, sample: Sample) {
        let index = self.column_of(sample.t_s);
        let Some(slot) = self.columns.get_mut(index) else {
            return;
        };
        match slot {
            Some(column) => {
                if sample.value < column.low.value {
                    column.low = sample;
                }
                if sample.value > column.high.value {
                    column.high = sample;
                }
            }
            None => {
                *slot = Some(Column {
                    low: sample,
                    high: sample,
                    after_gap: self.pending_gap,
                });
                self.pending_gap = false;
            }
        }
    }

    fn column_of(&self, t_s: f64) -> usize {
        let share = (t_s - self.start_s) / (self.end_s - self.start_s);
        if !share.is_finite() {
            return 0;
        }
        // A negative share saturates to 0.
        ((share * self.columns.len() as f64) as usize).min(self.columns.len() - 1)
    }

    /// The kept values in order of time, in runs without a gap.
    pub fn runs(&self) -> Vec<Vec<Sample>> {
        let mut runs: Vec<Vec<Sample>> = Vec::new();
        for column in self.columns.iter().flatten() {
            let (first, second) = if column.low.t_s <= column.high.t_s {
                (column.low, column.high)
            } else {
                (column.high, column.low)
            };
            let fresh = column.after_gap || runs.is_empty();
            if fresh {
                runs.push(Vec::new());
            }
            if let Some(run) = runs.last_mut() {
                run.push(first);
                if second != first {
                    run.push(second);
                }
            }
        }
        runs
    }

    /// The same series in `columns` slices.
    pub fn resampled(&self, columns: usize) -> Self {
        let mut out = Self::with_columns(self.start_s, self.end_s, columns);
        for run in self.runs() {
            for sample in run {
                out.keep(sample);
            }
            out.pending_gap = true;
        }
        out.shortest_step_s = self.shortest_step_s;
        out.last_t_s = self.last_t_s;
        out
    }

    /// The first lowest value, if there is any value.
    pub fn lowest(&self) -> Option<Sample> {
        let columns = self.columns.iter().flatten().map(|column| column.low);
        columns.reduce(|best, next| if next.value < best.value { next } else { best })
    }

    /// The first highest value, if there is any value.
    pub fn highest(&self) -> Option<Sample> {
        let columns = self.columns.iter().flatten().map(|column| column.high);
        columns.reduce(|best, next| if next.value > best.value { next } else { best })
    }

    /// The value last kept, by time.
    pub fn last(&self) -> Option<Sample> {
        let column = self.columns.iter().flatten().next_back()?;
        Some(if column.low.t_s > column.high.t_s {
            column.low
        } else {
            column.high
        })
    }

    /// The shortest time between two values pushed one after the other (missing ones included), s.
    pub fn step_s(&self) -> Option<f64> {
        self.shortest_step_s
    }

    /// Start and end of the range, s.
    pub fn range_s(&self) -> (f64, f64) {
        (self.start_s, self.end_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn envelope(values: &[f64], columns: usize) -> Envelope {
        let mut out = Envelope::with_columns(0.0, values.len() as f64, columns);
        for (i, &value) in values.iter().enumerate() {
            out.push(i as f64, value);
        }
        out
    }

    #[test]
    fn few_values_are_kept_as_they_are() {
        let runs = envelope(&[1.0, 3.0, 2.0], 100).runs();
        let values: Vec<f64> = runs.iter().flatten().map(|s| s.value).collect();
        assert_eq!(values, [1.0, 3.0, 2.0]);
    }

    #[test]
    fn a_missing_value_breaks_the_run_and_is_never_a_zero() {
        let runs = envelope(&[5.0, 5.0, f64::NAN, 5.0, f64::INFINITY, 5.0], 6).runs();
        assert_eq!(runs.iter().map(Vec::len).collect::<Vec<_>>(), [2, 1, 1]);
        assert!(runs.iter().flatten().all(|s| s.value == 5.0));
        assert_eq!(envelope(&[f64::NAN; 4], 6).highest(), None);
    }

    #[test]
    fn a_gap_inside_one_column_still_shows_at_the_next() {
        let runs = envelope(&[1.0, f64::NAN, 1.0, 1.0, 1.0, 1.0], 2).runs();
        assert_eq!(runs.len(), 2);
    }

    #[test]
    fn times_outside_and_broken_ranges_do_not_lose_values() {
        let mut odd = Envelope::with_columns(0.0, f64::NAN, 0);
        odd.push(-5.0, 1.0);
        odd.push(1e300, 9.0);
        odd.push(f64::NAN, 100.0);
        assert_eq!(odd.highest().map(|s| s.value), Some(9.0));
        assert_eq!(odd.lowest().map(|s| s.value), Some(1.0));
    }

    proptest! {
        #[test]
        fn every_column_keeps_its_extremes_in_two_values(
            values in prop::collection::vec(
                prop_oneof![9 => -100.0..100.0f64, 1 => Just(f64::NAN)], 1..2000),
            columns in 1usize..200,
        ) {
            let envelope = envelope(&values, columns);
            let kept: Vec<Sample> = envelope.runs().concat();
            prop_assert!(kept.len() <= 2 * columns);
            prop_assert!(kept.windows(2).all(|w| w[0].t_s <= w[1].t_s));
            // Against the plain definition: the least and greatest of the values of each slice.
            for column in 0..columns {
                let inside = |t: f64| {
                    ((t / values.len() as f64 * columns as f64) as usize).min(columns - 1) == column
                };
                let slice = || values.iter().enumerate()
                    .filter(|(i, v)| inside(*i as f64) && v.is_finite()).map(|(_, v)| *v);
                let mine = || kept.iter().filter(|s| inside(s.t_s)).map(|s| s.value);
                prop_assert_eq!(slice().reduce(f64::min), mine().reduce(f64::min));
                prop_assert_eq!(slice().reduce(f64::max), mine().reduce(f64::max));
            }
            // Drawing coarser afterwards loses no extreme either.
            let coarse = envelope.resampled(columns.div_ceil(2));
            prop_assert_eq!(coarse.highest().map(|s| s.value), envelope.highest().map(|s| s.value));
            prop_assert_eq!(coarse.lowest().map(|s| s.value), envelope.lowest().map(|s| s.value));
        }
    }
}
