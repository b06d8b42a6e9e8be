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
        let n = self.groups.len();
        for i in 0..self.pixels {
            let mut full = self.law.dark_a();
            for group in &mut self.set[i * n..(i + 1) * n] {
                group.0[l] = 0.0;
            }
            for c in 0..self.law.channels() {
                let a = current_a(i, c);
                self.set[i * n + self.group_of[c]].0[l] += a;
                full += a;
            }
            self.full[i].0[l] = full;
        }
    }

    /// Takes eight frames over: drive levels and a factor on every set current. Adds them up on the way.
    #[inline(always)]
    pub(super) fn set_levels(
        &mut self,
        frames: &[&[u8]; LANES],
        scale: &Lanes,
    ) -> [LevelSums; LANES] {
        match self.law.channels() {
            1 => self.set_known::<1>(frames, scale),
            2 => self.set_known::<2>(frames, scale),
            3 => self.set_known::<3>(frames, scale),
            _ => self.set_known::<MAX_CHANNELS>(frames, scale),
        }
    }

    #[inline(always)]
    fn set_known<const C: usize>(
        &mut self,
        frames: &[&[u8]; LANES],
        scale: &Lanes,
    ) -> [LevelSums; LANES] {
        let mut weight = [Lanes::ZERO; C];
        for (c, weight) in weight.iter_mut().enumerate() {
            *weight = *scale * (self.law.full_a(c) / 255.0);
        }
        let dark = Lanes::splat(self.law.dark_a());
        let n = self.groups.len();
        let mut sums = [LevelSums::default(); LANES];
        let mut narrow = [[[0; LANES]; 4]; C];
        let mut both = [[0; LANES]; PAIRS.len()];
        let blocks = self.set.chunks_mut(BLOCK * n);
        for (b, (sets, fulls)) in blocks.zip(self.full.chunks_mut(BLOCK)).enumerate() {
            let bytes: [[[u8; LANES]; 8]; C] =
                std::array::from_fn(|k| load_block(frames, (b * C + k) * 8));
            let pixels = bytes.as_flattened().chunks_exact(C);
            for ((set, full), pixel) in sets.chunks_exact_mut(n).zip(fulls).zip(pixels) {
                set.fill(Lanes::ZERO);
                let mut sum = dark;
                for c in 0..C {
                    add_up(&mut narrow[c], &pixel[c]);
                    let a = weight[c] * Lanes(pixel[c].map(f64::from));
                    set[self.group_of[c]] += a;
                    sum += a;
                }
                *full = sum;
                for (sum, (a, b)) in both.iter_mut().zip(&PAIRS[..C * (C - 1) / 2]) {
                    add_pair(sum, &pixel[*a], &pixel[*b]);
                }
            }
            if b % BLOCKS == BLOCKS - 1 {
                widen(&mut narrow, &mut both, &mut sums);
            }
        }
        widen(&mut narrow, &mut both, &mut sums);
        sums
    }

    /// Multiplies every set current.
    #[inline(always)]
    pub(super) fn rescale(&mut self, by: &Lanes) {
        let n = self.groups.len();
        let dark = Lanes::splat(self.law.dark_a());
        for (full, set) in self.full.iter_mut().zip(self.set.chunks_exact_mut(n)) {
            *full = dark;
            for group in set {
                *group = *group * *by;
                *full += *group;
            }
        }
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
    transpose_bytes(&mut words);
    words.map(u64::to_le_bytes)
}
