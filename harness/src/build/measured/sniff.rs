//! Finding out how a log is written: separator, decimal sign, header, units, where the rows begin.

use super::column::{header_text, role, unit, Role};
use super::number::{cell, trim, Cell};
use super::preamble::{interval_in, voltage_at};
use super::stamp::{date_alone, looks_like_stamp};
use super::{Note, ReadOptions};
use crate::build::diag::{InputError, Place, Source};

/// How many rows are looked at.
const LOOKED_AT: usize = 200;

/// Where the time of a row comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Clock {
    /// A number; the factor makes it seconds.
    Number(usize, f64),
    /// A date and time, or a time of day.
    Stamp(usize),
    /// A date in one column, the time of day in another.
    DateAndTime(usize, usize),
    /// The number of the sample, times the interval in seconds.
    Sample(usize, f64),
    /// Rows follow each other at this interval, seconds.
    Counted(f64),
}

/// How a log is written.
#[derive(Debug, Clone)]
pub(super) struct Shape {
    pub(super) separator: u8,
    pub(super) point: u8,
    /// Number of columns.
    pub(super) width: usize,
    pub(super) clock: Clock,
    /// Column and factor to SI.
    pub(super) current: Option<(usize, f64)>,
    pub(super) voltage: Option<(usize, f64)>,
    pub(super) power: Option<(usize, f64)>,
    /// Byte at which the first row begins.
    pub(super) start: usize,
    /// Lines before that.
    pub(super) lines_before: usize,
    /// The header's text, to know it again further down.
    pub(super) header: Vec<u8>,
    /// What a line before the rows says of where the voltage was measured.
    pub(super) voltage_at: Option<String>,
    pub(super) notes: Vec<Note>,
}

/// A line of the head with where it begins.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line<'a> {
    pub(super) text: &'a [u8],
    start: usize,
    number: usize,
}

/// The fields of a line as byte ranges; a separator between double quotes is text.
pub(super) fn fields(line: &[u8], separator: u8, out: &mut Vec<(usize, usize)>) {
    out.clear();
    let (mut start, mut quoted) = (0, false);
    for (at, b) in line.iter().enumerate() {
        if *b == b'"' {
            quoted = !quoted;
        } else if *b == separator && !quoted {
            out.push((start, at));
            start = at + 1;
        }
    }
    out.push((start, line.len()));
}

/// A field without its quotes and the spaces around it.
pub(super) fn bare(line: &[u8], range: (usize, usize)) -> &[u8] {
    let text = trim(line.get(range.0..range.1).unwrap_or_default());
    match text {
        [b'"', inner @ .., b'"'] => trim(inner),
        _ => text,
    }
}

fn lines(head: &[u8]) -> Vec<Line<'_>> {
    let mut out = Vec::new();
    let mut start = 0;
    for (k, text) in head.split(|b| *b == b'\n').enumerate() {
        out.push(Line {
            text: text.strip_suffix(b"\r").unwrap_or(text),
            start,
            number: k + 1,
        });
        start += text.len() + 1;
    }
    out
}

/// A row, as far as one can tell: every field a number, a moment, a marker or empty, and not all empty.
fn is_row(line: &[u8], separator: u8, point: u8) -> bool {
    let mut ranges = Vec::new();
    fields(line, separator, &mut ranges);
    let mut sound = false;
    for range in &ranges {
        let text = bare(line, *range);
        match cell(text, point) {
            Cell::Number(_, rest) => {
                if !rest.is_empty() && unit(&header_text(rest)).is_none() {
                    return false;
                }
                sound = true;
            }
            Cell::Overload => sound = true,
            Cell::Missing => {}
            Cell::Other if looks_like_stamp(text) || date_alone(text).is_some() => sound = true,
            Cell::Other => return false,
        }
    }
    sound
}

/// How well a way of writing fits: larger is better, the first number first.
type Fit = (usize, usize, usize);

