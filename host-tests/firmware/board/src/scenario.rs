//! Scenarios: a packed prop, which of its presets to play, for how many frames, with which cues.
//!
//! A file of scenarios, one after the other, numbers little-endian:
//!
//! | bytes | what |
//! |---|---|
//! | 4 × 8 | length of the packed prop; preset; frames; counter at the start, ms; cell voltage at the start, mV, 0: not measured; every how many frames one is slow, 0: none; how long its work takes, ms; number of cues |
//! | n | the packed prop |
//! | 8 a cue | time from the start, ms (4); kind in the order of `CueKind::ALL` (1); 0 (1); share, or angle (2) |

use heapless::Vec;
use lampwright_model::limiter::{Limits, SagGuard, StripLoad};
use lampwright_model::pack::Pack;
use lampwright_model::{Cue, CueKind, Millis};
use semihosting::fs::File;
use semihosting::io::Read;

use crate::Failed;

/// The longest packed prop a board here takes, in bytes.
pub const PACK_LEN: usize = 3072;
/// The longest frame a board here takes, in bytes.
pub const FRAME_LEN: usize = 1600;

/// A scenario without its cues, which follow in the file.
pub struct Scenario<'b> {
    /// The packed prop.
    pub pack: Pack<'b>,
    /// Its strips, for the limiter.
    pub strips: Vec<StripLoad, 8>,
    /// Which preset to play.
    pub preset: u16,
    /// How many frames.
    pub frames: u32,
    /// The counter at the start.
    pub origin: Millis,
    /// Cell voltage at the start, mV; it falls by 1 mV a frame down to 2800 mV.
    pub cell_mv: Option<u16>,
    /// Every how many frames the work is slow, and how long it then takes, ms.
    pub slow: Option<(u32, u32)>,
    cues_left: u32,
    /// The next cue, once it is read, and its time from the start.
    coming: Option<(u32, Cue)>,
}

impl<'b> Scenario<'b> {
    /// Reads the next scenario; `None` at the end of the file.
    pub fn read(file: &mut File, bytes: &'b mut [u8; PACK_LEN]) -> Result<Option<Self>, Failed> {
        let mut words = [0; 32];
        match fill(file, &mut words)? {
            0 => return Ok(None),
            32 => {}
            _ => return Err(Failed::Scenario),
        }
        let word = |n: usize| {
            let four = words
                .get(n * 4..n * 4 + 4)
                .and_then(|w| w.first_chunk::<4>());
            u32::from_le_bytes(four.copied().unwrap_or_default())
        };
        let bytes = bytes.get_mut(..word(0) as usize).ok_or(Failed::Scenario)?;
        if fill(file, bytes)? != bytes.len() {
            return Err(Failed::Scenario);
        }
        let pack = Pack::read(bytes).map_err(|_| Failed::Pack)?;
        let mut strips = Vec::new();
        for strip in pack.strips() {
            strips.push(strip.load()).map_err(|_| Failed::Scenario)?;
        }
        Ok(Some(Self {
            pack,
            strips,
            preset: word(1) as u16,
            frames: word(2),
            origin: Millis(word(3)),
            cell_mv: (word(4) > 0).then_some(word(4) as u16),
            slow: (word(5) > 0).then_some((word(5), word(6))),
            cues_left: word(7),
            coming: None,
        }))
    }

    /// Gives every cue that is due at a moment, with the moment it was for.
    pub fn cues_until(
        &mut self,
        now: Millis,
        file: &mut File,
        mut give: impl FnMut(Millis, Cue),
    ) -> Result<(), Failed> {
        loop {
            if self.coming.is_none() {
                self.coming = self.next_cue(file)?;
            }
            match self.coming {
                Some((at, cue)) if at <= now.since(self.origin) => give(self.origin.plus(at), cue),
                _ => return Ok(()),
            }
            self.coming = None;
        }
    }

    /// The next cue and its time from the start; `None` once there are no more.
    fn next_cue(&mut self, file: &mut File) -> Result<Option<(u32, Cue)>, Failed> {
        let Some(left) = self.cues_left.checked_sub(1) else {
            return Ok(None);
        };
        self.cues_left = left;
        let mut record = [0; 8];
        if fill(file, &mut record)? != 8 {
            return Err(Failed::Scenario);
        }
        let [a, b, c, d, kind, _, low, high] = record;
        let value = u16::from_le_bytes([low, high]);
        let kind = CueKind::ALL
            .get(usize::from(kind))
            .ok_or(Failed::Scenario)?;
        Ok(Some((u32::from_le_bytes([a, b, c, d]), kind.with(value))))
    }

    /// Reads past cues that came after the last frame.
    pub fn skip_cues(&mut self, file: &mut File) -> Result<(), Failed> {
        while self.next_cue(file)?.is_some() {}
        Ok(())
    }

    /// What the limiter keeps to.
    pub fn limits(&self) -> Limits {
        let head = self.pack.head();
        let brown_out = head.brown_out_mv.unwrap_or(3000);
        Limits {
            budget_ua: head.budget_ua,
            guard: self.cell_mv.map(|_| SagGuard::above(brown_out)),
            ..Limits::none()
        }
    }
}

/// Reads until the buffer is full or the file ends; returns how much was read.
fn fill(file: &mut File, buffer: &mut [u8]) -> Result<usize, Failed> {
    let mut done = 0;
    while let Some(rest) = buffer.get_mut(done..).filter(|rest| !rest.is_empty()) {
        match file.read(rest).map_err(|_| Failed::File)? {
            0 => break,
            n => done += n,
        }
    }
    Ok(done)
}
