//! Frames as rows of comma-separated levels.
//!
//! A row is gone through byte by byte on a fast path that takes plain levels only; whatever it
//! does not take is looked at again with care, to read it or to say what is wrong and where.

use super::raw::{empty, unreadable};
use super::Input;
use crate::build::diag::{near_miss, InputError, InputErrors, Place, Source};
use crate::build::row::{cells, Cell};
use lampwright_model::{Channels, Layout};
use std::io::{BufRead as _, Read as _};
use std::ops::Range;

/// The name of the column of times.
pub(super) const TIME: &str = "time_s";
/// Bytes a field may take; a row of fields longer than this on average is not one of levels.
const FIELD_MAX: usize = 64;
/// Characters shown of a long row on either side of a fault.
const SHOWN: usize = 60;

/// Reads frames from CSV.
pub(super) struct CsvReader {
    name: String,
    input: Input,
    layout: Layout,
    has_time: bool,
    line: Vec<u8>,
    /// Lines read so far; the current line has this number, counted from 1.
    lines: usize,
    frames: u64,
    last_time_s: Option<f64>,
    /// A frame read ahead to learn the period.
    ahead: Vec<(Vec<u8>, f64)>,
}

/// A row that is no frame: which bytes of it, message, label, help.
struct Fault {
    span: Range<usize>,
    message: String,
    label: String,
    help: String,
}

impl CsvReader {
    /// Reads the header.
    pub(super) fn new(name: String, input: Input, layout: Layout) -> Result<Self, InputErrors> {
        let mut reader = Self {
            name,
            input,
            layout,
            has_time: false,
            line: Vec::new(),
            lines: 0,
            frames: 0,
            last_time_s: None,
            ahead: Vec::new(),
        };
        if !reader.next_line()? {
            return Err(empty(&reader.name).into());
        }
        reader.header().map_err(|fault| reader.error(fault))?;
        Ok(reader)
    }

    /// The time from the first frame to the second, where the rows have times; the two are kept.
    pub(super) fn first_step_s(&mut self) -> Result<Option<f64>, InputErrors> {
        if !self.has_time {
            return Ok(None);
        }
        let mut rows = Vec::new();
        while rows.len() < 2 {
            let mut levels = vec![0; self.layout.frame_len()];
            match self.read(&mut levels)? {
                Some(time_s) => rows.push((levels, time_s.unwrap_or(0.0))),
                None => break,
            }
        }
        let step = match rows.as_slice() {
            [(_, first), (_, second), ..] => Some(second - first),
            _ => None,
        };
        rows.reverse();
        self.ahead = rows;
        Ok(step)
    }

    /// Reads one frame and its time, if rows have times; `None` at the end.
    pub(super) fn frame(&mut self, levels: &mut [u8]) -> Result<Option<Option<f64>>, InputErrors> {
        if let Some((kept, time_s)) = self.ahead.pop() {
            levels.copy_from_slice(&kept);
            return Ok(Some(Some(time_s)));
        }
        self.read(levels)
    }

    fn read(&mut self, levels: &mut [u8]) -> Result<Option<Option<f64>>, InputErrors> {
        if !self.next_line()? {
            return if self.frames == 0 {
                Err(empty(&self.name).into())
            } else {
                Ok(None)
            };
        }
        let time_s = match self.plain(levels) {
            Some(time_s) => time_s,
            None => self.careful(levels).map_err(|fault| self.error(fault))?,
        };
        if let Some(time_s) = time_s {
            self.in_order(time_s).map_err(|fault| self.error(fault))?;
            self.last_time_s = Some(time_s);
        }
        self.frames += 1;
        Ok(Some(time_s))
    }

    /// Reads the next line that is neither empty nor a remark; `false` at the end.
    fn next_line(&mut self) -> Result<bool, InputErrors> {
        let fields = self.layout.frame_len() + 1;
        let most = fields * FIELD_MAX;
        loop {
            self.line.clear();
            let mut limited = self.input.by_ref().take(most as u64 + 1);
            let read = limited
                .read_until(b'\n', &mut self.line)
                .map_err(|e| unreadable(&self.name, &e))?;
            if read == 0 {
                return Ok(false);
            }
            self.lines += 1;
            if self.lines == 1 && self.line.starts_with("\u{feff}".as_bytes()) {
                self.line.drain(..3);
            }
            while matches!(self.line.last(), Some(b'\n' | b'\r')) {
                self.line.pop();
            }
            if read > most {
                return Err(self.error(self.too_long(fields)));
            }
            let text = self.line.trim_ascii_start();
            if !text.is_empty() && !text.starts_with(b"#") {
                return Ok(true);
            }
        }
    }

