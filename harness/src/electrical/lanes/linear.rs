//! The Newton steps of a batch: everything that is worth the widest instructions of the machine.

use super::strip::StripLanes;
use super::survey::Survey;
use super::vector::{Lanes, LANES};
use crate::electrical::load::LoadLaw;
use crate::electrical::newton::Solver;
use crate::electrical::pwm::LevelSums;
use crate::electrical::reduce::Ports;
#[cfg(not(debug_assertions))]
use multiversion::multiversion;

/// Steps after which a lane that is not done goes to the scalar solver. Frames that follow one another
/// take 1 to 5.
const MAX_LANE_STEPS: usize = 12;

/// A load in every lane.
#[derive(Debug, Clone)]
pub(super) struct LoadLanes {
    pub(super) law: LoadLaw,
    pub(super) amount: Lanes,
    pub(super) v: Lanes,
    pub(super) a: Lanes,
    g: Lanes,
}

/// State and workspace of a batch.
#[derive(Debug, Clone)]
pub(super) struct Work {
    pub(super) strips: Vec<StripLanes>,
    pub(super) loads: Vec<LoadLanes>,
    strip_port: Vec<usize>,
    pub(super) load_port: usize,
    pub(super) open: Vec<Lanes>,
    pub(super) z: Vec<Lanes>,
    diag: Vec<Lanes>,
    off: Vec<Lanes>,
    fixed: Vec<Lanes>,
    matrix: Vec<Lanes>,
    pub(super) port_v: Vec<Lanes>,
    pub(super) port_a: Vec<Lanes>,
    /// Largest mismatch beyond its tolerance, in ampere; 0 or less is a solution.
    pub(super) excess: Lanes,
    pub(super) steps: usize,
    /// Whether every lane stands at a solution of the present levels, so that its linear form is at hand.
    pub(super) settled: bool,
}

impl Work {
    pub(super) fn new(solver: &Solver) -> Self {
        let p = solver.port_v.len();
        let zero = |n: usize| vec![Lanes::ZERO; n];
        let strips = solver.strips.iter();
        let loads = solver.loads.iter().map(|l| LoadLanes {
            law: l.law,
            amount: Lanes::splat(l.asked),
            v: Lanes::ZERO,
            a: Lanes::ZERO,
            g: Lanes::ZERO,
        });
        Self {
            strips: strips
                .map(|s| StripLanes::new(&s.law, s.pixels, s.pitch_ohm(), &s.breaks))
                .collect(),
            loads: loads.collect(),
            strip_port: solver.strip_port.clone(),
            load_port: solver.load_port,
            open: zero(p),
            z: zero(p * p),
            diag: zero(p),
            off: zero(p),
            fixed: zero(p),
            matrix: zero(p * p),
            port_v: zero(p),
            port_a: zero(p),
            excess: Lanes::splat(f64::INFINITY),
            steps: 0,
            settled: false,
        }
    }

    pub(super) fn take_ports(&mut self, l: usize, ports: &Ports) {
        for (to, from) in self.open.iter_mut().zip(&ports.open) {
            to.0[l] = *from;
        }
        for (to, from) in self.z.iter_mut().zip(&ports.z) {
            to.0[l] = *from;
        }
    }

    /// Every supply as with open ports.
    pub(super) fn start(&mut self) {
        self.settled = false;
        for (strip, port) in self.strips.iter_mut().zip(&self.strip_port) {
            strip.start(self.open[*port]);
        }
        for (k, load) in self.loads.iter_mut().enumerate() {
            load.v = self.open[self.load_port + k];
        }
    }

    /// The same for one lane.
    pub(super) fn start_lane(&mut self, l: usize) {
        self.settled = false;
        for (strip, port) in self.strips.iter_mut().zip(&self.strip_port) {
            strip.start_lane(l, self.open[*port].0[l]);
        }
        for (k, load) in self.loads.iter_mut().enumerate() {
            load.v.0[l] = self.open[self.load_port + k].0[l];
        }
    }

    #[inline(always)]
    fn run(&mut self) {
        for load in &mut self.loads {
            load.evaluate();
        }
        self.steps = 0;
        // One place for every kind of step: all below is copied to each place that it is called from.
        let mut again = std::mem::take(&mut self.settled);
        loop {
            if again {
                self.linearise_loads();
            } else {
                self.linearise();
            }
            self.advance();
            if again {
                self.add_up_strips();
            }
            again = false;
            if self.is_done() || self.steps >= MAX_LANE_STEPS {
                break;
            }
        }
        self.settled = self.is_done();
    }

    #[inline(always)]
    fn is_done(&self) -> bool {
        self.excess.0.iter().all(|e| *e <= 0.0)
    }

    /// After a step in which the strips were taken as linear as they were in the last one: exact as long as no pixel
    /// leaves its piece of the law. What the pixels draw must then add up to what the ports take, which tells a pixel
    /// that stood on the edge of its piece.
    #[inline(always)]
    fn add_up_strips(&mut self) {
        for (strip, first) in self.strips.iter().zip(&self.strip_port) {
            if strip.is_full() {
                continue;
            }
            let ports = &self.port_a[*first..first + strip.breaks.len()];
            let taken = ports.iter().fold(Lanes::ZERO, |sum, a| sum + *a);
            let tolerance = strip.total_a * 1e-12 + strip.pixels as f64 * 1e-13;
            self.excess = self.excess.max((taken - strip.total_a).abs() - tolerance);
        }
    }

