//! What is looked for along a strip in eight solved frames.

use super::strip::{Pixel, StripLanes};
use super::vector::{Lanes, LANES};

/// Extremes and sums of one strip in every lane.
#[derive(Debug, Clone)]
pub(super) struct Survey {
    pub(super) min_v: Lanes,
    /// The first pixel that has it.
    pub(super) min_at: Lanes,
    /// Currents of the pixels before the first break, between breaks, and after the last one, without
    /// those at the breaks.
    pub(super) between_a: Vec<Lanes>,
}

impl Survey {
    pub(super) fn new(breaks: usize) -> Self {
        Self {
            min_v: Lanes::ZERO,
            min_at: Lanes::ZERO,
            between_a: vec![Lanes::ZERO; breaks + 1],
        }
    }

    #[inline(always)]
    pub(super) fn take(&mut self, strip: &StripLanes) {
        self.min_v = Lanes::splat(f64::INFINITY);
        self.min_at = Lanes::ZERO;
        let mut from = 0;
        for k in 0..=strip.breaks.len() {
            let end = strip.breaks.get(k).copied().unwrap_or(strip.px.len());
            self.between_a[k] = self.walk(from, &strip.px[from..end]);
            if let Some(at) = strip.px.get(end) {
                self.walk(end, std::slice::from_ref(at));
            }
            from = end + 1;
        }
    }

    #[inline(always)]
    fn walk(&mut self, first: usize, pixels: &[Pixel]) -> Lanes {
        let mut sum = Lanes::ZERO;
        let (mut min, mut at) = (self.min_v, self.min_at);
        for (i, p) in pixels.iter().enumerate() {
            sum += p.a;
            let index = (first + i) as f64;
            for l in 0..LANES {
                let less = p.v.0[l] < min.0[l];
                min.0[l] = if less { p.v.0[l] } else { min.0[l] };
                at.0[l] = if less { index } else { at.0[l] };
            }
        }
        (self.min_v, self.min_at) = (min, at);
        sum
    }
}
