//! The rows of a log, one pass.

use super::clean::clean;
use super::column::{header_text, unit, Unit};
use super::number::{cell, trim, Cell};
use super::sniff::{bare, fields, refuse_binary, sniff, Clock, Shape};
use super::stamp::{date_alone, stamp};
use super::{Measured, Note, ReadOptions};
use crate::build::diag::{InputError, InputErrors, Place, Source};
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Bytes read at once; also the most that a header may take.
const PIECE: usize = 1 << 20;
/// Faults after which reading stops.
const MOST_FAULTS: usize = 20;
const DAY_S: f64 = 86_400.0;

/// Reads a log from a file.
///
/// # Errors
/// The file cannot be read, or every fault found in it, up to twenty.
pub fn read_measured(path: &Path, options: &ReadOptions) -> Result<Measured, InputErrors> {
    let file = open_measured(path)?;
    read_measured_from(&path.display().to_string(), file, options)
}

/// Opens the file of a log.
///
/// # Errors
/// It is missing, a folder, or may not be read.
pub fn open_measured(path: &Path) -> Result<File, InputErrors> {
    let name = path.display();
    let fail = |e: std::io::Error| {
        let error = InputError::whole(format!("{name}: cannot be read: {e}"));
        InputErrors::from(error.help("check the path; measured traces lie in PROP/measured/*.csv"))
    };
    if path.is_dir() {
        let error = InputError::whole(format!("{name}: is a folder, not a file"));
        return Err(error.help("name the CSV file of the log").into());
    }
    File::open(path).map_err(fail)
}

/// Reads a log from anything that gives bytes; `name` stands in messages.
///
/// # Errors
/// As [`read_measured`].
pub fn read_measured_from(
    name: &str,
    mut from: impl Read,
    options: &ReadOptions,
) -> Result<Measured, InputErrors> {
    let mut buffer: Vec<u8> = Vec::with_capacity(2 * PIECE);
    let mut ended = fill(name, &mut from, &mut buffer)?;
    refuse_binary(name, &buffer).map_err(|e| *e)?;
    if buffer.starts_with(b"\xef\xbb\xbf") {
        buffer.drain(..3);
    }
    let head = match last_line_end(&buffer) {
        Some(end) if !ended => buffer.get(..end),
        _ => buffer.get(..),
    };
    let shape = sniff(name, head.unwrap_or_default(), options).map_err(|e| *e)?;
    buffer.drain(..shape.start.min(buffer.len()));
    let mut rows = Rows::new(name, &shape, options);
    loop {
        let whole = if ended {
            buffer.len()
        } else {
            last_line_end(&buffer).unwrap_or(0)
        };
        rows.take(buffer.get(..whole).unwrap_or_default(), ended);
        if ended || rows.faults.len() >= MOST_FAULTS {
            break;
        }
        buffer.drain(..whole);
        if buffer.len() > 16 * PIECE {
            let error = InputError::whole(format!("{name}: a line is longer than 16 MB"));
            return Err(error.help("is it a CSV log?").into());
        }
        ended = fill(name, &mut from, &mut buffer)?;
    }
    rows.finish()
}

/// Reads one piece more; true at the end.
fn fill(name: &str, from: &mut impl Read, buffer: &mut Vec<u8>) -> Result<bool, InputErrors> {
    let read = from.take(PIECE as u64).read_to_end(buffer);
    let read = read.map_err(|e| InputError::whole(format!("{name}: cannot be read: {e}")))?;
    Ok(read == 0)
}

fn last_line_end(buffer: &[u8]) -> Option<usize> {
    buffer.iter().rposition(|b| *b == b'\n').map(|at| at + 1)
}

/// A fault within a row: which bytes, what, under it, how to mend.
struct RowFault {
    span: (usize, usize),
    message: String,
    label: &'static str,
    help: String,
}

struct Rows<'a> {
    name: &'a str,
    shape: &'a Shape,
    options: &'a ReadOptions,
    line: u64,
    out: Measured,
    watts: Vec<f64>,
    /// Line of each sample's row is its index plus this, but for lines left out: kept for messages.
    lines: Vec<(usize, u64)>,
    faults: Vec<InputError>,
    ranges: Vec<(usize, usize)>,
    first_day: Option<i64>,
    days: f64,
    last_second: f64,
    overloads: Note,
    missing: Note,
    again: Note,
    remarks: Note,
    saturated: Note,
}

impl<'a> Rows<'a> {
    fn new(name: &'a str, shape: &'a Shape, options: &'a ReadOptions) -> Self {
        Self {
            name,
            shape,
            options,
            line: shape.lines_before as u64,
            out: Measured {
                name: name.to_owned(),
                notes: shape.notes.clone(),
                voltage_at: shape.voltage_at.clone(),
                ..Measured::default()
            },
            watts: Vec::new(),
            lines: Vec::new(),
            faults: Vec::new(),
            ranges: Vec::new(),
            first_day: None,
            days: 0.0,
            last_second: f64::NEG_INFINITY,
            overloads: Note::new("readings beyond the meter's range, left out", 0, None),
            missing: Note::new("empty readings", 0, None),
            again: Note::new("header written again, left out", 0, None),
            remarks: Note::new("lines that are no rows, left out", 0, None),
            saturated: Note::new("readings at the end of the range, left out", 0, None),
        }
    }

