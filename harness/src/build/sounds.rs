//! Sound traces: how loud the board is after a cue. `sounds/KIND.csv`, a file for each kind of cue.

use super::diag::{near_miss, InputError, InputErrors, Place, Sink, Source};
use super::row::{cells, data_lines, Cell};
use crate::units::{self, Quantity, Ratio};
use lampwright_model::CueKind;
use std::path::Path;

/// The columns.
const HEADER: [&str; 2] = ["time_s", "level"];
/// Longest sound, seconds.
const LONGEST_S: f64 = 3600.0;
/// More faults than this are not listed.
const MAX_FAULTS: usize = 20;

/// How loud a cue's sound is over time.
#[derive(Debug, Clone, PartialEq)]
pub struct SoundTrace {
    /// The cue that starts it.
    pub cue: CueKind,
    /// Seconds since the cue, rising from 0, and the share of the amplifier's full power from then on; the last row
    /// is the end.
    pub rows: Vec<(f64, f64)>,
}

impl SoundTrace {
    /// Share of full power at a time since the cue; `None` once it is over.
    pub fn level(&self, since_s: f64) -> Option<f64> {
        let next = self.rows.partition_point(|(t, _)| *t <= since_s);
        if next >= self.rows.len() {
            return None;
        }
        self.rows.get(next.checked_sub(1)?).map(|(_, level)| *level)
    }
}

/// The kind of cue that a file is named after.
///
/// # Errors
/// No cue has that name.
pub fn cue_of_file(path: &Path) -> Result<CueKind, Box<InputError>> {
    let stem = path
        .file_stem()
        .map_or_else(String::new, |s| s.to_string_lossy().into_owned());
    if let Some(kind) = CueKind::named(&stem) {
        return Ok(kind);
    }
    let names: Vec<&str> = CueKind::ALL.iter().map(|k| k.name()).collect();
    let help = match near_miss(&stem, names.iter().copied()) {
        Some(near) => format!("did you mean {near}.csv?"),
        None => format!("name it after the cue that starts it: {}", names.join(", ")),
    };
    let message = format!("{}: no cue is called \"{stem}\"", path.display());
    Err(InputError::whole(message).help(help).into())
}

/// Reads a sound trace.
///
/// # Errors
/// Every fault found, each with its place and how to mend it.
pub fn read_sound(source: &Source, cue: CueKind) -> Result<SoundTrace, InputErrors> {
    let sink = Sink::new();
    let mut reader = Reader {
        source,
        sink: &sink,
        rows: Vec::new(),
    };
    reader.lines();
    let rows = std::mem::take(&mut reader.rows);
    sink.finish(SoundTrace { cue, rows })
}

struct Reader<'s> {
    source: &'s Source,
    sink: &'s Sink,
    rows: Vec<(f64, f64)>,
}

