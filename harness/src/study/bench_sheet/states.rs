//! The states of a prop that can be held on the bench: the average picture of each state of each preset.

use crate::build::diag::InputErrors;
use crate::build::prop::Prop;
use crate::profile::figures::Moment;
use crate::profile::sound;
use crate::profile::{Chunk, FrameStream};
use lampwright_model::State;

/// A state with its average picture.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchState {
    /// Preset and state in words.
    pub name: String,
    /// Average level of every channel of the frame.
    pub levels: Vec<u8>,
    /// Whether it lasts, so that its pixels can be counted.
    pub steady: bool,
    /// Average share of the amplifier's full power.
    pub sound: f64,
}

/// The states to take where no preset is given: nothing lit, everything at the cap.
pub fn plain(prop: &Prop, cap: u8) -> Vec<BenchState> {
    let length = prop.pixels() as usize * prop.frame_channels();
    let state = |name: &str, level| BenchState {
        name: name.to_owned(),
        levels: vec![level; length],
        steady: true,
        sound: 0.0,
    };
    vec![
        state("every pixel off", 0),
        state(&format!("every pixel white at cap {cap}"), cap),
    ]
}

/// Sums over the frames of one state.
#[derive(Debug)]
struct Sum {
    state: State,
    levels: Vec<u64>,
    sound: f64,
    frames: u64,
}

/// The average picture of each state that a stream passes through.
///
/// # Errors
/// Faulty frames.
pub fn of_stream(
    prop: &Prop,
    stream: &mut dyn FrameStream,
    name: &str,
) -> Result<Vec<BenchState>, InputErrors> {
    let mut sums: Vec<Sum> = Vec::new();
    let mut chunk = Chunk::default();
    while stream.fill(&mut chunk, 512)? > 0 {
        for (meta, levels) in chunk.frames() {
            let moment = Moment::from(meta);
            let loud = sound::level(&prop.sound, &moment);
            // Frames that do not tell their state count as lit.
            let state = meta.state.unwrap_or(State::Lit);
            let index = match sums.iter().position(|s| s.state == state) {
                Some(index) => index,
                None => {
                    sums.push(Sum {
                        state,
                        levels: vec![0; levels.len()],
                        sound: 0.0,
                        frames: 0,
                    });
                    sums.len() - 1
                }
            };
            if let Some(sum) = sums.get_mut(index) {
                for (slot, level) in sum.levels.iter_mut().zip(levels) {
                    *slot += u64::from(*level);
                }
                sum.sound += loud;
                sum.frames += 1;
            }
        }
    }
    let average = |s: Sum| BenchState {
        name: format!("{name}, {}", s.state.name()),
        levels: s
            .levels
            .iter()
            .map(|l| u8::try_from((l + s.frames / 2) / s.frames.max(1)).unwrap_or(u8::MAX))
            .collect(),
        steady: matches!(s.state, State::Dark | State::Lit),
        sound: s.sound / s.frames.max(1) as f64,
    };
    Ok(sums.into_iter().map(average).collect())
}
