//! A bench of its own: it makes logs of props that are trees of resistances, with hidden figures, and shares no
//! code with the solver under test.
//!
//! The circuit is solved by sweeps as in radial power distribution: currents are summed from the leaves to the
//! source, voltages follow from the source to the leaves, until nothing moves (Shirmohammadi et al., "A
//! compensation-based power flow method", IEEE Transactions on Power Systems 3 (1988); from memory). Plus and minus
//! legs count as one, which is exact where both have the same shape.

/// What hangs on a node.
#[derive(Debug, Clone, Copy)]
pub enum Load {
    /// A pixel: its index in the frame, and which law it follows.
    Pixel(usize, usize),
    /// A steady current, amperes.
    Steady(f64),
    /// A power that goes with the sound: watts at silence and at full level.
    Sound(f64, f64),
}

/// A joint of the tree; parents come before their children, the first is the source's own terminals.
#[derive(Debug, Clone, Copy)]
pub struct Node {
    /// Index of the node nearer to the source.
    pub parent: usize,
    /// Resistance of both legs between the two, ohms.
    pub ohm: f64,
    /// What hangs here.
    pub load: Option<Load>,
}

/// What a pixel draws.
#[derive(Debug, Clone, Copy)]
pub struct Law {
    /// Full current of red, green and blue, amperes.
    pub full_a: [f64; 3],
    /// Supply at which each begins, volts.
    pub off_v: [f64; 3],
    /// Supply from which each is full, volts.
    pub full_v: [f64; 3],
    /// Current with nothing lit, amperes.
    pub dark_a: f64,
}

impl Law {
    fn current_a(&self, levels: &[u8], volts: f64) -> f64 {
        // The dark current rises from 0 V to 1.5 V.
        let mut sum = self.dark_a * (volts / 1.5).clamp(0.0, 1.0);
        for (c, level) in levels.iter().take(3).enumerate() {
            let share = (volts - self.off_v[c]) / (self.full_v[c] - self.off_v[c]);
            sum += f64::from(*level) / 255.0 * self.full_a[c] * share.clamp(0.0, 1.0);
        }
        sum
    }
}

/// The cell or supply.
#[derive(Debug, Clone)]
pub struct Source {
    /// Open-circuit voltage at states of charge, straight lines between.
    pub ocv: Vec<(f64, f64)>,
    /// Series resistance, ohms.
    pub ohm: f64,
    /// A pair of resistance and capacitance in series with it; zeros for none.
    pub pair: (f64, f64),
    /// Charge, coulombs.
    pub charge_c: f64,
    /// State of charge, 0..1.
    pub soc: f64,
}

impl Source {
    fn ocv_v(&self) -> f64 {
        let piece = self
            .ocv
            .windows(2)
            .find(|w| self.soc <= w[1].0)
            .unwrap_or(&self.ocv[self.ocv.len() - 2..]);
        let share = (self.soc - piece[0].0) / (piece[1].0 - piece[0].0);
        piece[0].1 + share * (piece[1].1 - piece[0].1)
    }
}

/// A prop on the bench.
#[derive(Debug, Clone)]
pub struct Bench {
    /// The tree.
    pub nodes: Vec<Node>,
    /// Laws of pixels.
    pub laws: Vec<Law>,
    /// The cell.
    pub source: Source,
    /// The node at which a second voltmeter hangs.
    pub tap: usize,
}

/// What is true over one frame: current, voltage of the cell, voltage at the tap.
pub type Truth = (f64, f64, f64);

impl Bench {
    /// Plays frames of RGB levels, each with its level of sound, 0..1.
    pub fn play(&mut self, frames: &[(Vec<u8>, f64)], period_s: f64) -> Vec<Truth> {
        let mut pair_v = 0.0;
        let mut volts = vec![3.7; self.nodes.len()];
        let mut out = Vec::new();
        for (levels, sound) in frames {
            let emf_v = self.source.ocv_v() - pair_v;
            let current_a = self.settle(levels, *sound, emf_v, &mut volts);
            out.push((current_a, volts[0], volts[self.tap]));
            self.source.soc -= current_a * period_s / self.source.charge_c;
            let (ohm, farad) = self.source.pair;
            if ohm > 0.0 {
                let kept = (-period_s / (ohm * farad)).exp();
                pair_v = pair_v * kept + current_a * ohm * (1.0 - kept);
            }
        }
        out
    }