    /// Takes whole lines; with `last` the text may end without a line end.
    fn take(&mut self, text: &[u8], last: bool) {
        let mut rest = text;
        while !rest.is_empty() && self.faults.len() < MOST_FAULTS {
            let (line, next, complete) = match rest.iter().position(|b| *b == b'\n') {
                Some(at) => (
                    rest.get(..at).unwrap_or_default(),
                    rest.get(at + 1..).unwrap_or_default(),
                    true,
                ),
                None => (rest, &rest[rest.len()..], false),
            };
            rest = next;
            self.line += 1;
            let line = line.strip_suffix(b"\r").unwrap_or(line);
            if line.is_empty() || trim(line).is_empty() {
                continue;
            }
            if let Err(fault) = self.row(line) {
                if last && rest.is_empty() && !complete {
                    // The logger stopped in the middle of its last line.
                    count_at(&mut self.remarks, self.line);
                    continue;
                }
                self.fault(line, fault);
            }
        }
    }

    fn row(&mut self, line: &[u8]) -> Result<(), RowFault> {
        let mut ranges = std::mem::take(&mut self.ranges);
        fields(line, self.shape.separator, &mut ranges);
        let result = self.row_of(line, &ranges);
        self.ranges = ranges;
        result
    }

    fn row_of(&mut self, line: &[u8], ranges: &[(usize, usize)]) -> Result<(), RowFault> {
        let width = self.shape.width;
        // A separator at the end of the line opens a field that nobody meant.
        let excess = ranges.get(width..).unwrap_or_default();
        let fits = ranges.len() >= width && excess.iter().all(|r| bare(line, *r).is_empty());
        if !fits {
            if line.first() == Some(&b'#') || line == self.shape.header.as_slice() {
                let header = line == self.shape.header.as_slice();
                count_at(
                    if header {
                        &mut self.again
                    } else {
                        &mut self.remarks
                    },
                    self.line,
                );
                return Ok(());
            }
            return Err(self.wrong_width(line, ranges));
        }
        if line == self.shape.header.as_slice() {
            count_at(&mut self.again, self.line);
            return Ok(());
        }
        let seconds = match self.time(line, ranges)? {
            Some(t) => t,
            None => {
                count_at(&mut self.remarks, self.line);
                return Ok(());
            }
        };
        let current = self.reading(line, ranges, self.shape.current, "current")?;
        let voltage = self.reading(line, ranges, self.shape.voltage, "voltage")?;
        let watts = if self.shape.current.is_none() {
            self.reading(line, ranges, self.shape.power, "power")?
        } else {
            None
        };
        if self.out.time_s.len().is_multiple_of(4096) {
            self.lines.push((self.out.time_s.len(), self.line));
        }
        self.out.time_s.push(seconds);
        if let Some(a) = current {
            let over = self.options.range_a.is_some_and(|r| a.abs() >= r * 0.9995);
            if over {
                count_at(&mut self.saturated, self.line);
            }
            self.out.current_a.push(if over { f64::NAN } else { a });
        }
        if let Some(v) = voltage {
            self.out.voltage_v.push(v);
        }
        if let Some(w) = watts {
            self.watts.push(w);
        }
        Ok(())
    }

    fn wrong_width(&self, line: &[u8], ranges: &[(usize, usize)]) -> RowFault {
        let (found, width) = (ranges.len(), self.shape.width);
        let help = if found > width && self.shape.separator == b',' {
            "decimal commas between commas cannot be told apart: save the log with semicolons or with points"
        } else {
            "give every row a field for each column; leave one that has no reading empty"
        };
        RowFault {
            span: (0, line.len()),
            message: format!("the row has {found} fields, the header {width}"),
            label: "does not fit the header",
            help: help.to_owned(),
        }
    }

    /// A reading in SI units; `None` where there is no such column.
    fn reading(
        &mut self,
        line: &[u8],
        ranges: &[(usize, usize)],
        column: Option<(usize, f64)>,
        what: &'static str,
    ) -> Result<Option<f64>, RowFault> {
        let Some((k, factor)) = column else {
            return Ok(None);
        };
        let range = ranges.get(k).copied().unwrap_or_default();
        let text = bare(line, range);
        let value = match cell(text, self.shape.point) {
            Cell::Number(value, []) => value * factor,
            Cell::Number(value, rest) => match (unit(&header_text(rest)), what) {
                (Some(Unit::Current(f)), "current")
                | (Some(Unit::Voltage(f)), "voltage")
                | (Some(Unit::Power(f)), "power") => value * f,
                _ => return Err(self.no_reading(text, range, what)),
            },
            Cell::Overload => {
                count_at(&mut self.overloads, self.line);
                f64::NAN
            }
            Cell::Missing => {
                count_at(&mut self.missing, self.line);
                f64::NAN
            }
            Cell::Other => return Err(self.no_reading(text, range, what)),
        };
        Ok(Some(value))
    }

