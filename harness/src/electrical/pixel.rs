//! The pixel: how much current it draws at a drive level and a supply.
//!
//! Channel `c` at drive level `d` and supply `V` draws
//! `d · I_c · clip((V − Voff_c)/(Vfull_c − Voff_c), 0, 1)`, and the logic draws its dark current
//! with a clip ramp of its own. Everything in it comes from the part's data sheet.

use super::error::NetworkError;

/// Most channels a pixel type can have (red, green, blue, white).
pub const MAX_CHANNELS: usize = 4;

/// A current as a function of the supply: 0 up to `off_v`, full from `full_v` on, straight between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ramp {
    /// Supply up to which no current flows, in volt.
    pub off_v: f64,
    /// Supply from which the full current flows, in volt; above `off_v`.
    pub full_v: f64,
}

impl Ramp {
    /// Share of the full current, 0..1, and its slope in 1/V. On a corner the slope is that of the
    /// straight part on its left, so that a pixel exactly at `full_v` counts as full.
    #[inline]
    pub fn share(self, supply_v: f64) -> (f64, f64) {
        let inverse = 1.0 / (self.full_v - self.off_v);
        let x = (supply_v - self.off_v) * inverse;
        let inside = x > 0.0 && x < 1.0;
        (x.clamp(0.0, 1.0), if inside { inverse } else { 0.0 })
    }

    fn check(self, name: &str) -> Result<(), NetworkError> {
        if self.off_v.is_finite() && self.full_v.is_finite() && self.full_v > self.off_v {
            return Ok(());
        }
        Err(NetworkError::BadValue {
            name: name.to_owned(),
            what: "full-current voltage",
            value: self.full_v,
            expected: "a voltage above the turn-on voltage",
        })
    }
}

/// One channel of a pixel type.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Channel {
    /// Current at drive level 1 and full supply, in ampere.
    pub full_a: f64,
    /// How the current falls off with the supply.
    pub ramp: Ramp,
}

/// What the strip solver asks of a pixel. Implementations must be non-decreasing in the supply,
/// which makes the solution of a frame unique.
pub trait PixelLaw {
    /// Number of channels, 1..=[`MAX_CHANNELS`].
    fn channels(&self) -> usize;

    /// Current at drive level 1 of a channel, in ampere.
    fn full_a(&self, channel: usize) -> f64;

    /// Current and its slope (in siemens) of one pixel whose channels are set to `set_a` ampere.
    fn current(&self, set_a: &[f64; MAX_CHANNELS], supply_v: f64) -> (f64, f64);

    /// Supply from which the pixel draws exactly its set currents plus its dark current, whatever
    /// the supply; infinite if there is none.
    fn saturation_v(&self) -> f64;

    /// Dark current at full supply, in ampere.
    fn dark_a(&self) -> f64;

    /// Currents and slopes of many pixels. `set_a` is channel-major (`channel * n + pixel`).
    fn currents(
        &self,
        set_a: &[f64],
        supply_v: &[f64],
        current_a: &mut [f64],
        slope_s: &mut [f64],
    ) {
        let n = supply_v.len();
        for i in 0..n {
            let mut set = [0.0; MAX_CHANNELS];
            for (c, slot) in set.iter_mut().enumerate().take(self.channels()) {
                *slot = set_a[c * n + i];
            }
            let (a, s) = self.current(&set, supply_v[i]);
            current_a[i] = a;
            slope_s[i] = s;
        }
    }
}

/// A pixel type with clip ramps: the law used for every real part.
#[derive(Debug, Clone, PartialEq)]
pub struct PixelType {
    channels: [Channel; MAX_CHANNELS],
    count: usize,
    dark_a: f64,
    dark_ramp: Ramp,
    saturation_v: f64,
}

impl PixelType {
    /// A pixel type of 1..=[`MAX_CHANNELS`] channels with a dark current.
    ///
    /// # Errors
    /// [`NetworkError::BadValue`] for a wrong number of channels, a negative or non-finite current,
    /// or a ramp that does not rise.
    pub fn new(channels: &[Channel], dark_a: f64, dark_ramp: Ramp) -> Result<Self, NetworkError> {
        let bad = |what, value, expected| NetworkError::BadValue {
            name: "pixel type".to_owned(),
            what,
            value,
            expected,
        };
        if channels.is_empty() || channels.len() > MAX_CHANNELS {
            return Err(bad("number of channels", channels.len() as f64, "1 to 4"));
        }
        if !(dark_a.is_finite() && dark_a >= 0.0) {
            return Err(bad("dark current", dark_a, "0 A or more"));
        }
        dark_ramp.check("dark current")?;
        let mut saturation_v = dark_ramp.full_v;
        for channel in channels {
            if !(channel.full_a.is_finite() && channel.full_a >= 0.0) {
                return Err(bad("channel current", channel.full_a, "0 A or more"));
            }
            channel.ramp.check("channel")?;
            saturation_v = saturation_v.max(channel.ramp.full_v);
        }
        let idle = Channel {
            full_a: 0.0,
            ramp: dark_ramp,
        };
        let mut fixed = [idle; MAX_CHANNELS];
        fixed[..channels.len()].copy_from_slice(channels);
        Ok(Self {
            channels: fixed,
            count: channels.len(),
            dark_a,
            dark_ramp,
            saturation_v,
        })
    }