    /// Sweeps until the voltages stand; gives the current of the source.
    fn settle(&self, levels: &[u8], sound: f64, emf_v: f64, volts: &mut [f64]) -> f64 {
        let mut currents = vec![0.0; self.nodes.len()];
        for _ in 0..500 {
            for ((current, node), v) in currents.iter_mut().zip(&self.nodes).zip(volts.iter()) {
                *current = match node.load {
                    None => 0.0,
                    Some(Load::Steady(a)) => a,
                    Some(Load::Sound(idle_w, full_w)) => (idle_w + sound * (full_w - idle_w)) / v,
                    Some(Load::Pixel(at, law)) => self.laws[law].current_a(&levels[at * 3..], *v),
                };
            }
            for k in (1..self.nodes.len()).rev() {
                let own = currents[k];
                currents[self.nodes[k].parent] += own;
            }
            let mut moved: f64 = 0.0;
            for k in 0..self.nodes.len() {
                let want = if k == 0 {
                    emf_v - currents[0] * self.source.ohm
                } else {
                    volts[self.nodes[k].parent] - currents[k] * self.nodes[k].ohm
                };
                moved = moved.max((want - volts[k]).abs());
                // Half a step only: green and blue near their knee answer steeply.
                volts[k] += 0.6 * (want - volts[k]);
            }
            if moved < 1e-9 {
                break;
            }
        }
        currents[0]
    }
}

/// Random numbers: splitmix64 (Steele, Lea and Flood 2014), normal ones after Box and Muller (1958).
#[derive(Debug, Clone, Copy)]
pub struct Rng(pub u64);

impl Rng {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Even between two ends.
    pub fn even(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Normal with mean 0 and deviation 1.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.even(f64::MIN_POSITIVE, 1.0).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.even(0.0, 1.0)).cos()
    }
}

/// A meter that averages over its interval.
#[derive(Debug, Clone, Copy)]
pub struct Meter {
    /// Time between samples, seconds.
    pub interval_s: f64,
    /// When the play begins on its clock, seconds.
    pub lag_s: f64,
    /// Length of the log, seconds.
    pub length_s: f64,
    /// Noise of the current, amperes.
    pub noise_a: f64,
    /// Noise of the voltages, volts.
    pub noise_v: f64,
    /// What it shows without current, amperes.
    pub zero_a: f64,
    /// Last digit of the current, amperes; 0 for none.
    pub digit_a: f64,
    /// Last digit of the voltages, volts; 0 for none.
    pub digit_v: f64,
}

/// A sample: time, current, cell voltage, voltage at the tap.
pub type Sample = (f64, f64, f64, f64);

impl Meter {
    /// Logs a play; before it the first frame holds, after it the last.
    pub fn log(&self, truth: &[Truth], period_s: f64, rng: &mut Rng) -> Vec<Sample> {
        let count = (self.length_s / self.interval_s) as usize;
        let to_digit = |v: f64, digit: f64| {
            if digit > 0.0 {
                (v / digit).round() * digit
            } else {
                v
            }
        };
        (0..count)
            .map(|k| {
                let t = k as f64 * self.interval_s;
                let start = t - self.lag_s - self.interval_s / 2.0;
                let (a, v, w) = mean(truth, period_s, start, start + self.interval_s);
                let a = a + self.zero_a + self.noise_a * rng.normal();
                let v = v + self.noise_v * rng.normal();
                let w = w + self.noise_v * rng.normal();
                (
                    t,
                    to_digit(a, self.digit_a),
                    to_digit(v, self.digit_v),
                    to_digit(w, self.digit_v),
                )
            })
            .collect()
    }
}

/// The mean of what is true over a piece of time.
fn mean(truth: &[Truth], period_s: f64, start: f64, end: f64) -> Truth {
    let mut sum = (0.0, 0.0, 0.0);
    let mut at = start;
    while at < end - 1e-12 {
        let frame = (at / period_s + 1e-9).floor();
        let until = ((frame + 1.0) * period_s).min(end);
        let index = frame.clamp(0.0, truth.len() as f64 - 1.0) as usize;
        let (a, v, w) = truth[index];
        let share = (until - at) / (end - start);
        sum = (sum.0 + a * share, sum.1 + v * share, sum.2 + w * share);
        at = until;
    }
    sum
}
