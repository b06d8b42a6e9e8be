//! When the play began on the meter's clock: normalised cross-correlation of the two curves, gaps left out.
//!
//! The correlation with gaps masked is that of Padfield, "Masked object registration in the Fourier domain",
//! IEEE Transactions on Image Processing 21 (2012), in one dimension; formula from memory.

use super::series::{Series, Summed};
use realfft::num_complex::Complex;
use realfft::RealFftPlanner;

/// Most points that are correlated; a longer log is thinned.
const MOST_POINTS: f64 = 1_048_576.0;
/// Share of the shorter curve that must overlap.
const OVERLAP: f64 = 0.5;
/// A second peak this near to the first, in correlation, makes the lag doubtful.
const RIVAL: f64 = 0.005;

/// Where the curves fit best.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Alignment {
    /// When the play began on the meter's clock, seconds since the log's first sample; negative where the
    /// log began later.
    pub lag_s: f64,
    /// The correlation there, −1..1.
    pub correlation: f64,
    /// Another lag at which the curves fit nearly as well.
    pub rival_s: Option<f64>,
}

/// Finds the lag between a measured and a predicted curve; `None` where either does not change.
pub(super) fn align(measured: &Series, predicted: &Summed) -> Option<Alignment> {
    let end = measured.pieces.last()?.time_s;
    let longest = end.max(predicted.length_s());
    let step = measured.width_s.max(longest / MOST_POINTS);
    let (m, m_there) = on_grid(measured, step, end);
    let count = (predicted.length_s() / step) as usize;
    if count < 4 || m.len() < 4 {
        return None;
    }
    let p: Vec<f64> = (0..count)
        .map(|k| predicted.mean((k as f64 + 0.5) * step, step))
        .collect();
    let p_there = vec![1.0; count];
    let scores = correlate(&m, &m_there, &p, &p_there)?;
    let offset = count as f64 - 1.0;
    let best = scores
        .iter()
        .enumerate()
        .filter(|(_, s)| s.is_finite())
        .max_by(|a, b| a.1.total_cmp(b.1))?;
    let near = |k: usize| scores.get(k).copied().filter(|s| s.is_finite());
    let (left, right) = (best.0.checked_sub(1).and_then(near), near(best.0 + 1));
    // The vertex of the parabola through the peak and its neighbours.
    let between = match (left, right) {
        (Some(l), Some(r)) if (l - 2.0 * best.1 + r) < 0.0 => {
            (0.5 * (l - r) / (l - 2.0 * best.1 + r)).clamp(-0.5, 0.5)
        }
        _ => 0.0,
    };
    let rival = rival(&scores, best.0, *best.1).map(|k| (k as f64 - offset) * step);
    Some(Alignment {
        lag_s: (best.0 as f64 + between - offset) * step,
        correlation: *best.1,
        rival_s: rival,
    })
}

/// The highest peak beyond the valley on either side of the best, if it comes near.
fn rival(scores: &[f64], best: usize, top: f64) -> Option<usize> {
    let falls = |k: usize| {
        scores
            .get(k)
            .is_some_and(|s| s.is_finite() && *s > top - 0.05)
    };
    let mut low = best;
    while low > 0 && falls(low - 1) {
        low -= 1;
    }
    let mut high = best;
    while falls(high + 1) {
        high += 1;
    }
    scores
        .iter()
        .enumerate()
        .filter(|(k, s)| (*k < low || *k > high) && s.is_finite() && **s > top - RIVAL)
        .max_by(|a, b| a.1.total_cmp(b.1))
        .map(|(k, _)| k)
}

/// A series on an even grid, with 1 where there is a reading and 0 where not.
fn on_grid(series: &Series, step: f64, end: f64) -> (Vec<f64>, Vec<f64>) {
    let count = (end / step) as usize + 1;
    let (mut sum, mut there) = (vec![0.0; count], vec![0.0; count]);
    for piece in &series.pieces {
        let k = (piece.time_s / step) as usize;
        if let (Some(s), Some(t)) = (sum.get_mut(k), there.get_mut(k)) {
            *s += piece.value;
            *t += 1.0;
        }
    }
    for (s, t) in sum.iter_mut().zip(&mut there) {
        if *t > 0.0 {
            *s /= *t;
            *t = 1.0;
        }
    }
    (sum, there)
}

