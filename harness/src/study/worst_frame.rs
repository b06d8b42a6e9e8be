//! Which current each wire carries in the frame in which the cell gives most.

use super::watch::StudyError;
use crate::build::prop::Prop;
use crate::profile::bench::Bench;
use crate::profile::circuit::BranchKind;
use crate::profile::condition::Condition;
use crate::profile::figures::Moment;
use crate::profile::sound;
use crate::profile::{Chunk, FrameStream};

/// Frames rendered at a time.
const CHUNK: usize = 512;

/// Looks for the worst frame over several streams, in the nominal case.
#[derive(Debug)]
pub struct WorstFrame<'a> {
    prop: &'a Prop,
    cell_a: f64,
    currents: Vec<Option<f64>>,
    played: String,
}

impl<'a> WorstFrame<'a> {
    /// Nothing seen yet.
    pub fn new(prop: &'a Prop) -> Self {
        Self {
            prop,
            cell_a: f64::NEG_INFINITY,
            currents: vec![None; prop.wires.len()],
            played: String::new(),
        }
    }

    /// Plays a stream to its end.
    ///
    /// # Errors
    /// Faulty frames, or a netlist that cannot be solved.
    pub fn play(&mut self, stream: &mut dyn FrameStream, name: &str) -> Result<(), StudyError> {
        let mut bench = Bench::new(self.prop, Condition::nominal())?;
        let period_s = stream.period_s();
        let mut chunk = Chunk::default();
        while stream.fill(&mut chunk, CHUNK)? > 0 {
            for (meta, levels) in chunk.frames() {
                let moment = Moment::from(meta);
                let sound = sound::level(&self.prop.sound, &moment);
                let figures = bench.step(levels, moment, period_s, sound);
                let (cell_a, time_s) = (figures.cell_a, figures.moment.time_s);
                if cell_a.is_finite() && cell_a > self.cell_a {
                    self.cell_a = cell_a;
                    self.played = format!("{name} at {time_s:.2} s");
                    let branch_a = figures.branch_a.clone();
                    self.take(&bench, &branch_a);
                }
            }
        }
        Ok(())
    }

    fn take(&mut self, bench: &Bench<'_>, branch_a: &[f64]) {
        for (info, amperes) in bench.circuit().branches.iter().zip(branch_a) {
            if info.kind == BranchKind::Wire {
                if let Some(slot) = self.currents.get_mut(info.index) {
                    *slot = Some(*amperes);
                }
            }
        }
    }

    /// Average current of each wire in that frame, amperes, signed; `None` for wires that carry no supply.
    pub fn currents(&self) -> Vec<Option<f64>> {
        self.currents.clone()
    }

    /// Which frame it was.
    pub fn played(&self) -> &str {
        &self.played
    }
}
