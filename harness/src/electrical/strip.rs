//! One strip, eliminated exactly to the pixels at which it is fed.
//!
//! # How
//! A *break* is a pixel with a feed. Let `rp`, `rn` be the rail resistances a pitch and
//! `r = rp + rn`. Between pixels i and i+1 the supply (positive pad minus negative pad) falls by
//! `rp·I⁺ + rn·I⁻`, and by Kirchhoff's current law on a cut through both rails `I⁺ − I⁻` is the
//! same at every pitch of a section without a break. In the balance of a pixel it cancels, so the
//! supplies obey the *scalar* ladder
//!
//! ```text
//!   (V[i−1] − 2·V[i] + V[i+1]) / r = i_pixel(V[i])
//! ```
//!
//! whatever the two rails are: no 2×2 blocks are needed. The part of each rail that carries current
//! past the pixels is a plain resistance between breaks (`m·rp`, `m·rn` for `m` pitches) and
//! belongs to the linear network; what is left of the strip is, at each break, a current from the
//! positive to the negative pad that depends on the supplies at this break and its neighbours.
//!
//! - A *tail* (beyond the first or last break) is swept from its free end. With each pixel
//!   linearised as `i = g·V + j`, what hangs on a pixel is `G·V + J`, and through one pitch
//!   `G → G/(1+rG)`, `J → J/(1+rG)`. All terms are positive: nothing cancels, and r = 0 is allowed.
//! - A *section* between two breaks is swept from left to right by star-mesh steps, also without
//!   subtractions, to the form `i_a = Sa·Va + B·(Va−Vb) + Ja` and its mirror image.
//!
//! Both cost one division a pixel, and the supplies follow by back-substitution.
//! If every pixel of the strip is in saturation all `g` are 0, all divisions are by 1, and the
//! sweep is a running sum.

use super::pixel::{PixelLaw, MAX_CHANNELS};

/// The nonlinear part of a strip at its breaks: `i[k] = diag[k]·V[k] + off[k−1]·V[k−1] +
/// off[k]·V[k+1] + fixed[k]`.
#[derive(Debug, Clone, Default)]
pub(super) struct Norton {
    pub(super) diag: Vec<f64>,
    pub(super) off: Vec<f64>,
    pub(super) fixed: Vec<f64>,
}

/// State and workspace of one strip.
#[derive(Debug, Clone)]
pub(super) struct StripWork<L> {
    pub(super) law: L,
    pub(super) pixels: usize,
    pub(super) breaks: Vec<usize>,
    r: f64,
    /// Set currents, channel-major.
    pub(super) set_a: Vec<f64>,
    /// Set currents of all channels plus dark current: what a pixel draws at full supply.
    pub(super) full_a: Vec<f64>,
    /// Supply, current of the law at that supply, and slope.
    pub(super) v: Vec<f64>,
    pub(super) a: Vec<f64>,
    g: Vec<f64>,
    /// Current the linear network delivers to each pixel at `v`.
    pub(super) lin: Vec<f64>,
    /// The state before the last step, for the line search.
    v_old: Vec<f64>,
    lin_old: Vec<f64>,
    a_old: Vec<f64>,
    v_try: Vec<f64>,
    /// A state to come back to.
    pub(super) v_kept: Vec<f64>,
    /// Elimination: V[x] = from_a·V[a] + keep·V[next] − lost.
    keep: Vec<f64>,
    lost: Vec<f64>,
    from_a: Vec<f64>,
    saturated: bool,
    pub(super) norton: Norton,
}

/// How far a state is from a solution.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Excess {
    /// Largest mismatch of current in units of its tolerance; a solution has at most 1.
    pub(super) worst: f64,
    /// Sum of all mismatches, in ampere.
    pub(super) sum_a: f64,
    /// Largest mismatch, in ampere.
    pub(super) max_a: f64,
}

impl Excess {
    /// Takes in one element that should draw `a` and is delivered `lin`.
    #[inline]
    pub(super) fn add(&mut self, a: f64, lin: f64, slope: f64, v: f64) {
        let off = (a - lin).abs();
        // Rounding of the linearisation g·V + j, and far below any current that matters.
        let tolerance = 1e-13 + 4.0 * f64::EPSILON * (a.abs() + (slope * v).abs());
        self.worst = self.worst.max(off / tolerance);
        self.sum_a += off;
        self.max_a = self.max_a.max(off);
    }
}

