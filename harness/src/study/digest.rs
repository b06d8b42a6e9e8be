//! A trace told in a few hundred frames: each stands for a run of similar ones and lasts as long as they do.
//!
//! A bench steps exactly over any length of constant current (cell and thermal averages have closed
//! forms), so a digest is played by the very code that plays the trace. What is lost is the spread of
//! currents within a run and frames that come close to the worst without being it. A digest therefore
//! proves nothing: searches use it for a guess that full plays then confirm, and a sweep measures its
//! error on full plays and plays in full whatever lies within that error of a limit.

use super::verdict::CheckResult;
use super::watch::{StudyError, Watcher};
use crate::build::diag::InputErrors;
use crate::build::prop::Prop;
use crate::profile::condition::Condition;
use crate::profile::figures::Moment;
use crate::profile::{sound, Chunk, FrameStream, Shown};
use lampwright_model::Preset;
use std::collections::BTreeSet;

const CHUNK_FRAMES: usize = 512;
/// Longest run of frames that one frame may stand for, seconds: within the trace, and before a frame
/// that was the worst of a check. Contacts average over a second, wires over ten.
const LONGEST_S: f64 = 2.0;
const LONGEST_NEAR_S: f64 = 0.2;
/// Change of a strip's light, as a share of the largest total, that still counts as the same; widened where a trace would
/// not come down to few frames.
const CHANGE: f32 = 0.02;
/// How long before a worst frame the fine runs begin, seconds.
const NEAR_S: f64 = 2.0;
/// Frames with the most light in total and in each strip that are kept one by one.
const BRIGHTEST: usize = 6;

/// One frame of a digest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DigestFrame {
    /// The moment of the frame that stands for the run.
    pub moment: Moment,
    /// How long the run lasts, seconds.
    pub period_s: f64,
    /// Mean drive of the run over that of the frame.
    pub weight: f64,
}

/// A trace told in a few frames. See the [module](self).
#[derive(Debug, Clone)]
pub struct Digest {
    frames: Vec<DigestFrame>,
    levels: Vec<u8>,
    frame_len: usize,
}

/// What is kept of every frame while the runs are cut.
struct Outline {
    moments: Vec<Moment>,
    /// Sum of the drive levels of each strip, frame after frame.
    sums: Vec<f32>,
    sounds: Vec<f64>,
    strips: usize,
    period_s: f64,
}

impl Outline {
    fn sums(&self, frame: usize) -> &[f32] {
        self.sums
            .get(frame * self.strips..(frame + 1) * self.strips)
            .unwrap_or_default()
    }

    fn sound(&self, frame: usize) -> f64 {
        self.sounds.get(frame).copied().unwrap_or(0.0)
    }

    fn total(&self, frame: usize) -> f32 {
        self.sums(frame).iter().sum()
    }
}

