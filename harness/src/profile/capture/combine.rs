//! Whole frames of the prop from the bursts of its lines.
//!
//! A frame is what the lines show after each has been sent to once. Where one line is sent to again before another, the
//! other keeps what it showed, as its pixels do.

use super::burst::Burst;
use super::lines::Line;

/// How the bursts came together.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Rounds {
    /// Frames handed over.
    pub frames: u64,
    /// Frames left out, because a line's burst in them was no frame, or a line had not been sent to yet.
    pub left_out: u64,
    /// Frames in which a line kept what it showed, because it was not sent to.
    pub held: u64,
}

/// Puts bursts together.
#[derive(Debug)]
pub(super) struct Combiner<'l> {
    lines: &'l [Line],
    stated: Vec<u8>,
    frame: Vec<u8>,
    /// Whether what a line shows is known.
    known: Vec<bool>,
    /// Whether a line has been sent to in this round.
    sent: Vec<bool>,
    dirty: bool,
    /// When the round began.
    start: u64,
    /// What came of it.
    pub(super) rounds: Rounds,
}

impl<'l> Combiner<'l> {
    /// For the lines of a prop; `stated` is for each the brightness that its currents are stated for.
    pub(super) fn new(lines: &'l [Line], stated: Vec<u8>, frame_len: usize) -> Self {
        Self {
            lines,
            stated,
            frame: vec![0; frame_len],
            known: vec![false; lines.len()],
            sent: vec![false; lines.len()],
            dirty: false,
            start: 0,
            rounds: Rounds::default(),
        }
    }

    /// Takes a burst of a line and hands over the frames that it completes: time in steps, and levels.
    pub(super) fn burst(&mut self, line: usize, burst: &Burst, mut done: impl FnMut(u64, &[u8])) {
        if self.sent.get(line) == Some(&true) {
            self.rounds.held += 1;
            self.round(&mut done);
        }
        if self.sent.iter().all(|s| !s) {
            self.start = burst.start;
        }
        if let Some(sent) = self.sent.get_mut(line) {
            *sent = true;
        }
        let good = burst.fault.is_none();
        self.dirty |= !good;
        if let Some(known) = self.known.get_mut(line) {
            *known = good;
        }
        if let Some(of) = self.lines.get(line).filter(|_| good) {
            let stated = self.stated.get(line).copied().unwrap_or(31);
            of.unpack(&burst.bytes, stated, &mut self.frame);
        }
        if self.sent.iter().all(|s| *s) {
            self.round(&mut done);
        }
    }

    fn round(&mut self, done: &mut impl FnMut(u64, &[u8])) {
        if !self.dirty && self.known.iter().all(|k| *k) {
            self.rounds.frames += 1;
            done(self.start, &self.frame);
        } else {
            self.rounds.left_out += 1;
        }
        self.dirty = false;
        self.sent.fill(false);
    }

    /// Ends: a round under way is left out.
    pub(super) fn finish(&mut self) {
        if self.sent.iter().any(|s| *s) {
            self.rounds.left_out += 1;
        }
    }
}
