//! Flashes of one trace at many settings: caps, or budgets of a limiter.
//!
//! The flash check needs the light of the frames and no solver. What settings have in common is drawn once; each then
//! looks at it in its own way.

use super::checks::{Check as _, FlashRate};
use super::screen::Known;
use crate::build::diag::InputErrors;
use crate::build::prop::Prop;
use crate::profile::figures::{Light, Moment};
use crate::profile::{Chunk, FrameMeta, FrameStream, LightMeter, Uncapped};
use lampwright_model::limiter::Limiter;
use lampwright_model::Millis;
use rayon::prelude::*;

const CHUNK_FRAMES: usize = 512;
/// Settings drawn each for itself between two looks at whether one flashed.
const AT_ONCE: usize = 16;

/// Frames drawn once for many settings.
pub trait DrawnOnce {
    /// Some frames as drawn.
    type Frames: Sync;
    /// A setting, with what it carries from frame to frame.
    type Setting: Send;

    /// Draws the next frames; `None` at the end.
    ///
    /// # Errors
    /// Faulty frames.
    fn draw(&mut self) -> Result<Option<&Self::Frames>, InputErrors>;

    /// Hands over the light of each frame as it is at a setting.
    fn look(frames: &Self::Frames, setting: &mut Self::Setting, see: impl FnMut(&Light, &Moment));
}

/// The place of the first setting whose flash check is a failure that less light mends.
///
/// # Errors
/// Faulty frames.
pub fn first_flashing<D: DrawnOnce>(
    prop: &Prop,
    mut drawn: D,
    settings: impl Iterator<Item = D::Setting>,
    known: &Known<'_>,
) -> Result<Option<usize>, InputErrors> {
    let mut looks: Vec<_> = settings.map(|s| (s, FlashRate::of(prop))).collect();
    while let Some(frames) = drawn.draw()? {
        looks.par_iter_mut().for_each(|(setting, check)| {
            D::look(frames, setting, |light, moment| check.see(light, moment));
        });
    }
    Ok(looks.iter().position(|(_, check)| flashes(check, known)))
}

/// The same for frames that have to be had anew at each setting; `open` starts one and is called on several cores at once.
///
/// # Errors
/// Faulty frames.
pub fn first_flashing_of<'t>(
    prop: &Prop,
    settings: &[u8],
    open: &(dyn Fn(u8) -> Result<Box<dyn FrameStream + 't>, InputErrors> + Sync),
    known: &Known<'_>,
) -> Result<Option<usize>, InputErrors> {
    let meter = LightMeter::of(prop);
    for (some, first) in settings.chunks(AT_ONCE).zip((0..).step_by(AT_ONCE)) {
        let each = some
            .par_iter()
            .map(|setting| look_alone(prop, &meter, open(*setting)?.as_mut()))
            .collect::<Result<Vec<_>, InputErrors>>()?;
        if let Some(found) = each.iter().position(|check| flashes(check, known)) {
            return Ok(Some(first + found));
        }
    }
    Ok(None)
}

fn look_alone(
    prop: &Prop,
    meter: &LightMeter,
    stream: &mut dyn FrameStream,
) -> Result<FlashRate, InputErrors> {
    let mut check = FlashRate::of(prop);
    let mut chunk = Chunk::default();
    while stream.fill(&mut chunk, CHUNK_FRAMES)? > 0 {
        for (meta, levels) in chunk.frames() {
            check.see(&meter.read(levels), &Moment::from(meta));
        }
    }
    Ok(check)
}

fn flashes(check: &FlashRate, known: &Known<'_>) -> bool {
    check.results().iter().any(known.mendable)
}

/// A preset at caps.
pub struct AtCaps<'p>(pub Uncapped<'p>);

impl<'p> DrawnOnce for AtCaps<'p> {
    type Frames = Uncapped<'p>;
    type Setting = u8;

    fn draw(&mut self) -> Result<Option<&Uncapped<'p>>, InputErrors> {
        let drawn = self.0.draw(CHUNK_FRAMES)?;
        Ok((drawn > 0).then_some(&self.0))
    }

    fn look(frames: &Uncapped<'p>, cap: &mut u8, mut see: impl FnMut(&Light, &Moment)) {
        for (meta, light) in frames.lights(*cap) {
            see(&light, &Moment::from(meta));
        }
    }
}

/// Any frames behind limiters.
pub struct AtBudgets<'s> {
    stream: Box<dyn FrameStream + 's>,
    frames: Unlimited,
}

/// Frames as they come to a limiter.
pub struct Unlimited {
    chunk: Chunk,
    meter: LightMeter,
}

/// A limiter with room for a frame.
pub struct Behind<'s> {
    limiter: Limiter<'s>,
    levels: Vec<u8>,
}

impl<'s> Behind<'s> {
    /// A limiter that has seen nothing.
    pub fn new(limiter: Limiter<'s>) -> Self {
        Self {
            limiter,
            levels: Vec::new(),
        }
    }
}

impl<'s> AtBudgets<'s> {
    /// A stream from its start.
    pub fn new(stream: Box<dyn FrameStream + 's>, meter: LightMeter) -> Self {
        Self {
            stream,
            frames: Unlimited {
                chunk: Chunk::default(),
                meter,
            },
        }
    }
}

impl<'s> DrawnOnce for AtBudgets<'s> {
    type Frames = Unlimited;
    type Setting = Behind<'s>;

    fn draw(&mut self) -> Result<Option<&Unlimited>, InputErrors> {
        let drawn = self.stream.fill(&mut self.frames.chunk, CHUNK_FRAMES)?;
        Ok((drawn > 0).then_some(&self.frames))
    }

    fn look(frames: &Unlimited, behind: &mut Behind<'s>, mut see: impl FnMut(&Light, &Moment)) {
        for (meta, levels) in frames.chunk.frames() {
            behind.levels.clear();
            behind.levels.extend_from_slice(levels);
            limit(&mut behind.limiter, meta, &mut behind.levels);
            see(&frames.meter.read(&behind.levels), &Moment::from(meta));
        }
    }
}

/// Has a limiter dim a frame at its time.
pub fn limit(limiter: &mut Limiter<'_>, meta: &FrameMeta, levels: &mut [u8]) {
    // The counter has 32 bits: what is above them is lost, as on the board.
    let now = Millis((meta.time_s * 1e3).round() as u64 as u32);
    limiter.apply(now, levels);
}