impl Digest {
    /// Digests a trace to about `most` frames. `open` starts it from its beginning; `worst` are results
    /// of a full play, whose worst frames are kept one by one.
    ///
    /// # Errors
    /// Faulty frames.
    pub fn of<'s>(
        prop: &Prop,
        open: &mut dyn FnMut() -> Result<Box<dyn FrameStream + 's>, InputErrors>,
        worst: &[CheckResult],
        most: usize,
    ) -> Result<Self, InputErrors> {
        let outline = outline(prop, open()?.as_mut())?;
        let keys = keys(&outline, worst);
        let mut change = CHANGE;
        let mut runs = cut(&outline, &keys, change);
        while runs.len() > most && change < 1.0 {
            change *= 1.5;
            runs = cut(&outline, &keys, change);
        }
        let mut digest = Self {
            frames: Vec::with_capacity(runs.len()),
            levels: Vec::new(),
            frame_len: 0,
        };
        digest.fill(&outline, &runs, open()?.as_mut())?;
        Ok(digest)
    }

    /// Fetches the levels of the frame that comes nearest to the root mean square of its run.
    fn fill(
        &mut self,
        outline: &Outline,
        runs: &[(usize, usize)],
        stream: &mut dyn FrameStream,
    ) -> Result<(), InputErrors> {
        let mut wanted = runs.iter().map(|run| (typical(outline, *run), *run));
        let mut next = wanted.next();
        let mut chunk = Chunk::default();
        let mut index = 0;
        while stream.fill(&mut chunk, CHUNK_FRAMES)? > 0 {
            self.frame_len = chunk.frame_len;
            for (_, levels) in chunk.frames() {
                if let Some((_, run)) = next.filter(|(frame, _)| *frame == index) {
                    if let Some(moment) = outline.moments.get(index) {
                        self.levels.extend_from_slice(levels);
                        self.frames.push(DigestFrame {
                            moment: *moment,
                            period_s: (run.1 - run.0) as f64 * outline.period_s,
                            weight: weight(outline, index, run),
                        });
                    }
                    next = wanted.next();
                }
                index += 1;
            }
        }
        Ok(())
    }

    /// The frames of the same moments from another stream.
    ///
    /// # Errors
    /// Faulty frames.
    pub fn retaken(&self, stream: &mut dyn FrameStream) -> Result<Self, InputErrors> {
        let mut copy = Self {
            frames: self.frames.clone(),
            levels: Vec::with_capacity(self.levels.len()),
            frame_len: self.frame_len,
        };
        let mut wanted = self.frames.iter().map(|f| f.moment.frame).peekable();
        let mut chunk = Chunk::default();
        while stream.fill(&mut chunk, CHUNK_FRAMES)? > 0 {
            for (meta, levels) in chunk.frames() {
                if wanted.next_if_eq(&meta.index).is_some() {
                    copy.levels.extend_from_slice(levels);
                }
            }
        }
        Ok(copy)
    }

    /// Its frames with their levels.
    pub fn frames(&self) -> impl Iterator<Item = (&DigestFrame, &[u8])> {
        self.frames
            .iter()
            .zip(self.levels.chunks_exact(self.frame_len.max(1)))
    }

    /// Its frames as they are played, with the sound of a prop.
    pub fn shown<'f>(&'f self, prop: &'f Prop) -> impl Iterator<Item = Shown<'f>> {
        self.frames().map(|(frame, levels)| Shown {
            levels,
            moment: frame.moment,
            period_s: frame.period_s,
            sound: sound::level(&prop.sound, &frame.moment),
        })
    }

    /// Number of frames.
    pub fn len(&self) -> usize {
        self.frames.len()
    }

    /// Whether it has no frame.
    pub fn is_empty(&self) -> bool {
        self.frames.is_empty()
    }

    /// The same with levels changed frame by frame.
    #[must_use]
    pub fn with_levels(&self, mut change: impl FnMut(&mut [u8])) -> Self {
        let mut copy = self.clone();
        for levels in copy.levels.chunks_exact_mut(self.frame_len.max(1)) {
            change(levels);
        }
        copy
    }

    /// Plays it under one condition and gives the checks' results.
    ///
    /// # Errors
    /// A netlist that cannot be solved.
    pub fn play(
        &self,
        prop: &Prop,
        preset: Option<&Preset>,
        condition: Condition,
    ) -> Result<Vec<CheckResult>, StudyError> {
        let mut watcher = Watcher::new(prop, preset, condition)?;
        watcher.play_frames(self.shown(prop), |_, _| ());
        Ok(watcher.results())
    }

    /// Plays it twice, the first time only to bring the cell into the state in which it is met again and
    /// again when the trace is looped. Gives also the mean cell current of the second pass, in which what a
    /// frame draws above `dark_a` counts with the mean drive of its run.
    pub(super) fn play_settled<'p>(
        &self,
        prop: &'p Prop,
        preset: Option<&Preset>,
        condition: Condition,
        dark_a: f64,
    ) -> Result<(Watcher<'p>, f64), StudyError> {
        let mut extra_c = 0.0;
        let mut watcher = Watcher::new(prop, preset, condition)?;
        for pass in 0..2 {
            if pass == 1 {
                watcher.forget(preset);
            }
            let mut weights = self.frames.iter().map(|f| f.weight);
            watcher.play_frames(self.shown(prop), |frame, cell_a| {
                let weight = weights.next().unwrap_or(1.0);
                let lit_a = cell_a - dark_a;
                if pass == 1 && lit_a.is_finite() {
                    extra_c += lit_a * (weight - 1.0) * frame.period_s;
                }
            });
        }
        let mean_a = watcher.mean_a() + extra_c / watcher.time_s();
        Ok((watcher, mean_a))
    }
}

fn weight(outline: &Outline, frame: usize, (from, to): (usize, usize)) -> f64 {
    let mean = (from..to).map(|f| outline.total(f)).sum::<f32>() / (to - from) as f32;
    let own = outline.total(frame);
    if own > 0.0 {
        f64::from(mean / own)
    } else {
        1.0
    }
}