    #[inline(always)]
    fn advance(&mut self) {
        self.steps += 1;
        self.solve_ports();
        let p = self.port_v.len();
        for port in 0..p {
            let mut a = self.diag[port] * self.port_v[port] + self.fixed[port];
            if port + 1 < p {
                a += self.off[port] * self.port_v[port + 1];
            }
            if port > 0 {
                a += self.off[port - 1] * self.port_v[port - 1];
            }
            self.port_a[port] = a;
        }
        let mut excess = Lanes::splat(f64::NEG_INFINITY);
        for (strip, first) in self.strips.iter_mut().zip(&self.strip_port) {
            let k = strip.breaks.len();
            excess = excess.max(strip.step_to(&self.port_v[*first..first + k]));
        }
        for (k, load) in self.loads.iter_mut().enumerate() {
            excess = excess.max(load.step_to(self.port_v[self.load_port + k]));
        }
        self.excess = excess;
    }

    #[inline(always)]
    fn linearise(&mut self) {
        self.off.fill(Lanes::ZERO);
        for (strip, first) in self.strips.iter_mut().zip(&self.strip_port) {
            strip.eliminate();
            let k = strip.breaks.len();
            self.diag[*first..first + k].copy_from_slice(&strip.diag);
            self.off[*first..first + k - 1].copy_from_slice(&strip.off);
            self.fixed[*first..first + k].copy_from_slice(&strip.fixed);
        }
        self.linearise_loads();
    }

    #[inline(always)]
    fn linearise_loads(&mut self) {
        for (k, load) in self.loads.iter().enumerate() {
            self.diag[self.load_port + k] = load.g;
            self.fixed[self.load_port + k] = load.a - load.g * load.v;
        }
    }

    /// Gauss elimination of (1 + Z·Y)·V = open − Z·fixed without exchange of rows. What that loses in
    /// a bad case shows in the check of the ports' equations afterwards.
    #[inline(always)]
    fn solve_ports(&mut self) {
        let p = self.port_v.len();
        for row in 0..p {
            let z = &self.z[row * p..(row + 1) * p];
            let mut v = self.open[row];
            for c in 0..p {
                v -= z[c] * self.fixed[c];
                let mut sum = z[c] * self.diag[c];
                if c > 0 {
                    sum += z[c - 1] * self.off[c - 1];
                }
                if c + 1 < p {
                    sum += z[c + 1] * self.off[c];
                }
                self.matrix[row * p + c] = if c == row { sum + 1.0 } else { sum };
            }
            self.port_v[row] = v;
        }
        for k in 0..p {
            let inverse = Lanes::splat(1.0) / self.matrix[k * p + k];
            for row in k + 1..p {
                let factor = self.matrix[row * p + k] * inverse;
                for c in k + 1..p {
                    let m = self.matrix[k * p + c];
                    self.matrix[row * p + c] -= factor * m;
                }
                let v = self.port_v[k];
                self.port_v[row] -= factor * v;
            }
            self.matrix[k * p + k] = inverse;
        }
        for row in (0..p).rev() {
            let mut v = self.port_v[row];
            for c in row + 1..p {
                v -= self.matrix[row * p + c] * self.port_v[c];
            }
            self.port_v[row] = v * self.matrix[row * p + row];
        }
    }
}

impl LoadLanes {
    #[inline(always)]
    fn evaluate(&mut self) {
        for l in 0..LANES {
            (self.a.0[l], self.g.0[l]) = self.law.current(self.amount.0[l], self.v.0[l]);
        }
    }

    #[inline(always)]
    fn step_to(&mut self, v: Lanes) -> Lanes {
        let lin = self.a + self.g * (v - self.v);
        self.v = v;
        self.evaluate();
        let tolerance = (self.a.abs() + (self.g * v).abs()) * (4.0 * f64::EPSILON) + 1e-13;
        (self.a - lin).abs() - tolerance
    }
}

// Without optimisation the compiler makes no vectors, only three copies of half a megabyte each: such builds keep one.

/// Newton's method from the present supplies, with the widest instructions that the machine has.
#[cfg_attr(
    not(debug_assertions),
    multiversion(targets(
        "x86_64+avx+avx2+avx512f+avx512vl+avx512dq+avx512bw",
        "x86_64+avx+avx2"
    ))
)]
pub(super) fn newton(work: &mut Work) {
    work.run();
}

/// Takes the drive levels of a strip over and adds them up, where that is wanted.
#[cfg_attr(
    not(debug_assertions),
    multiversion(targets(
        "x86_64+avx+avx2+avx512f+avx512vl+avx512dq+avx512bw",
        "x86_64+avx+avx2"
    ))
)]
pub(super) fn set_levels(
    strip: &mut StripLanes,
    frames: &[&[u8]; LANES],
    scale: &Lanes,
    sums: Option<&mut [LevelSums; LANES]>,
) {
    strip.set_levels(frames, scale, sums);
}

/// Multiplies the set currents of a strip.
#[cfg_attr(
    not(debug_assertions),
    multiversion(targets(
        "x86_64+avx+avx2+avx512f+avx512vl+avx512dq+avx512bw",
        "x86_64+avx+avx2"
    ))
)]
pub(super) fn rescale(strip: &mut StripLanes, by: &Lanes) {
    strip.rescale(by);
}

/// Looks along a strip.
#[cfg_attr(
    not(debug_assertions),
    multiversion(targets(
        "x86_64+avx+avx2+avx512f+avx512vl+avx512dq+avx512bw",
        "x86_64+avx+avx2"
    ))
)]
pub(super) fn survey(strip: &StripLanes, out: &mut Survey) {
    out.take(strip);
}
