//! Which current each wire carries in the frame in which the cell gives most.

use super::watch::StudyError;
use crate::build::prop::Prop;
use crate::profile::bench::Bench;
use crate::profile::circuit::BranchKind;
use crate::profile::condition::Condition;
use crate::profile::{shown, Chunk, FrameStream};

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
        let wires: Vec<Option<usize>> = (bench.circuit().branches.iter())
            .map(|b| (b.kind == BranchKind::Wire).then_some(b.index))
            .collect();
        let period_s = stream.period_s();
        let mut chunk = Chunk::default();
        while stream.fill(&mut chunk, CHUNK)? > 0 {
            bench.play(shown(self.prop, &chunk, period_s), |_, figures| {
                if figures.cell_a.is_finite() && figures.cell_a > self.cell_a {
                    self.cell_a = figures.cell_a;
                    self.played = format!("{name} at {:.2} s", figures.moment.time_s);
                    self.take(&wires, &figures.branch_a);
                }
            });
        }
        Ok(())
    }

    fn take(&mut self, wires: &[Option<usize>], branch_a: &[f64]) {
        for (wire, amperes) in wires.iter().zip(branch_a) {
            if let Some(slot) = wire.and_then(|i| self.currents.get_mut(i)) {
                *slot = Some(*amperes);
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