    fn too_long(&self, fields: usize) -> Fault {
        Fault {
            span: 0..0,
            message: format!("a line too long for {fields} fields"),
            label: "starts here".into(),
            help: "is this a CSV file? Raw frames need the raw format".into(),
        }
    }

    fn header(&mut self) -> Result<(), Fault> {
        let line = self.text();
        let cells = cells(&line);
        self.has_time = cells.first().is_some_and(|c| c.text == TIME);
        let levels = cells.get(usize::from(self.has_time)..).unwrap_or_default();
        let lead = usize::from(self.has_time);
        let (wanted, channels) = (self.layout.frame_len(), self.layout.channels);
        let example = match channels {
            Channels::Rgb => "r0,g0,b0,r1,g1,b1,...",
            Channels::Rgbw => "r0,g0,b0,w0,r1,g1,b1,w1,...",
        };
        let help = format!(
            "the prop has {} pixels of {} channels: write {TIME} (or leave it out), then {example}",
            self.layout.pixels,
            channels.count()
        );
        for (i, cell) in levels.iter().enumerate().take(wanted) {
            let name = column(i, channels);
            if cell.text != name {
                let message = format!(
                    "column {} is \"{}\", but must be \"{name}\"",
                    i + lead + 1,
                    cell.text
                );
                let meant_time = i + lead == 0 && near_miss(&cell.text, [TIME]).is_some();
                return Err(Fault {
                    span: cell.span.clone(),
                    message,
                    label: "wrong header".into(),
                    help: if meant_time {
                        format!("did you mean \"{TIME}\"?")
                    } else {
                        help
                    },
                });
            }
        }
        if levels.len() != wanted {
            let span = levels.get(wanted).map_or(0..line.len(), |c| c.span.clone());
            let found = levels.len();
            return Err(Fault {
                span,
                message: format!(
                    "the header has {found} columns of levels, but must have {wanted}"
                ),
                label: "wrong header".into(),
                help,
            });
        }
        Ok(())
    }

    /// Reads plain levels (and a time before them); `None` for anything else.
    fn plain(&self, levels: &mut [u8]) -> Option<Option<f64>> {
        let mut rest = self.line.as_slice();
        let mut time_s = None;
        if self.has_time {
            let end = rest.iter().position(|b| *b == b',')?;
            let (field, after) = rest.split_at_checked(end)?;
            let value: f64 = std::str::from_utf8(field).ok()?.parse().ok()?;
            if !value.is_finite() || value < 0.0 {
                return None;
            }
            time_s = Some(value);
            rest = after.get(1..)?;
        }
        let mut bytes = rest.iter();
        let count = levels.len();
        for (i, level) in levels.iter_mut().enumerate() {
            let mut value: u32 = 0;
            let mut digits = 0;
            loop {
                match bytes.next() {
                    Some(b @ b'0'..=b'9') if digits < 3 => {
                        value = value * 10 + u32::from(b - b'0');
                        digits += 1;
                    }
                    Some(b',') if digits > 0 && i + 1 < count => break,
                    None if digits > 0 && i + 1 == count => break,
                    _ => return None,
                }
            }
            *level = u8::try_from(value).ok()?;
        }
        bytes.next().is_none().then_some(time_s)
    }