/// Separator and decimal sign under which the most lines are rows; of equals the one that makes more columns.
fn way_of_writing(lines: &[Line<'_>]) -> Option<(u8, u8)> {
    let ways = [
        (b';', b','),
        (b';', b'.'),
        (b'\t', b','),
        (b'\t', b'.'),
        (b',', b'.'),
        (b',', b','),
    ];
    let mut best: Option<(Fit, (u8, u8))> = None;
    for (separator, point) in ways {
        let mut ranges = Vec::new();
        let mut widths: Vec<usize> = Vec::new();
        let mut signs = 0;
        for line in lines.iter().filter(|l| !l.text.is_empty()).take(LOOKED_AT) {
            if !is_row(line.text, separator, point) {
                continue;
            }
            fields(line.text, separator, &mut ranges);
            widths.push(ranges.len());
            for range in &ranges {
                let text = bare(line.text, *range);
                if matches!(cell(text, point), Cell::Number(..)) {
                    signs += usize::from(text.contains(&point));
                }
            }
        }
        let usual = widths
            .iter()
            .copied()
            .max_by_key(|w| (widths.iter().filter(|o| *o == w).count(), *w));
        let Some(usual) = usual else { continue };
        let rows = widths.iter().filter(|w| **w == usual).count();
        // A text such as `0,5` is one number or two: two columns outweigh where every row has them.
        let score = (rows, usual.min(2), signs);
        if best.as_ref().is_none_or(|(b, _)| score > *b) {
            best = Some((score, (separator, point)));
        }
    }
    best.map(|(_, way)| way)
}

/// Looks at the beginning of a log.
///
/// # Errors
/// What cannot be made out, with its line and how to mend it.
pub(super) fn sniff(
    name: &str,
    head: &[u8],
    options: &ReadOptions,
) -> Result<Shape, Box<InputError>> {
    let lines = lines(head);
    if lines.iter().all(|l| trim(l.text).is_empty()) {
        return Err(InputError::whole(format!("{name}: is empty"))
            .help("a log has a header such as time_s,current_a and a row a sample")
            .into());
    }
    let columns_given = options.columns.as_deref();
    let no_rows = || no_row(name, &lines);
    let (separator, point) = way_of_writing(&lines).ok_or_else(no_rows)?;
    let first = lines
        .iter()
        .position(|l| is_row(l.text, separator, point))
        .ok_or_else(no_rows)?;
    let row = lines.get(first).copied().ok_or_else(no_rows)?;
    let mut ranges = Vec::new();
    fields(row.text, separator, &mut ranges);
    let width = ranges.len();
    let header = header_of(&lines, first, separator, width);
    let mut notes = Vec::new();
    if let Some(n) = Some(header.preamble).filter(|n| *n > 0) {
        notes.push(Note::new("lines before the header", n as u64, Some(1)));
    }
    let names: Vec<String> = match columns_given {
        Some(text) => text.split(',').map(|s| s.trim().to_owned()).collect(),
        None => header.names.clone(),
    };
    if names.is_empty() {
        return Err(at_line(name, row, "the columns have no names", "the first row").help(
            "put a header above it, such as time_s,current_ma,voltage_v, or say --columns \"time s, current mA\"",
        ).into());
    }
    if names.len() != width {
        let message = format!(
            "{} columns are named, the first row has {width}",
            names.len()
        );
        let mut help = "name every column, also those that are not used".to_owned();
        if separator == b',' && width > names.len() {
            help = "decimal commas between commas cannot be told apart: save the log with semicolons or with points".into();
        }
        return Err(at_line(name, row, &message, "does not fit the header")
            .help(help)
            .into());
    }
    let roles: Vec<Role> = names
        .iter()
        .enumerate()
        .map(|(k, n)| role(n, header.units.get(k).map(String::as_str)))
        .collect();
    let place = header.line.unwrap_or(row);
    let mut shape = Shape {
        separator,
        point,
        width,
        clock: Clock::Counted(0.0),
        current: None,
        voltage: None,
        power: None,
        start: row.start,
        lines_before: row.number - 1,
        header: header.line.map_or_else(Vec::new, |l| l.text.to_vec()),
        voltage_at: voltage_at(&lines, first),
        notes,
    };
    pick(&mut shape, &roles, &names);
    if shape.current.is_none() && shape.power.is_some() && shape.voltage.is_none() {
        return Err(at_line(
            name,
            place,
            "the log has a power but neither current nor voltage",
            "columns found here",
        )
        .help(
            "log the current or the voltage as well: power alone does not tell one from the other",
        )
        .into());
    }
    if shape.current.is_none() && shape.voltage.is_none() {
        let message = format!(
            "no column is a current or a voltage; found: {}",
            names.join(", ")
        );
        return Err(at_line(name, place, &message, "columns found here").help(
            "name them with their unit, such as current_ma and voltage_v, or say --columns \"time s, current mA\" (\"-\" for a column that is not used)",
        ).into());
    }
    let cells: Vec<&[u8]> = ranges.iter().map(|r| bare(row.text, *r)).collect();
    let stated = options
        .interval_s
        .or_else(|| interval_in(&lines, first, point));
    shape.clock = clock(&roles, &cells, point, stated, &mut shape.notes)
        .map_err(|(m, help)| at_line(name, place, m, "columns found here").help(help))?;
    Ok(shape)
}

/// Takes the first column of each kind and says which were left.
fn pick(shape: &mut Shape, roles: &[Role], names: &[String]) {
    for (k, role) in roles.iter().enumerate() {
        let (slot, factor, si) = match role {
            Role::Current(f) => (&mut shape.current, f, "A"),
            Role::Voltage(f) => (&mut shape.voltage, f, "V"),
            Role::Power(f) => (&mut shape.power, f, "W"),
            _ => continue,
        };
        let name = names.get(k).map_or("", String::as_str);
        if slot.is_some() {
            let what = format!("column \"{name}\" left out: an earlier one holds the same");
            shape.notes.push(Note::new(what, 1, None));
            continue;
        }
        *slot = Some((k, factor.unwrap_or(1.0)));
        if factor.is_none() {
            let what = format!(
                "column \"{name}\" states no unit: taken as {si} where a cell states none either"
            );
            shape.notes.push(Note::new(what, 1, None));
        }
    }
}

type Unclear = (&'static str, &'static str);

fn clock(
    roles: &[Role],
    cells: &[&[u8]],
    point: u8,
    interval_s: Option<f64>,
    notes: &mut Vec<Note>,
) -> Result<Clock, Unclear> {
    let find = |f: &dyn Fn(&Role) -> bool| roles.iter().position(f);
    let date = find(&|r| *r == Role::Date);
    let time = find(&|r| matches!(r, Role::Time(_)));
    if let Some(k) = time {
        let text = cells.get(k).copied().unwrap_or_default();
        let factor = match roles.get(k) {
            Some(Role::Time(f)) => *f,
            _ => None,
        };
        return match cell(text, point) {
            Cell::Number(value, _) => Ok(Clock::Number(
                k,
                factor.unwrap_or_else(|| seconds_or_milliseconds(value, notes)),
            )),
            _ if looks_like_stamp(text) => Ok(match date {
                Some(d) => Clock::DateAndTime(d, k),
                None => Clock::Stamp(k),
            }),
            _ => Err((
                "the first row has no time that can be read",
                "write seconds (1.25), hh:mm:ss or ISO 8601 (2024-05-18T13:45:58.25)",
            )),
        };
    }
    if let Some(k) = date.filter(|k| cells.get(*k).is_some_and(|c| looks_like_stamp(c))) {
        return Ok(Clock::Stamp(k));
    }
    let sample = find(&|r| *r == Role::Sample);
    match (sample, interval_s) {
        (Some(k), Some(s)) => Ok(Clock::Sample(k, s)),
        (None, Some(s)) => Ok(Clock::Counted(s)),
        (Some(_), None) => Err((
            "the rows are numbered, but how far apart they are is not stated",
            "say the interval: --interval \"10 ms\"",
        )),
        (None, None) => Err((
            "no column is a time",
            "name it, such as time_s or time_ms, or say how far apart the rows are: --interval \"10 ms\"",
        )),
    }
}

/// A time without a unit: seconds, but for counts of milliseconds since 1970.
fn seconds_or_milliseconds(first: f64, notes: &mut Vec<Note>) -> f64 {
    let (factor, what) = if first > 1e11 {
        (1e-3, "milliseconds since 1970")
    } else {
        (1.0, "seconds")
    };
    notes.push(Note::new(
        format!("the time states no unit: taken as {what}"),
        1,
        None,
    ));
    factor
}

#[derive(Debug, Default)]
struct Header<'a> {
    line: Option<Line<'a>>,
    names: Vec<String>,
    units: Vec<String>,
    preamble: usize,
}

