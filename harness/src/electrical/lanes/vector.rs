//! Eight numbers side by side: one for each frame of a batch.
//!
//! Plain arrays, so that the compiler turns each operation into whatever vector instructions the
//! target has; results are the same bits on every machine.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// Frames that are solved side by side.
pub const LANES: usize = 8;

/// One number a lane.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(C, align(64))]
pub(super) struct Lanes(pub(super) [f64; LANES]);

impl Lanes {
    pub(super) const ZERO: Self = Self([0.0; LANES]);

    #[inline(always)]
    pub(super) fn splat(x: f64) -> Self {
        Self([x; LANES])
    }

    #[inline(always)]
    fn zip(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        let mut out = self.0;
        for (a, b) in out.iter_mut().zip(other.0) {
            *a = f(*a, b);
        }
        Self(out)
    }

    /// The smaller of two; `self` where either is not a number.
    #[inline(always)]
    pub(super) fn min(self, other: Self) -> Self {
        self.zip(other, |a, b| if b < a { b } else { a })
    }

    /// The larger of two; `self` where either is not a number.
    #[inline(always)]
    pub(super) fn max(self, other: Self) -> Self {
        self.zip(other, |a, b| if b > a { b } else { a })
    }

    #[inline(always)]
    pub(super) fn abs(self) -> Self {
        self.zip(self, |a, _| a.abs())
    }

    /// Brought between 0 and 1.
    #[inline(always)]
    pub(super) fn clamped(self) -> Self {
        self.max(Self::ZERO).min(Self::splat(1.0))
    }

    /// `self` where `x` lies between 0 and 1, else `other`.
    #[inline(always)]
    pub(super) fn if_inside(self, x: Self, other: Self) -> Self {
        let mut out = other;
        for ((to, own), x) in out.0.iter_mut().zip(self.0).zip(x.0) {
            // Both comparisons are made whatever the first gives: no branch.
            *to = if (x > 0.0) & (x < 1.0) { own } else { *to };
        }
        out
    }

    pub(super) fn largest(self) -> f64 {
        self.0
            .iter()
            .fold(f64::NEG_INFINITY, |m, x| if *x > m { *x } else { m })
    }

    pub(super) fn least(self) -> f64 {
        self.0
            .iter()
            .fold(f64::INFINITY, |m, x| if *x < m { *x } else { m })
    }
}

macro_rules! lanewise {
    ($($trait:ident $method:ident $op:tt),*) => { $(
        impl $trait for Lanes {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                self.zip(other, |a, b| a $op b)
            }
        }
        impl $trait<f64> for Lanes {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: f64) -> Self {
                self.zip(self, |a, _| a $op other)
            }
        }
    )* };
}
lanewise!(Add add +, Sub sub -, Mul mul *, Div div /);

impl Neg for Lanes {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        self.zip(self, |a, _| -a)
    }
}
impl AddAssign for Lanes {
    #[inline(always)]
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}
impl SubAssign for Lanes {
    #[inline(always)]
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

/// Transposes a block of 8 × 8 bytes held in eight words: byte `i` of word `l` goes to byte `l` of
/// word `i` (Warren, Hacker's Delight, 7-3, with bytes for bits). All eight words take each step side by side, so
/// that it becomes a few vector instructions.
#[inline(always)]
pub(super) fn transpose_bytes(x: [u64; 8]) -> [u64; 8] {
    let x = exchange::<4, 32>(x, 0x0000_0000_ffff_ffff);
    let x = exchange::<2, 16>(x, 0x0000_ffff_0000_ffff);
    exchange::<1, 8>(x, 0x00ff_00ff_00ff_00ff)
}

/// Exchanges the upper parts of each word with the lower parts of the word `STEP` further on.
#[inline(always)]
fn exchange<const STEP: usize, const SHIFT: u32>(x: [u64; 8], lower: u64) -> [u64; 8] {
    let mut other = [0; 8];
    for (k, to) in other.iter_mut().enumerate() {
        *to = x[k ^ STEP];
    }
    let mut out = [0; 8];
    for (k, to) in out.iter_mut().enumerate() {
        *to = if k & STEP == 0 {
            (x[k] & lower) | ((other[k] << SHIFT) & !lower)
        } else {
            (x[k] & !lower) | ((other[k] >> SHIFT) & lower)
        };
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn transposing_moves_every_byte() {
        let mut words = [0u64; 8];
        for (l, word) in words.iter_mut().enumerate() {
            *word = u64::from_le_bytes(std::array::from_fn(|i| (16 * l + i) as u8));
        }
        for (i, word) in transpose_bytes(words).iter().enumerate() {
            for (l, byte) in word.to_le_bytes().iter().enumerate() {
                assert_eq!(usize::from(*byte), 16 * l + i);
            }
        }
    }
}
