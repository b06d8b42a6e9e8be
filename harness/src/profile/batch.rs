//! Frames played eight at a time.
//!
//! A frame's currents move the cell, and so the EMF under which the next frame is solved. A batch takes the
//! currents first as the strips ask for them, steps the cell through its frames exactly with these, solves all
//! frames side by side under the EMFs that come out, and steps the cell again with the currents found, until
//! the EMFs stand still. In a batch of 0.13 s a cell's EMF answers to 1 A more by some 10 µV, and a current to
//! that by some 0.1 mA: the second round is the last one, and it only has to shift the first solution.
//!
//! A frame that does not settle in its lane is solved by the scalar solver. A batch in which a frame has no
//! operating point, or whose EMFs do not settle, is played frame by frame.

use super::bench::{Bench, Setting, MOST_TRIES};
use super::figures::{Figures, Moment};
use super::light::{take_levels, LightSum};
use super::reading::{peak_scale, read_average};
use super::{sound, Chunk};
use crate::build::prop::Prop;
use crate::electrical::{
    CellModel, CellState, Drive, LaneSolver, Reading, SolveError, Solver, SourceDrive, StripDrive,
    LANES,
};

/// How far an EMF may still move for a batch to count as settled, volts.
const SETTLED_V: f64 = 1e-8;
/// Rounds after which a batch is played frame by frame.
const MOST_ROUNDS: usize = 10;

/// A frame to be played.
#[derive(Debug, Clone, Copy)]
pub struct Shown<'f> {
    /// Drive levels of the whole frame: pixels times channels of the prop.
    pub levels: &'f [u8],
    /// When.
    pub moment: Moment,
    /// How long, seconds.
    pub period_s: f64,
    /// Share of the amplifier's full power, 0..1.
    pub sound: f64,
}

/// The frames of a chunk with their sound.
pub fn shown<'f>(
    prop: &'f Prop,
    chunk: &'f Chunk,
    period_s: f64,
) -> impl Iterator<Item = Shown<'f>> {
    chunk.frames().map(move |(meta, levels)| {
        let moment = Moment::from(meta);
        Shown {
            levels,
            moment,
            period_s,
            sound: sound::level(&prop.sound, &moment),
        }
    })
}

/// Workspace of one frame of a batch.
#[derive(Clone)]
pub(super) struct Slot {
    figures: Figures,
    /// Drive levels of each strip, where they are not simply a part of the frame.
    levels: Vec<Vec<u8>>,
    loads: Vec<f64>,
    sources: Vec<SourceDrive>,
    scales: Vec<f64>,
    /// Average current out of each cell.
    cell_a: Vec<f64>,
    /// Each cell at the start of the frame.
    states: Vec<CellState>,
    /// Whether the frame was solved by the scalar solver.
    alone: bool,
}

impl Slot {
    pub(super) fn new(
        figures: &Figures,
        levels: &[Vec<u8>],
        loads: &[f64],
        sources: &[SourceDrive],
    ) -> Self {
        Self {
            figures: figures.clone(),
            levels: levels.to_vec(),
            loads: loads.to_vec(),
            sources: sources.to_vec(),
            scales: vec![1.0; levels.len()],
            cell_a: Vec::new(),
            states: Vec::new(),
            alone: false,
        }
    }
}

/// Workspace of a batch.
pub(super) struct Batch {
    lanes: LaneSolver,
    slots: Vec<Slot>,
    /// Each cell after the last frame.
    after: Vec<CellState>,
    /// How the last frame's cell currents followed from what its strips asked for: the share that they got,
    /// what flowed beside, and each cell's share of the sum.
    share: f64,
    beside_a: f64,
    of_cell: Vec<f64>,
}

impl Batch {
    pub(super) fn new(lanes: LaneSolver, mut slot: Slot, cells: usize) -> Self {
        let rest = CellState::at_rest(0.0, 0.0);
        slot.cell_a = vec![0.0; cells];
        slot.states = vec![rest; cells];
        Self {
            lanes,
            slots: vec![slot; LANES],
            after: vec![rest; cells],
            share: 1.0,
            beside_a: 0.0,
            of_cell: vec![1.0 / cells.max(1) as f64; cells],
        }
    }

