//! Light: what a trace gives, and what a cap costs of it.
//!
//! Luminous intensity of each channel is that of the data sheet at full drive and ample supply, and
//! proportional to the drive level (a duty cycle). Perceived brightness is CIE 1976 lightness of the
//! light, with the uncapped light as its white.

use crate::build::diag::InputErrors;
use crate::build::prop::Prop;
use crate::profile::{Chunk, FrameStream};
use crate::units::light::lightness;
use serde::Serialize;

const CHUNK_FRAMES: usize = 512;

/// Light of a trace, candela over the pixels' axes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LightOutput {
    /// Mean over the frames that give any light.
    pub mean_cd: f64,
    /// The brightest frame.
    pub brightest_cd: f64,
    /// Share of the frames that give any light.
    pub lit_share: f64,
}

/// What a cap costs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LightLost {
    /// Mean light uncapped, candela.
    pub uncapped_cd: f64,
    /// Mean light at the cap, candela.
    pub capped_cd: f64,
    /// The second as a share of the first.
    pub luminous_share: f64,
    /// CIE 1976 lightness of that share, 100 being the uncapped light.
    pub lightness: f64,
}

impl LightLost {
    /// From the light without and with a cap; `None` where either is unknown or there was none.
    pub fn between(uncapped: Option<LightOutput>, capped: Option<LightOutput>) -> Option<Self> {
        let (full, less) = (uncapped?, capped?);
        // Sums over the same frames: a frame may go dark by the cap.
        let (full_sum, less_sum) = (full.mean_cd * full.lit_share, less.mean_cd * less.lit_share);
        if full_sum <= 0.0 {
            return None;
        }
        let share = less_sum / full_sum;
        Some(Self {
            uncapped_cd: full.mean_cd,
            capped_cd: full.mean_cd * share,
            luminous_share: share,
            lightness: lightness(share),
        })
    }
}

/// Candela a level step of each byte of a frame; `None` where a channel's intensity is not stated.
pub fn candela_steps(prop: &Prop) -> Option<Vec<f32>> {
    let channels = prop.frame_channels();
    let mut steps = vec![0.0; prop.pixels() as usize * channels];
    for (_, strip) in prop.strips() {
        for (c, channel) in strip.pixel.channels.iter().enumerate() {
            let step = channel.intensity.as_ref()?.si() / 255.0;
            for pixel in 0..strip.pixels as usize {
                let at = (strip.first as usize + pixel) * channels + c;
                *steps.get_mut(at)? = step as f32;
            }
        }
    }
    Some(steps)
}

/// The light of a stream; `None` where a pixel type states no intensity.
///
/// # Errors
/// Faulty frames.
pub fn light_of(
    prop: &Prop,
    stream: &mut dyn FrameStream,
) -> Result<Option<LightOutput>, InputErrors> {
    let Some(steps) = candela_steps(prop) else {
        return Ok(None);
    };
    let (mut sum, mut brightest, mut lit, mut frames) = (0.0, 0.0_f64, 0u64, 0u64);
    let mut chunk = Chunk::default();
    while stream.fill(&mut chunk, CHUNK_FRAMES)? > 0 {
        for (_, levels) in chunk.frames() {
            let light: f32 = levels
                .iter()
                .zip(&steps)
                .map(|(l, s)| f32::from(*l) * s)
                .sum();
            let light = f64::from(light);
            frames += 1;
            if light > 0.0 {
                lit += 1;
                sum += light;
                brightest = brightest.max(light);
            }
        }
    }
    Ok(Some(LightOutput {
        mean_cd: sum / lit.max(1) as f64,
        brightest_cd: brightest,
        lit_share: lit as f64 / frames.max(1) as f64,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    // ISO/CIE 11664-4: Y 0.18 has L* 49.496; a duty of 1/255 has 3.54, of 128/255 has 76.19.
    #[test]
    fn lightness_meets_the_worked_values() {
        for (y, l) in [
            (0.18, 49.496),
            (1.0 / 255.0, 3.542),
            (128.0 / 255.0, 76.19),
            (1.0, 100.0),
            (0.0, 0.0),
        ] {
            assert!((lightness(y) - l).abs() < 5e-3, "{y}: {}", lightness(y));
        }
    }

    #[test]
    fn half_the_light_is_three_quarters_of_the_brightness() {
        let of = |mean_cd| LightOutput {
            mean_cd,
            brightest_cd: mean_cd,
            lit_share: 0.5,
        };
        let lost = LightLost::between(Some(of(8.0)), Some(of(4.0)));
        assert!(lost.is_some_and(
            |l| (l.luminous_share - 0.5).abs() < 1e-12 && (l.lightness - 76.07).abs() < 0.01
        ));
        assert_eq!(LightLost::between(Some(of(0.0)), Some(of(0.0))), None);
    }
}