impl<L: PixelLaw + Clone> StripWork<L> {
    pub(super) fn new(law: &L, pixels: usize, pitch_ohm: f64, breaks: Vec<usize>) -> Self {
        let zero = || vec![0.0; pixels];
        let k = breaks.len();
        let norton = Norton {
            diag: vec![0.0; k],
            off: vec![0.0; k.saturating_sub(1)],
            fixed: vec![0.0; k],
        };
        Self {
            law: law.clone(),
            pixels,
            breaks,
            r: pitch_ohm,
            set_a: vec![0.0; pixels * law.channels()],
            full_a: vec![law.dark_a(); pixels],
            v: zero(),
            a: zero(),
            g: zero(),
            lin: zero(),
            v_old: zero(),
            lin_old: zero(),
            a_old: zero(),
            v_try: zero(),
            v_kept: zero(),
            keep: zero(),
            lost: zero(),
            from_a: zero(),
            saturated: false,
            norton,
        }
    }

    /// Resistance of both rails from a pixel to the next, in ohm.
    pub(super) fn pitch_ohm(&self) -> f64 {
        self.r
    }

    /// Sets every channel from drive levels 0..255, pixel-major, times `scale`.
    pub(super) fn set_levels(&mut self, levels: &[u8], scale: f64) {
        let channels = self.law.channels();
        let mut step = [0.0; MAX_CHANNELS];
        for (c, slot) in step.iter_mut().enumerate().take(channels) {
            *slot = self.law.full_a(c) * scale / 255.0;
        }
        let dark = self.law.dark_a();
        for (i, pixel) in levels.chunks_exact(channels).enumerate() {
            let mut sum = dark;
            for (c, level) in pixel.iter().enumerate() {
                let a = step[c] * f64::from(*level);
                self.set_a[c * self.pixels + i] = a;
                sum += a;
            }
            self.full_a[i] = sum;
        }
    }

    /// Sets every channel from currents in ampere, pixel-major.
    pub(super) fn set_currents(&mut self, currents_a: &[f64]) {
        let channels = self.law.channels();
        let dark = self.law.dark_a();
        for (i, pixel) in currents_a.chunks_exact(channels).enumerate() {
            for (c, a) in pixel.iter().enumerate() {
                self.set_a[c * self.pixels + i] = *a;
            }
            self.full_a[i] = dark + pixel.iter().sum::<f64>();
        }
    }

    /// Evaluates the law at the present supplies.
    pub(super) fn evaluate(&mut self) {
        let floor = self.law.saturation_v();
        // `all` would stop early but not vectorise; a minimum does.
        self.saturated = self
            .v
            .iter()
            .fold(f64::INFINITY, |m, v| if *v < m { *v } else { m })
            >= floor;
        if self.saturated {
            self.a.copy_from_slice(&self.full_a);
            self.g.fill(0.0);
        } else {
            self.law
                .currents(&self.set_a, &self.v, &mut self.a, &mut self.g);
        }
    }

    /// Mismatch between the law and the linear network at the present supplies.
    pub(super) fn excess(&self, excess: &mut Excess) {
        for i in 0..self.pixels {
            excess.add(self.a[i], self.lin[i], self.g[i], self.v[i]);
        }
    }

    /// Reduces the strip, linearised at the present supplies, to its breaks.
    pub(super) fn eliminate(&mut self) {
        let (first, last) = (self.breaks[0], self.breaks[self.breaks.len() - 1]);
        for k in 0..self.breaks.len() {
            let b = self.breaks[k];
            self.norton.diag[k] = self.g[b];
            self.norton.fixed[k] = self.offset(b);
        }
        let (g, j) = self.sweep_tail(0..first);
        self.norton.diag[0] += g;
        self.norton.fixed[0] += j;
        let (g, j) = self.sweep_tail((last + 1..self.pixels).rev());
        let end = self.breaks.len() - 1;
        self.norton.diag[end] += g;
        self.norton.fixed[end] += j;
        for k in 0..end {
            self.sweep_section(k);
        }
    }

    /// The fixed part j of `i = g·V + j`.
    #[inline]
    fn offset(&self, i: usize) -> f64 {
        self.a[i] - self.g[i] * self.v[i]
    }

    /// What a tail, walked from its free end, draws at the break: `G·V + J`.
    fn sweep_tail(&mut self, walk: impl Iterator<Item = usize>) -> (f64, f64) {
        let r = self.r;
        let (mut g, mut j) = (0.0, 0.0);
        if self.saturated {
            for i in walk {
                j += self.a[i];
                self.lost[i] = r * j;
            }
            return (0.0, j);
        }
        for i in walk {
            g += self.g[i];
            j += self.offset(i);
            let keep = 1.0 / (1.0 + r * g);
            self.keep[i] = keep;
            self.lost[i] = r * j * keep;
            g *= keep;
            j *= keep;
        }
        (g, j)
    }