    /// The channels.
    pub fn channel_list(&self) -> &[Channel] {
        &self.channels[..self.count]
    }

    /// The ramp of the dark current.
    pub fn dark_ramp(&self) -> Ramp {
        self.dark_ramp
    }
}

impl PixelLaw for PixelType {
    fn channels(&self) -> usize {
        self.count
    }

    fn full_a(&self, channel: usize) -> f64 {
        self.channels[channel].full_a
    }

    #[inline]
    fn current(&self, set_a: &[f64; MAX_CHANNELS], supply_v: f64) -> (f64, f64) {
        let (share, slope) = self.dark_ramp.share(supply_v);
        let (mut a, mut s) = (self.dark_a * share, self.dark_a * slope);
        for (set, channel) in set_a.iter().zip(&self.channels[..self.count]) {
            let (share, slope) = channel.ramp.share(supply_v);
            a += set * share;
            s += set * slope;
        }
        (a, s)
    }

    fn saturation_v(&self) -> f64 {
        self.saturation_v
    }

    fn dark_a(&self) -> f64 {
        self.dark_a
    }

    // Channel by channel over all pixels, without branches: the loops vectorise.
    fn currents(
        &self,
        set_a: &[f64],
        supply_v: &[f64],
        current_a: &mut [f64],
        slope_s: &mut [f64],
    ) {
        let n = supply_v.len();
        let add = |ramp: Ramp, set: &dyn Fn(usize) -> f64, a: &mut [f64], s: &mut [f64]| {
            for i in 0..n {
                let (share, slope) = ramp.share(supply_v[i]);
                a[i] += set(i) * share;
                s[i] += set(i) * slope;
            }
        };
        current_a.fill(0.0);
        slope_s.fill(0.0);
        add(self.dark_ramp, &|_| self.dark_a, current_a, slope_s);
        for (c, channel) in self.channels[..self.count].iter().enumerate() {
            let set = &set_a[c * n..(c + 1) * n];
            add(channel.ramp, &|i| set[i], current_a, slope_s);
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn rgb() -> PixelType {
        let channel = |off_v, full_v| Channel {
            full_a: 0.012,
            ramp: Ramp { off_v, full_v },
        };
        PixelType::new(
            &[channel(1.9, 2.3), channel(2.7, 3.3), channel(2.7, 3.3)],
            0.0006,
            Ramp {
                off_v: 0.0,
                full_v: 1.5,
            },
        )
        .unwrap()
    }

    #[test]
    fn full_supply_draws_the_set_currents_and_the_dark_current() {
        let (a, s) = rgb().current(&[0.012, 0.006, 0.003, 0.0], 3.3);
        assert!((a - 0.0216).abs() < 1e-15, "{a}");
        assert_eq!(s, 0.0);
    }

    #[test]
    fn half_way_up_the_ramp_draws_half() {
        let (a, s) = rgb().current(&[0.0, 0.012, 0.0, 0.0], 3.0);
        assert!((a - 0.0066).abs() < 1e-15, "{a}");
        assert!((s - 0.012 / 0.6).abs() < 1e-12, "{s}");
        assert_eq!(rgb().current(&[0.012; 4], -1.0), (0.0, 0.0));
    }

    #[test]
    fn many_pixels_equal_one_by_one() {
        let law = rgb();
        let supply: Vec<f64> = (0..64).map(|i| f64::from(i) * 0.07).collect();
        let set: Vec<f64> = (0..64 * 3).map(|i| f64::from(i % 29) * 4e-4).collect();
        let (mut a, mut s) = (vec![9.0; 64], vec![9.0; 64]);
        law.currents(&set, &supply, &mut a, &mut s);
        for i in 0..64 {
            let (one_a, one_s) = law.current(&[set[i], set[64 + i], set[128 + i], 0.0], supply[i]);
            assert!((a[i] - one_a).abs() < 1e-17 && (s[i] - one_s).abs() < 1e-15);
        }
    }

    #[test]
    fn wrong_parts_are_refused() {
        let ramp = Ramp {
            off_v: 2.0,
            full_v: 3.0,
        };
        assert!(PixelType::new(&[], 0.0, ramp).is_err());
        assert!(PixelType::new(
            &[Channel {
                full_a: f64::NAN,
                ramp
            }],
            0.0,
            ramp
        )
        .is_err());
        let flat = Ramp {
            off_v: 3.0,
            full_v: 3.0,
        };
        assert!(PixelType::new(
            &[Channel {
                full_a: 0.01,
                ramp: flat
            }],
            0.0,
            ramp
        )
        .is_err());
    }
}