    /// Reads a row field by field.
    fn careful(&self, levels: &mut [u8]) -> Result<Option<f64>, Fault> {
        let line = self.text();
        let cells = cells(&line);
        let lead = usize::from(self.has_time);
        let wanted = levels.len() + lead;
        let found = cells.len();
        if found != wanted {
            let span = cells.get(wanted).map_or(0..line.len(), |c| c.span.clone());
            return Err(Fault {
                span,
                message: format!(
                    "frame {} has {found} fields, but must have {wanted}",
                    self.frames
                ),
                label: if found < wanted {
                    "too short"
                } else {
                    "too long"
                }
                .into(),
                help: format!(
                    "the prop has {} pixels of {} channels: write {} levels a row{}",
                    self.layout.pixels,
                    self.layout.channels.count(),
                    levels.len(),
                    if self.has_time { " after the time" } else { "" }
                ),
            });
        }
        let time_s = match cells.first().filter(|_| self.has_time) {
            Some(cell) => Some(time(cell)?),
            None => None,
        };
        for (i, (level, cell)) in levels.iter_mut().zip(cells.iter().skip(lead)).enumerate() {
            let name = column(i, self.layout.channels);
            *level = self::level(cell, &name, self.frames)?;
        }
        Ok(time_s)
    }

    fn in_order(&self, time_s: f64) -> Result<(), Fault> {
        match self.last_time_s {
            Some(last) if time_s <= last => {
                let line = self.text();
                let span = cells(&line).first().map_or(0..0, |c| c.span.clone());
                Err(Fault {
                    span,
                    message: format!(
                        "frame {} is at {time_s} s, but the frame before it is at {last} s",
                        self.frames
                    ),
                    label: "does not go on".into(),
                    help: "let the times rise from row to row".into(),
                })
            }
            _ => Ok(()),
        }
    }

    /// The current line; bytes that are no UTF-8 are replaced, which no field survives.
    fn text(&self) -> String {
        String::from_utf8_lossy(&self.line).into_owned()
    }

    /// A fault of the current line, with as much of the line as helps.
    fn error(&self, fault: Fault) -> InputErrors {
        let line = self.text();
        let before = line.get(..fault.span.start).unwrap_or_default();
        let skipped = before.chars().count().saturating_sub(SHOWN);
        let start = line.char_indices().nth(skipped).map_or(0, |(i, _)| i);
        let shown = line.get(start..).unwrap_or_default();
        let span = fault.span.start - start..(fault.span.end - start).min(shown.len());
        let width = shown.get(..span.end).unwrap_or_default().chars().count();
        let end = shown.char_indices().nth(width.min(3 * SHOWN) + SHOWN);
        let shown = end.map_or(shown, |(i, _)| shown.get(..i).unwrap_or_default());
        let place = Place {
            source: Source::piece(
                self.name.as_str(),
                shown,
                self.lines.saturating_sub(1),
                skipped,
            ),
            span: span.start..span.end.min(shown.len()),
        };
        InputError::at(place, fault.message, fault.label)
            .help(fault.help)
            .into()
    }
}

/// The name of a column of levels: channel and pixel.
pub(super) fn column(index: usize, channels: Channels) -> String {
    let count = channels.count();
    let channel = ["r", "g", "b", "w"].get(index % count).copied();
    format!("{}{}", channel.unwrap_or_default(), index / count)
}

fn time(cell: &Cell) -> Result<f64, Fault> {
    let text = &cell.text;
    let fault = |label: &str| Fault {
        span: cell.span.clone(),
        message: format!("\"{text}\" is not a time in seconds"),
        label: label.into(),
        help: "write seconds from the start, such as 0.0166667".into(),
    };
    match text.parse::<f64>() {
        Ok(value) if !value.is_finite() => Err(fault("not finite")),
        Ok(value) if value < 0.0 => Err(fault("negative")),
        Ok(value) => Ok(value),
        Err(_) => Err(fault("not a number")),
    }
}

fn level(cell: &Cell, name: &str, frame: u64) -> Result<u8, Fault> {
    let text = &cell.text;
    if let Ok(level) = text.parse::<u8>() {
        return Ok(level);
    }
    let label = match text.parse::<f64>() {
        _ if text.is_empty() => "nothing here",
        Ok(value) if !value.is_finite() => "not finite",
        Ok(value) if value < 0.0 => "negative",
        Ok(value) if value > 255.0 => "above 255",
        Ok(_) => "not a whole number",
        Err(_) => "not a number",
    };
    Err(Fault {
        span: cell.span.clone(),
        message: format!("level {name} of frame {frame} is \"{text}\""),
        label: label.into(),
        help: "a level is a whole number from 0 to 255".into(),
    })
}