    /// Adds the section between breaks `k` and `k + 1` to the Norton form. Conductances are kept
    /// times r, which makes them pure numbers.
    fn sweep_section(&mut self, k: usize) {
        let (a, b) = (self.breaks[k], self.breaks[k + 1]);
        let r = self.r;
        let (mut through, mut leak_a, mut leak_x) = (1.0, 0.0, 0.0);
        let (mut fixed_a, mut fixed_x) = (0.0, 0.0);
        for x in a + 1..b {
            leak_x += r * self.g[x];
            fixed_x += self.offset(x);
            let keep = 1.0 / (through + 1.0 + leak_x);
            self.keep[x] = keep;
            self.from_a[x] = through * keep;
            self.lost[x] = r * fixed_x * keep;
            leak_a += through * leak_x * keep;
            fixed_a += through * fixed_x * keep;
            through *= keep;
            leak_x *= keep;
            fixed_x *= keep;
        }
        // The bare rails are in the linear network already: only the difference is ours.
        let pitches = (b - a) as f64;
        let beyond = if b - a == 1 {
            0.0
        } else {
            (through - 1.0 / pitches) / r
        };
        let n = &mut self.norton;
        n.diag[k] += leak_a / r + beyond;
        n.diag[k + 1] += leak_x / r + beyond;
        n.off[k] = -beyond;
        n.fixed[k] += fixed_a;
        n.fixed[k + 1] += fixed_x;
    }

    /// Remembers the present state, then takes the supplies that follow from those at the breaks.
    pub(super) fn back_substitute(&mut self, break_v: &[f64]) {
        std::mem::swap(&mut self.v, &mut self.v_old);
        std::mem::swap(&mut self.lin, &mut self.lin_old);
        std::mem::swap(&mut self.a, &mut self.a_old);
        let (first, last) = (self.breaks[0], self.breaks[self.breaks.len() - 1]);
        for (k, b) in self.breaks.iter().enumerate() {
            self.v[*b] = break_v[k];
        }
        self.walk_tail((0..first).rev(), break_v[0]);
        self.walk_tail(last + 1..self.pixels, break_v[break_v.len() - 1]);
        for k in 0..self.breaks.len() - 1 {
            let (a, b) = (self.breaks[k], self.breaks[k + 1]);
            let (va, mut next) = (break_v[k], break_v[k + 1]);
            for x in (a + 1..b).rev() {
                next = self.from_a[x] * va + self.keep[x] * next - self.lost[x];
                self.v[x] = next;
            }
        }
        for i in 0..self.pixels {
            // a + g·(V − V_old) rather than g·V + j: nothing cancels near the solution.
            self.lin[i] = self.a_old[i] + self.g[i] * (self.v[i] - self.v_old[i]);
        }
    }

    fn walk_tail(&mut self, walk: impl Iterator<Item = usize>, from: f64) {
        let mut v = from;
        if self.saturated {
            for i in walk {
                v -= self.lost[i];
                self.v[i] = v;
            }
        } else {
            for i in walk {
                v = v * self.keep[i] - self.lost[i];
                self.v[i] = v;
            }
        }
    }

    /// Σ (mismatch · step) at `share` of the last step: the slope of the co-content along it.
    /// Overwrites currents and slopes; [`evaluate`](Self::evaluate) restores them.
    pub(super) fn slope_at(&mut self, share: f64) -> f64 {
        for i in 0..self.pixels {
            self.v_try[i] = self.v_old[i] + share * (self.v[i] - self.v_old[i]);
        }
        self.law
            .currents(&self.set_a, &self.v_try, &mut self.a, &mut self.g);
        let mut sum = 0.0;
        for i in 0..self.pixels {
            let lin = self.lin_old[i] + share * (self.lin[i] - self.lin_old[i]);
            sum += (self.a[i] - lin) * (self.v[i] - self.v_old[i]);
        }
        sum
    }

    /// Moves back to `share` of the last step.
    pub(super) fn shorten(&mut self, share: f64) {
        for i in 0..self.pixels {
            self.v[i] = self.v_old[i] + share * (self.v[i] - self.v_old[i]);
            self.lin[i] = self.lin_old[i] + share * (self.lin[i] - self.lin_old[i]);
        }
    }
}
