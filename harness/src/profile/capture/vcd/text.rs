//! The text of a dump, a piece at a time, and where in it a fault is.

use crate::build::diag::{InputError, InputErrors, Place, Source};
use std::io::{ErrorKind, Read};
use std::ops::Range;
use std::sync::Arc;

/// Bytes kept at once.
const BUFFER: usize = 1 << 18;
/// Longest word: no value of a variable of any use is longer.
const LONGEST: usize = 1 << 16;
/// Characters shown on either side of a fault.
const SHOWN: usize = 60;

/// A text that is read once.
pub(super) struct Text {
    name: Arc<str>,
    input: Box<dyn Read>,
    buffer: Vec<u8>,
    /// Where reading goes on, within the buffer.
    pub(super) at: usize,
    end: usize,
    pub(super) over: bool,
    /// Bytes before the buffer.
    before: u64,
    /// Up to here line ends are counted.
    counted: usize,
    lines: usize,
    /// Where the line at `counted` starts, in bytes of the whole text.
    line_start: u64,
}

impl Text {
    pub(super) fn new(name: &str, input: Box<dyn Read>) -> Self {
        Self {
            name: name.into(),
            input,
            buffer: vec![0; BUFFER],
            at: 0,
            end: 0,
            over: false,
            before: 0,
            counted: 0,
            lines: 0,
            line_start: 0,
        }
    }

    /// What is at hand and not yet read.
    pub(super) fn rest(&self) -> &[u8] {
        self.buffer.get(self.at..self.end).unwrap_or_default()
    }

    /// Bytes of the whole text read so far.
    pub(super) fn bytes(&self) -> u64 {
        self.before + self.at as u64
    }

    /// Gets more to hand. What was read is given up where its room is needed.
    pub(super) fn refill(&mut self) -> Result<(), InputErrors> {
        if BUFFER - self.end < BUFFER / 4 {
            self.count(self.at);
            self.buffer.copy_within(self.at..self.end, 0);
            self.before += self.at as u64;
            self.end -= self.at;
            (self.at, self.counted) = (0, 0);
        }
        let Some(room) = self.buffer.get_mut(self.end..) else {
            return Ok(());
        };
        match self.input.read(room) {
            Ok(0) => self.over = true,
            Ok(n) => self.end += n,
            Err(e) if e.kind() == ErrorKind::Interrupted => {}
            Err(e) => {
                let error = InputError::whole(format!("{} cannot be read: {e}", self.name));
                return Err(error.help("check the path and its permissions").into());
            }
        }
        Ok(())
    }

    /// Counts the line ends before a place in the buffer.
    fn count(&mut self, to: usize) {
        let part = self.buffer.get(self.counted..to).unwrap_or_default();
        self.lines += part.iter().filter(|b| **b == b'\n').count();
        if let Some(last) = part.iter().rposition(|b| *b == b'\n') {
            self.line_start = self.before + (self.counted + last + 1) as u64;
        }
        self.counted = to;
    }

    /// The next word and its place in the buffer, which holds until the next call; `None` at the end.
    pub(super) fn word(&mut self) -> Result<Option<Range<usize>>, InputErrors> {
        loop {
            let blank = self.rest().iter().take_while(|b| **b <= b' ').count();
            self.at += blank;
            let length = self.rest().iter().take_while(|b| **b > b' ').count();
            let whole = length < self.rest().len() || self.over;
            if whole {
                let start = self.at;
                self.at += length;
                return Ok((length > 0).then_some(start..start + length));
            }
            if length > LONGEST {
                let fault = self.fault(
                    self.at..self.at,
                    format!("a word of more than {LONGEST} characters"),
                    "starts here",
                    "is this a value change dump (VCD)? Its text consists of short words",
                );
                return Err(fault);
            }
            self.refill()?;
        }
    }

    /// The text of a word that [`Self::word`] has just given.
    pub(super) fn get(&self, word: &Range<usize>) -> &[u8] {
        self.buffer.get(word.clone()).unwrap_or_default()
    }

    /// The same, as text.
    pub(super) fn show(&self, word: &Range<usize>) -> String {
        String::from_utf8_lossy(self.get(word)).into_owned()
    }

    /// Whether the text ends right after the word.
    pub(super) fn last(&self, word: &Range<usize>) -> bool {
        self.over && word.end == self.end
    }

    /// The place of a word in the whole text.
    pub(super) fn whole_place(&self, word: &Range<usize>) -> Range<u64> {
        self.before + word.start as u64..self.before + word.end as u64
    }

    /// A fault at a place in the whole text; where that is no longer at hand, at the place reached.
    pub(super) fn fault_at(
        &mut self,
        place: Range<u64>,
        message: impl Into<String>,
        label: &str,
        help: impl Into<String>,
    ) -> InputErrors {
        let here = |at: u64| usize::try_from(at.checked_sub(self.before)?).ok();
        let span = match (here(place.start), here(place.end)) {
            (Some(start), Some(end)) => start..end,
            _ => self.at..self.at,
        };
        self.fault(span, message, label, help)
    }

    /// A fault at a place in the buffer.
    pub(super) fn fault(
        &mut self,
        span: Range<usize>,
        message: impl Into<String>,
        label: &str,
        help: impl Into<String>,
    ) -> InputErrors {
        let start = span.start.min(self.end);
        if start >= self.counted {
            self.count(start);
        }
        let column = (self.before + start as u64).saturating_sub(self.line_start);
        let shown_before = usize::try_from(column)
            .unwrap_or(SHOWN)
            .min(SHOWN)
            .min(start);
        let until = |from: usize, most: usize| {
            let rest = self.buffer.get(from..self.end).unwrap_or_default();
            let line = rest.iter().take_while(|b| !matches!(b, b'\n' | b'\r'));
            from + line.count().min(most)
        };
        let width = span.len().min(3 * SHOWN);
        let last = until(start, width + SHOWN);
        let bytes = self.buffer.get(start - shown_before..last);
        // A byte a character, so that columns count characters.
        let plain = |b: &u8| match b {
            b'\t' => ' ',
            b if b.is_ascii() && !b.is_ascii_control() => char::from(*b),
            _ => '?',
        };
        let shown: String = bytes.unwrap_or_default().iter().map(plain).collect();
        let columns = usize::try_from(column).unwrap_or(usize::MAX) - shown_before;
        let end = (shown_before + width).min(shown.len());
        let place = Place {
            source: Source::piece(self.name.clone(), shown.as_str(), self.lines, columns),
            span: shown_before..end.max(shown_before),
        };
        InputError::at(place, message, label).help(help).into()
    }

    /// A fault at the end of the text.
    pub(super) fn ends(&mut self, message: impl Into<String>, help: &str) -> InputErrors {
        self.fault(self.end..self.end, message, "the file ends here", help)
    }

    /// A fault of the text as a whole.
    pub(super) fn whole(&self, message: &str, help: impl Into<String>) -> InputErrors {
        InputError::whole(format!("{}: {message}", self.name))
            .help(help)
            .into()
    }
}