/// Correlation for every shift of `p` against `m`, from −(len(p) − 1) on; not a number where too little overlaps.
fn correlate(m: &[f64], m_there: &[f64], p: &[f64], p_there: &[f64]) -> Option<Vec<f64>> {
    let shifts = m.len() + p.len() - 1;
    let size = shifts.next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let forward = planner.plan_fft_forward(size);
    let backward = planner.plan_fft_inverse(size);
    // Means are taken off first, so that small differences of large sums keep their digits.
    let mean = |v: &[f64], there: &[f64]| {
        v.iter().zip(there).map(|(v, t)| v * t).sum::<f64>() / there.iter().sum::<f64>().max(1.0)
    };
    let (m_mean, p_mean) = (mean(m, m_there), mean(p, p_there));
    let centred = |v: &[f64], there: &[f64], mean: f64| -> Vec<f64> {
        v.iter().zip(there).map(|(v, t)| (v - mean) * t).collect()
    };
    let (m, p) = (centred(m, m_there, m_mean), centred(p, p_there, p_mean));
    let squared = |v: &[f64]| v.iter().map(|x| x * x).collect::<Vec<f64>>();
    let spectrum = |values: &[f64], turned: bool| -> Option<Vec<Complex<f64>>> {
        let mut input = vec![0.0; size];
        for (slot, v) in input.iter_mut().zip(values) {
            *slot = *v;
        }
        if turned {
            if let Some(used) = input.get_mut(..values.len()) {
                used.reverse();
            }
        }
        let mut out = forward.make_output_vec();
        forward.process(&mut input, &mut out).ok()?;
        Some(out)
    };
    let (fm, fm2, fmt) = (
        spectrum(&m, false)?,
        spectrum(&squared(&m), false)?,
        spectrum(m_there, false)?,
    );
    let (fp, fp2, fpt) = (
        spectrum(&p, true)?,
        spectrum(&squared(&p), true)?,
        spectrum(p_there, true)?,
    );
    let product = |a: &[Complex<f64>], b: &[Complex<f64>]| -> Option<Vec<f64>> {
        let mut both: Vec<Complex<f64>> = a.iter().zip(b).map(|(a, b)| a * b).collect();
        // The ends of a real spectrum are real; rounding must not say otherwise.
        let last = both.len() - 1;
        for k in [0, last] {
            if let Some(c) = both.get_mut(k) {
                c.im = 0.0;
            }
        }
        let mut out = backward.make_output_vec();
        backward.process(&mut both, &mut out).ok()?;
        for v in &mut out {
            *v /= size as f64;
        }
        Some(out)
    };
    let n = product(&fmt, &fpt)?;
    let mp = product(&fm, &fp)?;
    let (sm, sm2) = (product(&fm, &fpt)?, product(&fm2, &fpt)?);
    let (sp, sp2) = (product(&fmt, &fp)?, product(&fmt, &fp2)?);
    let needed = OVERLAP * (m_there.iter().sum::<f64>()).min(p.len() as f64);
    let whole = |v: &[f64]| v.iter().map(|x| x * x).sum::<f64>();
    // What stands still but for rounding does not change.
    let still = |v: &[f64], mean: f64| whole(v) <= 1e-18 * mean * mean * v.len() as f64;
    if still(&m, m_mean) || still(&p, p_mean) {
        return None;
    }
    let (m_least, p_least) = (1e-9 * whole(&m), 1e-9 * whole(&p));
    let get = |v: &[f64], k: usize| v.get(k).copied().unwrap_or(0.0);
    let score = |k: usize| {
        let count = get(&n, k).round();
        if count < needed.max(4.0) {
            return f64::NAN;
        }
        let vm = get(&sm2, k) - get(&sm, k).powi(2) / count;
        let vp = get(&sp2, k) - get(&sp, k).powi(2) / count;
        if vm <= m_least || vp <= p_least {
            return f64::NAN;
        }
        (get(&mp, k) - get(&sm, k) * get(&sp, k) / count) / (vm * vp).sqrt()
    };
    Some((0..shifts).map(score).collect())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::series::Piece;
    use super::*;

    fn signal(t: f64) -> f64 {
        // Aperiodic: three tones that do not fit together.
        1.0 + (t * 1.3).sin() + 0.7 * (t * 2.9 + 1.0).sin() + 0.4 * (t * 0.37).cos()
    }

    fn log(lag_s: f64, from_s: f64, to_s: f64, gap: bool) -> Series {
        let width_s = 0.05;
        let count = ((to_s - from_s) / width_s) as usize;
        let pieces = (0..count).map(|k| from_s + (k as f64 + 0.5) * width_s);
        Series {
            pieces: pieces
                .filter(|t| !gap || !(20.0..24.0).contains(t))
                .map(|t| Piece {
                    time_s: t - from_s,
                    width_s,
                    // Another zero and gain, as meters have.
                    value: 0.3 + 1.7 * signal(t - lag_s),
                    samples: 1,
                })
                .collect(),
            width_s,
        }
    }

    #[test]
    fn lags_of_any_sign_are_found_to_a_part_of_a_frame() {
        let frames: Vec<f64> = (0..3000)
            .map(|k| signal((f64::from(k) + 0.5) * 0.02))
            .collect();
        let predicted = Summed::of(&frames, 0.02);
        for lag in [-12.34, -0.013, 0.0, 0.021, 3.777] {
            for gap in [false, true] {
                // A log that begins with the play, and one that begins 5 s later.
                for from in [0.0, 5.0] {
                    let a = align(&log(lag, from, 55.0, gap), &predicted).unwrap();
                    assert!(
                        (a.lag_s - (lag - from)).abs() < 0.01,
                        "{lag} {from} {gap}: {a:?}"
                    );
                    assert!(a.correlation > 0.99 && a.rival_s.is_none(), "{a:?}");
                }
            }
        }
    }

    #[test]
    fn a_periodic_curve_is_doubtful_and_a_flat_one_has_no_lag() {
        let wave = |t: f64| (t * std::f64::consts::TAU / 2.0).sin();
        let frames: Vec<f64> = (0..3000)
            .map(|k| wave((f64::from(k) + 0.5) * 0.02))
            .collect();
        let predicted = Summed::of(&frames, 0.02);
        let pieces = (0..800).map(|k| (k as f64 + 0.5) * 0.05);
        let mut series = Series {
            pieces: pieces
                .map(|t| Piece {
                    time_s: t,
                    width_s: 0.05,
                    value: wave(t),
                    samples: 1,
                })
                .collect(),
            width_s: 0.05,
        };
        assert!(align(&series, &predicted).unwrap().rival_s.is_some());
        for p in &mut series.pieces {
            p.value = 2.0;
        }
        assert_eq!(align(&series, &predicted), None);
    }
}
