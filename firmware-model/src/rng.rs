//! A hash that stands in for a random generator: equal inputs give equal values on every machine,
//! in any order.

/// Mixes the bits of `x` so that each depends on every input bit.
///
/// Two 32-bit multiplications and three shifts, cheap where there is no wider multiplier.
/// Source of the constants: C. Wellons, "Prospecting for Hash Functions" (2018), public domain.
#[inline(always)]
#[must_use]
pub const fn mix(x: u32) -> u32 {
    let x = (x ^ (x >> 16)).wrapping_mul(0x7feb_352d);
    let x = (x ^ (x >> 15)).wrapping_mul(0x846c_a68b);
    x ^ (x >> 16)
}

/// What the first counter is multiplied by: 2³²/φ made odd.
pub(crate) const FIRST: u32 = 0x9e37_79b1;
/// What the second counter is multiplied by: 2³²/√2 made odd.
const SECOND: u32 = 0xb504_f32d;

/// A seed and two counters spread over 32 bits, before they are mixed. Each step of `a` adds
/// [`FIRST`].
#[inline(always)]
pub(crate) const fn spread(seed: u32, a: u32, b: u32) -> u32 {
    seed.wrapping_add(a.wrapping_mul(FIRST))
        .wrapping_add(b.wrapping_mul(SECOND))
}

/// A value that depends on a seed and two counters.
#[inline(always)]
#[must_use]
pub const fn hash(seed: u32, a: u32, b: u32) -> u32 {
    mix(spread(seed, a, b))
}

/// The upper and lower half of a hash: two values of 16 bits.
#[inline(always)]
#[must_use]
pub const fn halves(hash: u32) -> (u16, u16) {
    ((hash >> 16) as u16, hash as u16)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_changed_input_bit_changes_about_half_the_output_bits() {
        let mut counts = [[0u32; 32]; 32];
        let trials = 4000;
        for n in 0..trials {
            let x = mix(n ^ 0x5555_0000);
            for (bit, row) in counts.iter_mut().enumerate() {
                let change = mix(x) ^ mix(x ^ (1 << bit));
                for (out, count) in row.iter_mut().enumerate() {
                    *count += change >> out & 1;
                }
            }
        }
        // Half of 4000 with a standard deviation of 32; six of those either way.
        for count in counts.iter().flatten() {
            assert!(count.abs_diff(trials / 2) < 190, "{count}");
        }
    }

    #[test]
    fn neighbouring_counters_are_unrelated() {
        // Share of ones over a grid of counters, per bit, and agreement between neighbours.
        let mut ones = [0u32; 32];
        let mut same = [0u32; 32];
        for a in 0..100 {
            for b in 0..100 {
                let here = hash(7, a, b);
                let agree = !(here ^ hash(7, a, b + 1));
                for bit in 0..32 {
                    ones[bit] += here >> bit & 1;
                    same[bit] += agree >> bit & 1;
                }
            }
        }
        // 10 000 draws: mean 5000, standard deviation 50.
        for count in ones.iter().chain(&same) {
            assert!(count.abs_diff(5000) < 300, "{count}");
        }
    }

    #[test]
    fn values_are_fixed_for_all_time() {
        // Presets in the field rely on these.
        assert_eq!(mix(0), 0);
        // Computed apart, with unbounded integers.
        assert_eq!(mix(1), 0x6889_90c0);
        assert_eq!(mix(0xdead_beef), 0xe628_c683);
        assert_eq!(
            hash(1, 2, 3),
            mix(1u32.wrapping_add(0x3c6e_f362).wrapping_add(0x1f0e_d987))
        );
    }
}