/// Whether a check's result can be read from a digest: checks of light and timing need every frame.
pub fn digestible(result: &CheckResult) -> bool {
    !matches!(
        result.id,
        "flash-rate" | "response-time" | "rise-fall-time" | "frame-time" | "polarity"
    )
}

fn outline(prop: &Prop, stream: &mut dyn FrameStream) -> Result<Outline, InputErrors> {
    let channels = prop.frame_channels();
    let spans: Vec<(usize, usize)> = prop
        .strips()
        .map(|(_, s)| {
            let first = s.first as usize * channels;
            (first, first + s.pixels as usize * channels)
        })
        .collect();
    let mut out = Outline {
        moments: Vec::new(),
        sums: Vec::new(),
        sounds: Vec::new(),
        strips: spans.len(),
        period_s: stream.period_s(),
    };
    let mut chunk = Chunk::default();
    while stream.fill(&mut chunk, CHUNK_FRAMES)? > 0 {
        for (meta, levels) in chunk.frames() {
            let moment = Moment::from(meta);
            out.sounds.push(sound::level(&prop.sound, &moment));
            out.moments.push(moment);
            for (from, to) in &spans {
                let sum: u32 = levels
                    .get(*from..*to)
                    .unwrap_or_default()
                    .iter()
                    .map(|l| u32::from(*l))
                    .sum();
                out.sums.push(sum as f32);
            }
        }
    }
    Ok(out)
}

/// Frames that stand for themselves: the worst of every check, and the brightest.
fn keys(outline: &Outline, worst: &[CheckResult]) -> BTreeSet<usize> {
    let mut keys: BTreeSet<usize> = worst
        .iter()
        .filter(|r| digestible(r))
        .filter_map(|r| usize::try_from(r.frame?).ok())
        .collect();
    let frames = outline.moments.len();
    let mut brightest = |value: &dyn Fn(usize) -> f32| {
        let mut order: Vec<usize> = (0..frames).collect();
        let count = BRIGHTEST.min(frames);
        if count > 0 {
            order.select_nth_unstable_by(count - 1, |a, b| value(*b).total_cmp(&value(*a)));
        }
        keys.extend(order.into_iter().take(count));
    };
    brightest(&|f| outline.total(f));
    for strip in 0..outline.strips {
        brightest(&|f| outline.sums(f).get(strip).copied().unwrap_or(0.0));
    }
    keys
}

/// Cuts the trace into runs `[from, to)` within which no strip's sum changes by more than `change` of
/// the largest total, the sound stays (but for as much as `change` has been widened), and no key frame lies but alone.
fn cut(outline: &Outline, keys: &BTreeSet<usize>, change: f32) -> Vec<(usize, usize)> {
    let frames = outline.moments.len();
    let largest = (0..frames).map(|f| outline.total(f)).fold(1.0, f32::max);
    let limit = change * largest;
    let most = |seconds: f64| ((seconds / outline.period_s).round() as usize).max(1);
    // Coarser where the change is large too, so that any trace comes down to few runs.
    let stretch = f64::from((change / CHANGE).max(1.0));
    let (far, near, window) = (
        most(LONGEST_S * stretch),
        most(LONGEST_NEAR_S),
        most(NEAR_S / stretch),
    );
    let mut runs = Vec::new();
    let mut from = 0;
    while from < frames {
        let mut to = from + 1;
        if !keys.contains(&from) {
            let is_near = keys.range(from..from + window).next().is_some();
            let longest = if is_near { near } else { far };
            while to < frames
                && to - from < longest
                && !keys.contains(&to)
                && (outline.sound(to) - outline.sound(from)).abs()
                    <= f64::from(change - CHANGE).max(0.0)
                && outline
                    .sums(to)
                    .iter()
                    .zip(outline.sums(from))
                    .all(|(a, b)| (a - b).abs() <= limit)
            {
                to += 1;
            }
        }
        runs.push((from, to));
        from = to;
    }
    runs
}

/// The frame whose total comes nearest to the root mean square of its run.
fn typical(outline: &Outline, (from, to): (usize, usize)) -> usize {
    let square: f32 = (from..to).map(|f| outline.total(f).powi(2)).sum();
    let mean = (square / (to - from) as f32).sqrt();
    let distance = |f: &usize| (outline.total(*f) - mean).abs();
    (from..to)
        .min_by(|a, b| distance(a).total_cmp(&distance(b)))
        .unwrap_or(from)
}