/// The header above the first row, and the row of units between them.
fn header_of<'a>(lines: &[Line<'a>], first: usize, separator: u8, width: usize) -> Header<'a> {
    let mut ranges = Vec::new();
    let mut texts = |line: &Line<'_>| -> Vec<String> {
        fields(line.text, separator, &mut ranges);
        ranges
            .iter()
            .map(|r| header_text(bare(line.text, *r)))
            .collect()
    };
    let above: Vec<&Line<'a>> = lines
        .iter()
        .take(first)
        .rev()
        .filter(|l| !trim(l.text).is_empty())
        .collect();
    let fits = |t: &[String]| t.len() == width && t.iter().any(|n| !n.is_empty());
    let Some(one) = above.first() else {
        return Header::default();
    };
    let names = texts(one);
    let all_units = |t: &[String]| {
        let mut stated = t.iter().filter(|n| !n.is_empty() && *n != "-").peekable();
        stated.peek().is_some() && stated.all(|n| unit(n).is_some() || n.starts_with('['))
    };
    if let Some(two) = above.get(1).filter(|_| all_units(&names)) {
        let above_units = texts(two);
        if fits(&above_units) && above_units.len() == names.len() {
            return Header {
                line: Some(**two),
                names: above_units,
                units: names,
                preamble: above.len() - 2,
            };
        }
    }
    if !fits(&names) && width == 1 && names.is_empty() {
        return Header::default();
    }
    if names.len() != width {
        let known = names.iter().any(|n| role(n, None) != Role::Other);
        if !known {
            return Header {
                preamble: above.len(),
                ..Header::default()
            };
        }
    }
    Header {
        line: Some(**one),
        names,
        units: Vec::new(),
        preamble: above.len() - 1,
    }
}