    fn no_reading(&self, text: &[u8], span: (usize, usize), what: &str) -> RowFault {
        let shown = header_text(text);
        let other = if self.shape.point == b',' { '.' } else { ',' };
        let signs = shown.contains(',') && shown.contains('.');
        let help = if signs {
            "write numbers without thousands separators".to_owned()
        } else if shown.contains(other) && shown.bytes().any(|b| b.is_ascii_digit()) {
            format!(
                "this log writes decimals with `{}`; write this one so too",
                char::from(self.shape.point)
            )
        } else {
            "write a number, OL for a reading beyond the range, or nothing".to_owned()
        };
        RowFault {
            span,
            message: format!("\"{shown}\" is no {what}"),
            label: "not a number",
            help,
        }
    }

    /// The time of a row in seconds; `None` where the row has none.
    fn time(&mut self, line: &[u8], ranges: &[(usize, usize)]) -> Result<Option<f64>, RowFault> {
        let range = |k: usize| ranges.get(k).copied().unwrap_or_default();
        let no_time = |k: usize, text: &[u8]| RowFault {
            span: range(k),
            message: format!("\"{}\" is no time of the kind above it", header_text(text)),
            label: "not a time",
            help: "write every time of a log in the same way".to_owned(),
        };
        match self.shape.clock {
            Clock::Counted(interval) => Ok(Some(self.out.time_s.len() as f64 * interval)),
            Clock::Number(k, factor) | Clock::Sample(k, factor) => {
                let text = bare(line, range(k));
                match cell(text, self.shape.point) {
                    Cell::Number(value, []) => Ok(Some(value * factor)),
                    Cell::Number(value, rest) => match unit(&header_text(rest)) {
                        Some(Unit::Time(f)) => Ok(Some(value * f)),
                        _ => Err(no_time(k, text)),
                    },
                    Cell::Missing => Ok(None),
                    _ => Err(no_time(k, text)),
                }
            }
            Clock::Stamp(k) => {
                let text = bare(line, range(k));
                if text.is_empty() {
                    return Ok(None);
                }
                let s = stamp(text).ok_or_else(|| no_time(k, text))?;
                Ok(Some(self.on_clock(s.day, s.second)))
            }
            Clock::DateAndTime(d, k) => {
                let (date, text) = (bare(line, range(d)), bare(line, range(k)));
                let day = date_alone(date).ok_or_else(|| no_time(d, date))?;
                let s = stamp(text).ok_or_else(|| no_time(k, text))?;
                Ok(Some(self.on_clock(Some(day), s.second)))
            }
        }
    }

    /// Seconds since the midnight before the first row; a clock without a date starts over at midnight.
    fn on_clock(&mut self, day: Option<i64>, second: f64) -> f64 {
        match day {
            Some(day) => {
                let first = *self.first_day.get_or_insert(day);
                (day - first) as f64 * DAY_S + second
            }
            None => {
                if second < self.last_second - DAY_S / 2.0 {
                    self.days += 1.0;
                }
                self.last_second = second;
                self.days * DAY_S + second
            }
        }
    }

    fn fault(&mut self, line: &[u8], fault: RowFault) {
        let text = String::from_utf8_lossy(line).into_owned();
        // A byte that is no UTF-8 grows when it is replaced: the span then covers the line.
        let (start, end) = fault.span;
        let span = if text.len() == line.len() {
            start..end
        } else {
            0..text.len()
        };
        let source = Source::piece(self.name, text, (self.line - 1) as usize, 0);
        let place = Place { source, span };
        self.faults
            .push(InputError::at(place, fault.message, fault.label).help(fault.help));
    }

    fn finish(mut self) -> Result<Measured, InputErrors> {
        if !self.faults.is_empty() {
            return Err(InputErrors(self.faults));
        }
        if !self.watts.is_empty() {
            let amps = self.watts.iter().zip(&self.out.voltage_v);
            self.out.current_a = amps
                .map(|(w, v)| if *v > 0.0 { w / v } else { f64::NAN })
                .collect();
            self.out.notes.push(Note::new(
                "current taken as power divided by voltage",
                self.watts.len() as u64,
                None,
            ));
        }
        for note in [
            self.overloads,
            self.missing,
            self.saturated,
            self.again,
            self.remarks,
        ] {
            if note.count > 0 {
                self.out.notes.push(note);
            }
        }
        clean(self.out, &self.lines)
    }
}

fn count_at(note: &mut Note, line: u64) {
    note.count += 1;
    note.line.get_or_insert(line);
}