    /// Takes the frames over; false if one does not fit the prop.
    fn take(&mut self, set: &Setting, frames: &[Shown<'_>]) -> bool {
        let mut light: [LightSum; LANES] = Default::default();
        for (k, (info, law)) in (set.lowered.circuit.strips.iter().zip(&set.laws)).enumerate() {
            let pixels = info.pixels as usize;
            let first = info.first as usize * set.frame_channels;
            let end = first + pixels * set.frame_channels;
            let copied = info.channels != set.frame_channels;
            for (slot, shown) in self.slots.iter_mut().zip(frames).filter(|_| copied) {
                let frame = shown.levels.get(first..end).unwrap_or_default();
                if let Some(out) = slot.levels.get_mut(k) {
                    take_levels(frame, set.frame_channels, info.channels, out);
                }
            }
            let slots = &self.slots;
            let mut own: [&[u8]; LANES] = [&[]; LANES];
            for (l, slot) in own.iter_mut().enumerate() {
                // Lanes without a frame repeat the last one.
                let l = l.min(frames.len() - 1);
                *slot = if copied {
                    slots[l].levels.get(k).map_or(&[][..], |levels| levels)
                } else {
                    frames[l].levels.get(first..end).unwrap_or_default()
                };
            }
            let Some(id) = set.lowered.strips.get(k) else {
                return false;
            };
            let Ok(sums) = self.lanes.show(*id, &own) else {
                return false;
            };
            for (l, slot) in self.slots.iter_mut().enumerate().take(frames.len()) {
                if let Some(figures) = slot.figures.strips.get_mut(k) {
                    figures.lit = light[l].add(&sums[l], pixels);
                    set.take_currents(figures, law, pixels, &sums[l]);
                }
            }
        }
        for ((slot, shown), light) in self.slots.iter_mut().zip(frames).zip(light) {
            let f = &mut slot.figures;
            (f.moment, f.period_s, f.sound) = (shown.moment, shown.period_s, shown.sound);
            f.collapsed = None;
            f.light = light.finish();
            set.bulk
                .deliver(&set.lowered, std::iter::empty(), &mut slot.loads);
            if let Some(board) = &set.board {
                board.amounts(shown.sound, &mut slot.loads);
            }
        }
        for l in 0..LANES {
            let from = l.min(frames.len() - 1);
            self.lanes.ask(l, &self.slots[from].loads);
        }
        true
    }

    /// Cell currents as they would be if the strips got what they got in the last frame.
    fn guess(&mut self) {
        for slot in &mut self.slots {
            let asked: f64 = slot.figures.strips.iter().map(|s| s.average_a).sum();
            for (a, of_cell) in slot.cell_a.iter_mut().zip(&self.of_cell) {
                *a = (self.share * asked + self.beside_a) * of_cell;
            }
        }
    }

    fn learn(&mut self, last: usize) {
        let slot = &self.slots[last];
        let (mut asked, mut got) = (0.0, 0.0);
        for s in &slot.figures.strips {
            asked += s.average_a;
            got += s.delivered_a;
        }
        let sum: f64 = slot.cell_a.iter().sum();
        self.share = if asked > 0.0 { got / asked } else { 1.0 };
        self.beside_a = sum - got;
        for (share, a) in self.of_cell.iter_mut().zip(&slot.cell_a) {
            *share = if sum.abs() > 1e-9 { a / sum } else { *share };
        }
    }

    /// Steps the cells through the frames with their currents; gives how far an EMF moved.
    fn course(&mut self, cells: &[(CellModel, CellState)], count: usize) -> f64 {
        let mut moved: f64 = 0.0;
        for (k, (model, state)) in cells.iter().enumerate() {
            let mut state = *state;
            for slot in self.slots.iter_mut().take(count) {
                let (emf_v, ohm) = model.thevenin(&state);
                let a = slot.cell_a[k];
                if let Some(source) = slot.sources.get_mut(k) {
                    let off = (emf_v - source.emf_v).abs() + ((ohm - source.ohm) * a).abs();
                    moved = if off.is_nan() { off } else { moved.max(off) };
                    *source = SourceDrive { emf_v, ohm };
                }
                slot.states[k] = state;
                model.step(&mut state, a, slot.figures.period_s);
            }
            self.after[k] = state;
        }
        moved
    }

    /// Solves the frames at their average currents, with the cells' way through them.
    fn settle(
        &mut self,
        set: &Setting,
        cells: &[(CellModel, CellState)],
        scalar: &mut Solver,
        frames: &[Shown<'_>],
    ) -> bool {
        let count = frames.len();
        self.guess();
        self.course(cells, count);
        for _ in 0..MOST_ROUNDS {
            for l in 0..LANES {
                self.lanes.supply(l, &self.slots[l.min(count - 1)].sources);
            }
            let solved = self.lanes.run();
            for (l, solved) in solved.iter().enumerate() {
                if l >= count {
                    // A lane without a frame need not settle; what it is left with is no place to start.
                    if !solved {
                        self.lanes.restart(l, None);
                    }
                    continue;
                }
                self.slots[l].alone = !solved;
                if *solved {
                    let lane = self.lanes.lane(l);
                    take_cells(&mut self.slots[l].cell_a, &lane, set);
                } else if self.average_alone(l, set, scalar, frames).is_err() {
                    return false;
                }
            }
            if self.course(cells, count) <= SETTLED_V {
                for (l, slot) in self.slots.iter_mut().enumerate().take(count) {
                    if !slot.alone {
                        read_average(&mut slot.figures, &self.lanes.lane(l), &set.lowered);
                    }
                    if let Some(state) = slot.states.first() {
                        slot.figures.soc = state.soc;
                        slot.figures.cell_temperature_k = state.celsius + 273.15;
                    }
                }
                return true;
            }
        }
        false
    }

    fn average_alone(
        &mut self,
        l: usize,
        set: &Setting,
        scalar: &mut Solver,
        frames: &[Shown<'_>],
    ) -> Result<(), SolveError> {
        let slot = &mut self.slots[l];
        solve_alone(slot, set, scalar, &frames[l])?;
        let solution = scalar.solution();
        take_cells(&mut slot.cell_a, solution, set);
        read_average(&mut slot.figures, solution, &set.lowered);
        self.lanes.restart(l, Some(solution));
        Ok(())
    }

    /// Solves the frames at their coincidence peaks.
    fn peaks(&mut self, set: &Setting, scalar: &mut Solver, frames: &[Shown<'_>]) -> bool {
        let count = frames.len();
        for (k, (info, law)) in (set.lowered.circuit.strips.iter().zip(&set.laws)).enumerate() {
            let levels = info.pixels as usize * info.channels;
            let mut by = [1.0; LANES];
            for (by, slot) in by.iter_mut().zip(&mut self.slots) {
                if let (Some(s), Some(scale)) = (slot.figures.strips.get(k), slot.scales.get_mut(k))
                {
                    *scale = peak_scale(s, law, levels);
                    *by = *scale;
                }
            }
            let last = by[count - 1];
            by[count..].fill(last);
            if let Some(id) = set.lowered.strips.get(k) {
                self.lanes.rescale(*id, &by);
            }
        }
        let solved = self.run_peaks(set, count);
        self.lanes.survey();
        for (l, solved) in solved.iter().enumerate() {
            if l >= count {
                if !solved {
                    self.lanes.restart(l, None);
                }
                continue;
            }
            let slot = &mut self.slots[l];
            if *solved {
                set.read_peak(&mut slot.figures, &self.lanes.lane(l));
                continue;
            }
            if peak_alone(slot, set, scalar, &frames[l]).is_err() {
                return false;
            }
            set.read_peak(&mut slot.figures, scalar.solution());
            self.lanes.restart(l, Some(scalar.solution()));
        }
        true
    }

    /// Solves the lanes with what the capacitors deliver, again where that proves too much.
    fn run_peaks(&mut self, set: &Setting, count: usize) -> [bool; LANES] {
        if !set.bulk.helps() {
            return self.lanes.run();
        }
        let mut open = [true; LANES];
        let mut asked_a = [0.0; LANES];
        for tries in 0..=MOST_TRIES {
            for l in 0..LANES {
                let slot = &mut self.slots[l.min(count - 1)];
                if l < count && open[l] {
                    let lane = self.lanes.lane(l);
                    let solved = (tries > 0).then_some(&lane);
                    asked_a[l] = set.deliver(&slot.figures, solved, &mut slot.loads);
                }
                self.lanes.ask(l, &slot.loads);
            }
            let solved = self.lanes.run();
            for l in 0..count {
                let figures = &self.slots[l].figures;
                open[l] =
                    open[l] && solved[l] && set.exceeds(asked_a[l], figures, &self.lanes.lane(l));
            }
            if tries == MOST_TRIES || !open[..count].contains(&true) {
                return solved;
            }
        }
        [false; LANES]
    }
}

fn take_cells(cell_a: &mut [f64], solution: &impl Reading, set: &Setting) {
    for (a, id) in cell_a.iter_mut().zip(&set.lowered.sources) {
        *a = solution.source_a(*id);
    }
}

fn copy_levels(slot: &mut Slot, set: &Setting, shown: &Shown<'_>) {
    for (info, out) in set.lowered.circuit.strips.iter().zip(&mut slot.levels) {
        let first = info.first as usize * set.frame_channels;
        let frame = shown.levels.get(first..).unwrap_or_default();
        take_levels(frame, set.frame_channels, info.channels, out);
    }
}

fn solve_alone(
    slot: &mut Slot,
    set: &Setting,
    scalar: &mut Solver,
    shown: &Shown<'_>,
) -> Result<(), SolveError> {
    copy_levels(slot, set, shown);
    let strips: Vec<StripDrive<'_>> = slot.levels.iter().map(|l| StripDrive::Levels(l)).collect();
    scalar.solve(&Drive {
        strips: &strips,
        loads: &slot.loads,
        sources: &slot.sources,
    })?;
    Ok(())
}

fn peak_alone(
    slot: &mut Slot,
    set: &Setting,
    scalar: &mut Solver,
    shown: &Shown<'_>,
) -> Result<(), SolveError> {
    copy_levels(slot, set, shown);
    let strips: Vec<StripDrive<'_>> = (slot.levels.iter().zip(&slot.scales))
        .map(|(levels, scale)| StripDrive::ScaledLevels {
            levels,
            scale: *scale,
        })
        .collect();
    let (loads, sources) = (&mut slot.loads, &slot.sources);
    set.solve_peak(&slot.figures, scalar, &strips, loads, sources)
}

impl Bench<'_> {
    /// Plays frames one after the other, solving several side by side, and hands over each with its figures.
    /// The same as [`step`](Bench::step) for each, to 1 µV and 1 µA.
    pub fn play<'f>(
        &mut self,
        frames: impl Iterator<Item = Shown<'f>>,
        mut see: impl FnMut(&Shown<'f>, &Figures),
    ) {
        let mut frames = frames.fuse();
        while let Some(first) = frames.next() {
            let mut shown = [first; LANES];
            let mut count = 1;
            for (slot, frame) in shown[1..].iter_mut().zip(&mut frames) {
                *slot = frame;
                count += 1;
            }
            let shown = &shown[..count];
            if self.play_batch(shown) {
                for (frame, slot) in shown.iter().zip(&self.batch.slots) {
                    see(frame, &slot.figures);
                }
            } else {
                for f in shown {
                    see(f, self.step(f.levels, f.moment, f.period_s, f.sound));
                }
            }
        }
    }

    /// Plays up to [`LANES`] frames; false, and nothing moved, if they have to be played one by one.
    fn play_batch(&mut self, frames: &[Shown<'_>]) -> bool {
        let (batch, set) = (&mut self.batch, &self.set);
        let played = batch.take(set, frames)
            && batch.settle(set, &self.cells, &mut self.average, frames)
            && batch.peaks(set, &mut self.peak, frames);
        if played {
            for slot in batch.slots.iter_mut().take(frames.len()) {
                let first = self.cells.first().zip(slot.states.first());
                slot.figures.cell_heat_w = first.map_or(f64::NAN, |((model, _), state)| {
                    model.heat_w(state, slot.figures.cell_rms_a)
                });
            }
            for ((_, state), after) in self.cells.iter_mut().zip(&batch.after) {
                *state = *after;
            }
            batch.learn(frames.len() - 1);
        }
        played
    }
}