/// Refuses what is no text, with the name of what it is.
pub(super) fn refuse_binary(name: &str, head: &[u8]) -> Result<(), Box<InputError>> {
    let fail = |why: &str, help: &str| {
        Err(InputError::whole(format!("{name}: {why}"))
            .help(help)
            .into())
    };
    if head.starts_with(&[0xff, 0xfe]) || head.starts_with(&[0xfe, 0xff]) {
        return fail(
            "is UTF-16 text",
            "save the log as UTF-8 or plain CSV; spreadsheets call it \"CSV UTF-8\"",
        );
    }
    if head.starts_with(b"PK\x03\x04") {
        return fail(
            "is a spreadsheet or an archive, not CSV",
            "save the sheet as CSV",
        );
    }
    if head.starts_with(&[0x1f, 0x8b]) {
        return fail("is packed with gzip", "unpack it first");
    }
    if head.contains(&0) {
        return fail(
            "is not text: it holds bytes of zero",
            "export the log as CSV",
        );
    }
    Ok(())
}

fn no_row(name: &str, lines: &[Line<'_>]) -> InputError {
    let last = lines.iter().rev().find(|l| !trim(l.text).is_empty());
    let help = "a log has a header such as time_s,current_a and then a row a sample, separated by comma, semicolon or tab";
    match last {
        Some(line) => at_line(
            name,
            *line,
            "no line is a row of numbers",
            "nothing but text up to here",
        )
        .help(help),
        None => InputError::whole(format!("{name}: is empty")).help(help),
    }
}

fn at_line(name: &str, line: Line<'_>, message: &str, label: &str) -> InputError {
    let text = header_text(line.text);
    let end = text.len();
    let source = Source::piece(name, text, line.number - 1, 0);
    InputError::at(
        Place {
            source,
            span: 0..end,
        },
        message,
        label,
    )
}
