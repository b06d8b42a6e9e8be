//! Which values a sample draws: a Latin hypercube that is a pure function of seed and sample number.

/// How a value is spread between the ends of its tolerance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Spread {
    /// Every value between the ends is as likely as any other on its side of the stated value, and the
    /// stated value is the median. Taken where nothing but the ends is known.
    #[default]
    Even,
    /// Normal, the ends two standard deviations from the stated value. Beyond four it is cut.
    Normal,
}

impl Spread {
    /// The value at a share `u` (0..1) of all parts, from the ends and the stated value.
    pub fn value(self, low: f64, stated: f64, high: f64, u: f64) -> f64 {
        match self {
            Self::Even if u < 0.5 => low + (stated - low) * 2.0 * u,
            Self::Even => stated + (high - stated) * (2.0 * u - 1.0),
            Self::Normal => {
                let z = normal_quantile(u).clamp(-4.0, 4.0) / 2.0;
                stated + z * if z < 0.0 { stated - low } else { high - stated }
            }
        }
    }
}

fn normal_quantile(u: f64) -> f64 {
    use crate::electrical::pwm::normal_quantile as upper;
    let u = u.clamp(1e-12, 1.0 - 1e-12);
    if u < 0.5 {
        -upper(1.0 - u)
    } else {
        upper(u)
    }
}

/// A stratified design: in each dimension every one of `samples` equal strata is drawn once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Design {
    /// Seed of everything.
    pub seed: u64,
    /// Number of samples.
    pub samples: u64,
}

impl Design {
    /// Share (0..1) at which sample `index` draws in a dimension.
    pub fn share(&self, index: u64, dimension: u64) -> f64 {
        let key = mix(self.seed ^ mix(dimension.wrapping_add(0x51ed)));
        let stratum = permute(index, self.samples.max(1), key);
        let within = unit(mix(key ^ mix(index.wrapping_add(0x7f4a))));
        (stratum as f64 + within) / self.samples.max(1) as f64
    }

    /// A share that knows no strata, for draws beside the design.
    pub fn plain(&self, index: u64, dimension: u64) -> f64 {
        unit(mix(
            self.seed ^ mix(index ^ mix(dimension.wrapping_add(0xca11)))
        ))
    }
}

/// 0 ≤ u < 1 from 53 bits.
fn unit(bits: u64) -> f64 {
    (bits >> 11) as f64 / (1u64 << 53) as f64
}

/// The finalizer of SplitMix64 (Steele, Lea, Flood, OOPSLA 2014).
fn mix(z: u64) -> u64 {
    let z = z.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// The place of `index` in a permutation of `0..count`: a four-round Feistel network on the next even
/// number of bits, walked on until it lands below `count`.
fn permute(index: u64, count: u64, key: u64) -> u64 {
    let bits = (64 - (count - 1).leading_zeros()).max(2);
    let half = bits.div_ceil(2);
    let mask = (1u64 << half) - 1;
    let mut place = index;
    loop {
        let (mut left, mut right) = (place >> half, place & mask);
        for round in 0..4 {
            let next = left ^ (mix(key ^ mix(right ^ (round << 60))) & mask);
            left = right;
            right = next;
        }
        place = (left << half) | right;
        if place < count {
            return place;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stratum_is_drawn_once_in_every_dimension() {
        for samples in [1, 2, 3, 100, 1000] {
            let design = Design { seed: 5, samples };
            for dimension in 0..5 {
                let mut seen = vec![0; samples as usize];
                for i in 0..samples {
                    seen[(design.share(i, dimension) * samples as f64) as usize] += 1;
                }
                assert!(seen.iter().all(|n| *n == 1), "{samples} {dimension}");
            }
        }
    }

    #[test]
    fn dimensions_and_seeds_differ_and_do_not_follow_one_another() {
        let (a, b) = (
            Design {
                seed: 1,
                samples: 4096,
            },
            Design {
                seed: 2,
                samples: 4096,
            },
        );
        let mean = |f: &dyn Fn(u64) -> f64| (0..4096).map(f).sum::<f64>() / 4096.0;
        for d in 1..8 {
            let product = mean(&|i| (a.share(i, 0) - 0.5) * (a.share(i, d) - 0.5));
            // Twelve times the covariance of independent draws has a standard deviation of 1/64.
            assert!((12.0 * product).abs() < 5.0 / 64.0, "{d}: {product}");
        }
        assert!((0..100).any(|i| a.share(i, 0) != b.share(i, 0)));
    }

    #[test]
    fn spreads_keep_their_ends_and_their_median() {
        assert_eq!(Spread::Even.value(1.0, 2.0, 4.0, 0.5), 2.0);
        assert_eq!(Spread::Even.value(1.0, 2.0, 4.0, 0.0), 1.0);
        assert_eq!(Spread::Even.value(1.0, 2.0, 4.0, 0.75), 3.0);
        assert!((Spread::Normal.value(1.0, 2.0, 4.0, 0.5) - 2.0).abs() < 1e-9);
        // The ends are two standard deviations away: 2.275 % lie beyond each (normal table).
        assert!((Spread::Normal.value(1.0, 2.0, 4.0, 0.022_750_13) - 1.0).abs() < 1e-6);
        assert!((Spread::Normal.value(1.0, 2.0, 4.0, 0.977_249_87) - 4.0).abs() < 1e-6);
    }
}