impl Reader<'_> {
    fn lines(&mut self) {
        let text = self.source.text.clone();
        let mut header = false;
        for (start, line) in data_lines(&text) {
            let cells = cells(line);
            if header {
                self.row(start, line, &cells);
            } else {
                header = true;
                let found: Vec<&str> = cells.iter().map(|c| c.text.as_str()).collect();
                if found != HEADER {
                    let whole = start..start + line.len();
                    let help = "the first line that is not a remark is: time_s,level";
                    self.fault(
                        whole,
                        "the header must be time_s,level",
                        "wrong header",
                        help,
                    );
                    return;
                }
            }
            if self.sink.len() >= MAX_FAULTS {
                return;
            }
        }
        let end = text.len();
        let help = "write rows such as: 0,1 then 0.2,40 % then 0.6,0; the last row is the end";
        match self.rows.last() {
            _ if !self.sink.is_empty() => {}
            Some((_, level)) if self.rows.len() >= 2 && *level != 0.0 => {
                let message = format!("the last row has level {level}, but a sound ends silent");
                self.fault(end..end, &message, "no end", help);
            }
            Some(_) if self.rows.len() >= 2 => {}
            _ => self.fault(
                end..end,
                "a sound needs a first row at 0 s and a last one where it ends",
                "too few rows",
                help,
            ),
        }
    }

    fn row(&mut self, start: usize, line: &str, cells: &[Cell]) {
        let [time, level] = cells else {
            let message = format!("the row has {} fields, but must have 2", cells.len());
            let whole = start..start + line.len();
            self.fault(
                whole,
                &message,
                "time_s,level",
                "write a row such as: 0.25,80 %",
            );
            return;
        };
        let span = |cell: &Cell| start + cell.span.start..start + cell.span.end;
        let time_s = self.time(&time.text).unwrap_or_else(|(message, label)| {
            let help = "write seconds since the cue, from 0, each row later than the one above";
            self.fault(span(time), &message, label, help);
            f64::NAN
        });
        let share = match units::parse::<Ratio>(&level.text).map(Quantity::si) {
            Ok(share) if (0.0..=1.0).contains(&share) => share,
            Ok(_) => {
                let message = format!("the level {} lies outside 0 to 1", level.text);
                let help = "write a share of the amplifier's full power: 0 to 1, or 0 % to 100 %";
                self.fault(span(level), &message, "out of range", help);
                f64::NAN
            }
            Err(error) => {
                let message = format!("\"{}\" is not a level", level.text);
                let help = "write a share of the amplifier's full power, such as 0.8 or 80 %";
                self.fault(span(level), &message, &error.to_string(), help);
                f64::NAN
            }
        };
        if time_s.is_finite() && share.is_finite() {
            self.rows.push((time_s, share));
        }
    }

    fn time(&self, text: &str) -> Result<f64, (String, &'static str)> {
        let value = text
            .parse::<f64>()
            .ok()
            .filter(|v| v.is_finite())
            .ok_or_else(|| {
                (
                    format!("\"{text}\" is not a time in seconds"),
                    "not a number",
                )
            })?;
        match self.rows.last() {
            None if value != 0.0 && self.sink.is_empty() => Err((
                format!("the first row is at {text} s, but a sound starts at 0"),
                "not at the start",
            )),
            Some((last, _)) if value <= *last => Err((
                format!("the time {text} s is not later than {last} s above it"),
                "runs backwards",
            )),
            _ if !(0.0..=LONGEST_S).contains(&value) => Err((
                format!("the time {text} s lies outside 0 to {LONGEST_S} s"),
                "out of range",
            )),
            _ => Ok(value),
        }
    }

    fn fault(&self, span: std::ops::Range<usize>, message: &str, label: &str, help: &str) {
        let place = Place {
            source: self.source.clone(),
            span,
        };
        self.sink
            .push(InputError::at(place, message, label).help(help));
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn read(text: &str) -> Result<SoundTrace, InputErrors> {
        read_sound(&Source::new("sounds/knock.csv", text), CueKind::Knock)
    }

    #[test]
    fn a_level_holds_until_the_next_row_and_the_last_row_is_the_end() {
        let trace = read("\u{feff}# a knock\ntime_s,level\n0,1\n0.2,40 %\n0.6,0\n").unwrap();
        for (at, level) in [
            (0.0, Some(1.0)),
            (0.19, Some(1.0)),
            (0.2, Some(0.4)),
            (0.59, Some(0.4)),
            (0.6, None),
            (9.0, None),
        ] {
            assert_eq!(trace.level(at), level, "{at}");
        }
        assert_eq!(trace.level(-1.0), None);
    }

    #[test]
    fn faults_name_their_place_and_how_to_mend_them() {
        for (text, line, words) in [
            ("", 1, "first row"),
            ("time,level\n0,1\n1,0\n", 1, "header"),
            ("time_s,level\n0,1\n", 3, "first row"),
            ("time_s,level\n0.1,1\n1,0\n", 2, "starts at 0"),
            ("time_s,level\n0,1\n0,0\n", 3, "not later"),
            ("time_s,level\n0,1\n1,1.2\n", 3, "outside"),
            ("time_s,level\n0,1\n1,loud\n", 3, "not a level"),
            ("time_s,level\n0,1\n1\n", 3, "2"),
            ("time_s,level\n0,1\n1,0.5\n", 4, "ends silent"),
        ] {
            let InputErrors(errors) = read(text).unwrap_err();
            let error = &errors[0];
            assert!(error.message.contains(words), "{text}: {}", error.message);
            let place = error.place.as_ref().unwrap();
            assert_eq!(place.source.line_column(place.span.start).0, line, "{text}");
            assert!(error.help.is_some());
        }
    }

    #[test]
    fn a_file_that_is_no_cue_is_refused_with_the_nearest() {
        let error = cue_of_file(Path::new("sounds/knok.csv")).unwrap_err();
        assert!(error.help.unwrap().contains("knock.csv"));
        assert_eq!(cue_of_file(Path::new("swing.csv")).unwrap(), CueKind::Swing);
    }
}
