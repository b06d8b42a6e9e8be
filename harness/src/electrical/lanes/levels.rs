//! What eight frames show on a strip: drive levels taken over as set currents, and added up.

use super::strip::StripLanes;
use super::vector::{transpose_bytes, Lanes, LANES};
use crate::electrical::pixel::{PixelLaw, MAX_CHANNELS};
use crate::electrical::pwm::{LevelSums, PAIRS};

/// Pixels of which every frame's levels are fetched at a time.
const BLOCK: usize = 8;
/// Blocks after which the narrow sums are added to the wide ones: 32 · 8 · 255³ stays below 2³².
const BLOCKS: usize = 32;

/// Sums of one channel in every lane: d, d², d³, lit; and of one pair of channels.
type Narrow = [[u32; LANES]; 4];
type Pairs = [[u32; LANES]; PAIRS.len()];

impl StripLanes {
    /// Takes one frame over into lane `l` as set currents.
    pub(super) fn set_lane(&mut self, l: usize, current_a: impl Fn(usize, usize) -> f64) {
        let (n, channels) = (self.ramps.count, self.law.channels());
        let order = &self.ramps.order[..channels];
        for (i, sums) in self.sums.chunks_exact_mut(n).enumerate() {
            let mut sum = self.law.dark_a();
            for (c, k) in order {
                sum += current_a(i, *c);
                sums[*k].0[l] = sum;
            }
            self.most_a = self.most_a.max(sum);
        }
    }

    /// Takes eight frames over: drive levels and a factor on every set current. Adds them up on the way,
    /// where that is wanted.
    #[inline(always)]
    pub(super) fn set_levels(
        &mut self,
        frames: &[&[u8]; LANES],
        scale: &Lanes,
        sums: Option<&mut [LevelSums; LANES]>,
    ) {
        let full: f64 = (0..self.law.channels()).map(|c| self.law.full_a(c)).sum();
        self.most_a = self.law.dark_a() + full * scale.largest().max(0.0);
        match self.law.channels() {
            1 => self.set_known::<1>(frames, scale, sums),
            2 => self.set_known::<2>(frames, scale, sums),
            3 => self.set_known::<3>(frames, scale, sums),
            _ => self.set_known::<MAX_CHANNELS>(frames, scale, sums),
        }
    }

    #[inline(always)]
    fn set_known<const C: usize>(
        &mut self,
        frames: &[&[u8]; LANES],
        scale: &Lanes,
        mut sums: Option<&mut [LevelSums; LANES]>,
    ) {
        let mut order = [(Lanes::ZERO, 0, 0); C];
        for (to, (c, k)) in order.iter_mut().zip(self.ramps.order) {
            *to = (*scale * (self.law.full_a(c) / 255.0), c, k);
        }
        let (dark, n) = (self.ramps.dark_a, self.ramps.count);
        let mut narrow = [[[0; LANES]; 4]; C];
        let mut both = [[0; LANES]; PAIRS.len()];
        for (b, pixels) in self.sums.chunks_mut(BLOCK * n).enumerate() {
            // A loop rather than `from_fn`, whose closure would not share these instructions.
            let mut bytes = [[[0u8; LANES]; 8]; C];
            for (k, block) in bytes.iter_mut().enumerate() {
                *block = load_block(frames, (b * C + k) * 8);
            }
            let (levels, _) = bytes.as_flattened().as_chunks::<C>();
            for (pixel, level) in pixels.chunks_exact_mut(n).zip(levels) {
                let mut sum = dark;
                for (weight, c, k) in &order {
                    let mut drive = Lanes::ZERO;
                    for (to, byte) in drive.0.iter_mut().zip(level[*c]) {
                        *to = f64::from(byte);
                    }
                    sum += *weight * drive;
                    pixel[*k] = sum;
                }
            }
            let Some(sums) = sums.as_deref_mut() else {
                continue;
            };
            for level in levels {
                for c in 0..C {
                    add_up(&mut narrow[c], &level[c]);
                }
                for (sum, (x, y)) in both.iter_mut().zip(&PAIRS[..C * (C - 1) / 2]) {
                    add_pair(sum, &level[*x], &level[*y]);
                }
            }
            if b % BLOCKS == BLOCKS - 1 {
                widen(&mut narrow, &mut both, sums);
            }
        }
        if let Some(sums) = sums {
            widen(&mut narrow, &mut both, sums);
        }
    }

    /// Multiplies every set current.
    #[inline(always)]
    pub(super) fn rescale(&mut self, by: &Lanes) {
        let dark = self.ramps.dark_a;
        let mut most = dark;
        for sum in &mut self.sums {
            *sum = dark + (*sum - dark) * *by;
            // Besides being of use this keeps the lanes of a pixel together: without it the compiler takes the same lane
            // of eight pixels at a time, and gathers and scatters them, which takes ten times as long.
            most = most.max(*sum);
        }
        self.most_a = most.largest();
    }
}

#[inline(always)]
fn add_up(sums: &mut Narrow, levels: &[u8; LANES]) {
    for (l, level) in levels.iter().enumerate() {
        let d = u32::from(*level);
        sums[0][l] += d;
        sums[1][l] += d * d;
        sums[2][l] += d * d * d;
        sums[3][l] += u32::from(d > 0);
    }
}

#[inline(always)]
fn add_pair(sum: &mut [u32; LANES], a: &[u8; LANES], b: &[u8; LANES]) {
    for l in 0..LANES {
        let (x, y) = (u32::from(a[l]), u32::from(b[l]));
        sum[l] += 255 * x.min(y) - x * y;
    }
}

fn widen(narrow: &mut [Narrow], both: &mut Pairs, sums: &mut [LevelSums; LANES]) {
    for (c, channel) in narrow.iter_mut().enumerate().take(MAX_CHANNELS) {
        for (k, sum) in channel.iter_mut().enumerate() {
            for (l, s) in sum.iter_mut().enumerate() {
                sums[l].channels[c][k] += u64::from(std::mem::take(s));
            }
        }
    }
    for (k, sum) in both.iter_mut().enumerate() {
        for (l, s) in sum.iter_mut().enumerate() {
            sums[l].pairs[k] += u64::from(std::mem::take(s));
        }
    }
}

/// Eight bytes of every frame from `at` on, turned so that the frames lie side by side.
#[inline(always)]
fn load_block(frames: &[&[u8]; LANES], at: usize) -> [[u8; LANES]; 8] {
    let mut words = [0u64; 8];
    for (word, frame) in words.iter_mut().zip(frames) {
        *word = match frame.get(at..at + 8).and_then(|b| b.try_into().ok()) {
            Some(eight) => u64::from_le_bytes(eight),
            // The end of a frame: what lacks is 0.
            None => frame[at.min(frame.len())..]
                .iter()
                .rev()
                .fold(0, |word, byte| word << 8 | u64::from(*byte)),
        };
    }
    let mut turned = [[0; LANES]; 8];
    for (to, word) in turned.iter_mut().zip(transpose_bytes(words)) {
        *to = word.to_le_bytes();
    }
    turned
}
