//! From the text of a cue trace to its cues.

use super::value::cue;
use super::write::seconds;
use super::{CueTrace, TraceCue, END, MAX_MS, TAIL_MS};
use crate::build::diag::{near_miss, InputError, InputErrors, Place, Sink, Source};
use crate::build::row::{cells, data_lines, Cell};
use lampwright_model::CueKind;

/// The columns.
const HEADER: [&str; 3] = ["time_s", "cue", "value"];
/// More faults than this are not listed.
const MAX_FAULTS: usize = 20;

/// Reads a cue trace.
///
/// # Errors
/// Every fault found, each with its place and how to mend it.
pub fn read_cues(source: &Source) -> Result<CueTrace, InputErrors> {
    let sink = Sink::new();
    let mut reader = Reader {
        source,
        sink: &sink,
        cues: Vec::new(),
        last: None,
        end_ms: None,
        rows: 0,
    };
    reader.lines();
    let trace = reader.finish();
    sink.finish(trace)
}

struct Reader<'s> {
    source: &'s Source,
    sink: &'s Sink,
    cues: Vec<TraceCue>,
    /// The latest time so far.
    last: Option<u64>,
    end_ms: Option<u64>,
    rows: usize,
}

impl Reader<'_> {
    fn lines(&mut self) {
        let text = self.source.text.clone();
        let mut header = false;
        for (start, line) in data_lines(&text) {
            let cells = cells(line);
            if header {
                self.rows += 1;
                self.row(start, line, &cells);
            } else {
                header = true;
                if !self.header(start, line, &cells) {
                    // Rows of unknown columns would give a flood of follow-on faults.
                    return;
                }
            }
            if self.sink.len() >= MAX_FAULTS {
                let message = format!("reading stopped after {MAX_FAULTS} faults");
                // At the end of the line, so that it is listed after the line's own faults.
                let end = start + line.len();
                self.fault(end..end, message, "here")
                    .push("mend those above first");
                return;
            }
        }
        if !header {
            self.fault(0..0, "the cue trace is empty".into(), "nothing here")
                .push("start with the line: time_s,cue,value");
        }
    }

    fn header(&self, start: usize, line: &str, cells: &[Cell]) -> bool {
        let wrong = HEADER
            .iter()
            .enumerate()
            .find(|(i, name)| cells.get(*i).map(|c| c.text.as_str()) != Some(**name));
        let surplus = cells.get(HEADER.len());
        let (span, message) = match (wrong, surplus) {
            (Some((i, name)), _) => match cells.get(i) {
                Some(cell) => (
                    cell.span.clone(),
                    format!(
                        "column {} is \"{}\", but must be \"{name}\"",
                        i + 1,
                        cell.text
                    ),
                ),
                None => (
                    0..line.len(),
                    format!("the header lacks column {}, \"{name}\"", i + 1),
                ),
            },
            (None, Some(cell)) => (
                cell.span.clone(),
                format!("the header has a column too many, \"{}\"", cell.text),
            ),
            (None, None) => return true,
        };
        self.fault(
            start + span.start..start + span.end,
            message,
            "wrong header",
        )
        .push("the first line that is not a remark is: time_s,cue,value");
        false
    }

    fn row(&mut self, start: usize, line: &str, cells: &[Cell]) {
        let span = |cell: &Cell| start + cell.span.start..start + cell.span.end;
        let whole = start..start + line.len();
        if cells.len() < 2 || cells.len() > HEADER.len() {
            let message = format!("the row has {} fields, but must have 3", cells.len());
            self.fault(whole, message, "time_s,cue,value")
                .push("write a row such as: 4.25,knock,80 % (or 1.5,short-press, for a cue without a value)");
            return;
        }
        let (Some(time), Some(name)) = (cells.first(), cells.get(1)) else {
            return;
        };
        let at_ms = match self.time(&time.text) {
            Ok(at_ms) => Some(at_ms),
            Err((message, label, help)) => {
                self.fault(span(time), message, &label).push(&help);
                None
            }
        };
        if let Some(end) = self.end_ms {
            let message = format!("a row after the end of the trace at {} s", seconds(end));
            self.fault(whole, message, "after the end")
                .push("make the row named end the last one");
            return;
        }
        let value = cells.get(2).filter(|c| !c.text.is_empty());
        if name.text == END {
            self.end(at_ms, span(time), value.map(|v| (span(v), v.text.as_str())));
            return;
        }
        let Some(kind) = CueKind::named(&name.text) else {
            self.unknown(span(name), &name.text);
            return;
        };
        let cue = match cue(kind, value.map(|v| v.text.as_str())) {
            Ok(cue) => cue,
            Err((message, help)) => {
                let span = value.map_or_else(|| span(name), span);
                self.fault(span, message, "value").push(&help);
                return;
            }
        };
        if let Some(at_ms) = at_ms {
            self.last = Some(at_ms);
            self.cues.push(TraceCue { at_ms, cue });
        }
    }

    /// A time in ms, not before the latest.
    fn time(&self, text: &str) -> Result<u64, (String, String, String)> {
        let example = "write seconds from the start of the trace, such as 4.25".to_owned();
        let Ok(value) = text.parse::<f64>() else {
            let message = format!("\"{text}\" is not a time in seconds");
            return Err((message, "not a number".into(), example));
        };
        if !value.is_finite() {
            let message = format!("\"{text}\" is not a time");
            return Err((message, "not finite".into(), example));
        }
        if value < 0.0 {
            let message = format!("the time {text} s lies before the start of the trace");
            return Err((message, "negative".into(), example));
        }
        let ms = value * 1e3;
        if ms > MAX_MS as f64 {
            let message = format!("the time {text} s lies beyond 40 days");
            let help = "a trace lasts up to 3456000 s".to_owned();
            return Err((message, "too late".into(), help));
        }
        let ms = ms.round() as u64;
        match self.last {
            Some(last) if ms < last => {
                let message = format!(
                    "the time {text} s lies before the cue above it at {} s",
                    seconds(last)
                );
                let help = "sort the rows by time".to_owned();
                Err((message, "runs backwards".into(), help))
            }
            _ => Ok(ms),
        }
    }

    fn end(
        &mut self,
        at_ms: Option<u64>,
        time: std::ops::Range<usize>,
        value: Option<(std::ops::Range<usize>, &str)>,
    ) {
        if let Some((span, text)) = value {
            let message = format!("`end` takes no value, but has \"{text}\"");
            self.fault(span, message, "value")
                .push("leave the third field empty");
        }
        let Some(at_ms) = at_ms else { return };
        if self.last.is_some_and(|last| at_ms <= last) {
            let message = "the trace ends at its last cue, so that nothing of it shows".to_owned();
            self.fault(time, message, "too early")
                .push("let the end come later than the last cue");
        }
        self.end_ms = Some(at_ms);
    }

    fn unknown(&self, span: std::ops::Range<usize>, name: &str) {
        let names = || CueKind::ALL.iter().map(|k| k.name()).chain([END]);
        let all: Vec<&str> = names().collect();
        let help = match near_miss(name, names()) {
            Some(near) => format!("did you mean \"{near}\"? Known: {}", all.join(", ")),
            None => format!("use one of: {}", all.join(", ")),
        };
        self.fault(
            span,
            format!("there is no cue \"{name}\""),
            "not a known cue",
        )
        .push(&help);
    }

    fn fault(&self, span: std::ops::Range<usize>, message: String, label: &str) -> Fault<'_> {
        let place = Place {
            source: self.source.clone(),
            span,
        };
        Fault {
            sink: self.sink,
            error: InputError::at(place, message, label),
        }
    }

    fn finish(self) -> CueTrace {
        if self.sink.is_empty() && self.cues.is_empty() {
            let end = self.source.text.len();
            self.fault(
                end..end,
                "the cue trace has no cue".into(),
                "nothing to play",
            )
            .push("add a row such as: 1.0,short-press,");
        }
        let name = self.source.name.as_ref();
        let last = self.last.unwrap_or(0);
        CueTrace {
            name: name.rsplit(['/', '\\']).next().unwrap_or(name).to_owned(),
            cues: self.cues,
            end_ms: self.end_ms.unwrap_or(last + TAIL_MS),
        }
    }
}

/// A fault that still lacks its help.
struct Fault<'s> {
    sink: &'s Sink,
    error: InputError,
}

impl Fault<'_> {
    fn push(self, help: &str) {
        self.sink.push(self.error.help(help));
    }
}
