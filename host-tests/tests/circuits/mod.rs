//! Circuits and pixel laws that several tests share.
#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

pub(crate) mod random;

use lampwright::electrical::{
    Channel, Feed, NodeId, PixelLaw, PixelType, Rail, Ramp, MAX_CHANNELS,
};
use proptest::test_runner::{Config as ProptestConfig, FileFailurePersistence};

/// Reads a file of `reference/`.
pub(crate) fn reference(name: &str) -> serde_json::Value {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("reference")
        .join(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).unwrap()
}

/// As many cases as `PROPTEST_CASES` asks for, else `usual`. Failing cases are kept beside the test
/// file (`.regressions`) and tried first from then on.
pub(crate) fn cases(usual: u32) -> ProptestConfig {
    let asked = std::env::var("PROPTEST_CASES").ok();
    let cases = asked.and_then(|text| text.parse().ok()).unwrap_or(usual);
    ProptestConfig {
        cases,
        // One in four networks has no strip, for some laws too few to count.
        max_global_rejects: cases.saturating_mul(2).max(1024),
        failure_persistence: Some(Box::new(FileFailurePersistence::WithSource("regressions"))),
        ..ProptestConfig::default()
    }
}

/// A pixel of three channels with the turn-on voltages of red, green and blue dice.
pub(crate) fn rgb_pixel() -> PixelType {
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

/// An ideal sink of one channel: full current from 10 mV on.
pub(crate) fn sink_pixel(full_a: f64) -> PixelType {
    let ramp = Ramp {
        off_v: 0.0,
        full_v: 0.01,
    };
    PixelType::new(&[Channel { full_a, ramp }], 0.0, ramp).unwrap()
}

/// Both rails fed at one pixel.
pub(crate) fn feed_pair(
    pixel: usize,
    pos: NodeId,
    neg: NodeId,
    pos_ohm: f64,
    neg_ohm: f64,
) -> [Feed; 2] {
    [
        Feed {
            rail: Rail::Positive,
            pixel,
            node: pos,
            ohm: pos_ohm,
        },
        Feed {
            rail: Rail::Negative,
            pixel,
            node: neg,
            ohm: neg_ohm,
        },
    ]
}

/// Shape of the current between turn-on and full.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Shape {
    Clip,
    Soft(f64),
    SmoothStep,
}

impl Shape {
    /// Share and its derivative.
    pub(crate) fn at(self, x: f64) -> (f64, f64) {
        match self {
            Shape::Clip => (
                x.clamp(0.0, 1.0),
                if x > 0.0 && x < 1.0 { 1.0 } else { 0.0 },
            ),
            Shape::Soft(eps) => {
                let low = (x * x + eps * eps).sqrt();
                let high = ((x - 1.0) * (x - 1.0) + eps * eps).sqrt();
                (0.5 * (1.0 + low - high), 0.5 * (x / low - (x - 1.0) / high))
            }
            Shape::SmoothStep => {
                let u = x.clamp(0.0, 1.0);
                (u * u * (3.0 - 2.0 * u), 6.0 * u * (1.0 - u))
            }
        }
    }
}

/// A pixel law of any shape.
#[derive(Debug, Clone)]
pub(crate) struct ShapedPixel {
    pub(crate) shape: Shape,
    pub(crate) channels: Vec<Ramp>,
    pub(crate) dark_a: f64,
    pub(crate) dark: Ramp,
}

impl PixelLaw for ShapedPixel {
    fn channels(&self) -> usize {
        self.channels.len()
    }
    fn full_a(&self, _channel: usize) -> f64 {
        0.012
    }
    fn current(&self, set_a: &[f64; MAX_CHANNELS], supply_v: f64) -> (f64, f64) {
        let (mut a, mut s) = (0.0, 0.0);
        let dark = std::iter::once((&self.dark_a, &self.dark));
        for (set, ramp) in set_a.iter().zip(&self.channels).chain(dark) {
            let width = ramp.full_v - ramp.off_v;
            let (g, slope) = self.shape.at((supply_v - ramp.off_v) / width);
            a += set * g;
            s += set * slope / width;
        }
        (a, s)
    }
    fn saturation_v(&self) -> f64 {
        match self.shape {
            // Its tails never end.
            Shape::Soft(_) => f64::INFINITY,
            _ => self
                .channels
                .iter()
                .map(|r| r.full_v)
                .fold(self.dark.full_v, f64::max),
        }
    }
    fn dark_a(&self) -> f64 {
        self.dark_a
    }
}
