//! Opening a recording, from a file or a pipe, and telling its form.

use super::csv::CsvReader;
use super::raw::{empty, partial, unreadable, RawReader};
use super::{Input, Reader, Recorded};
use crate::build::diag::{InputError, InputErrors};
use lampwright_model::Layout;
use std::fs::File;
use std::io::{BufReader, Cursor, Read as _};
use std::path::Path;

/// Bytes read at once.
const BUFFER: usize = 1 << 16;

/// Bytes that tell the form: a byte order mark and the longest name of a first column.
const SNIFFED: u64 = 10;

/// The form of a recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RecordedFormat {
    /// A header, then a row a frame.
    Csv,
    /// Bytes back to back.
    Raw,
}

/// How a recording is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecordedOptions {
    /// The shape of its frames.
    pub layout: Layout,
    /// Its form; where `None`, a file name that ends in `.csv` means CSV, and a pipe is CSV if it
    /// starts with the first column's name, `time_s` or `r0`, and a comma.
    pub format: Option<RecordedFormat>,
    /// Frames a second; where `None`, the step of the first two times of a CSV recording, or
    /// [`RecordedOptions::DEFAULT_RATE_HZ`]. Given, it does not change times that a CSV recording
    /// has.
    pub rate_hz: Option<f64>,
    /// The cap, 0..=255: levels are scaled by cap / 255, to the nearest.
    pub cap: u8,
}

impl RecordedOptions {
    /// Frames a second of a recording that says nothing about it.
    pub const DEFAULT_RATE_HZ: f64 = 60.0;

    /// As recorded, with every choice left to the recording.
    pub fn new(layout: Layout) -> Self {
        Self {
            layout,
            format: None,
            rate_hz: None,
            cap: u8::MAX,
        }
    }
}

/// Opens a recording; `-` is the standard input.
///
/// # Errors
/// The file cannot be read, has a wrong header, or is raw and not a whole number of frames.
pub fn open_recorded(path: &Path, options: &RecordedOptions) -> Result<Recorded, InputErrors> {
    if path.as_os_str() == "-" {
        let input = Box::new(BufReader::with_capacity(BUFFER, std::io::stdin()));
        return Recorded::from_reader("standard input", input, options);
    }
    let name = path.display().to_string();
    let file = File::open(path).map_err(|e| unreadable(&name, &e))?;
    let about = file.metadata().map_err(|e| unreadable(&name, &e))?;
    if about.is_dir() {
        let error = InputError::whole(format!("{name} is a folder, not a recording"));
        return Err(error.help("name a file of frames, CSV or raw").into());
    }
    let csv = path
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("csv"));
    let format = options.format.unwrap_or(if csv {
        RecordedFormat::Csv
    } else {
        RecordedFormat::Raw
    });
    if format == RecordedFormat::Raw && about.is_file() {
        // Known before the long run rather than at its end.
        whole_frames(&name, about.len(), options.layout)?;
    }
    let options = RecordedOptions {
        format: Some(format),
        ..*options
    };
    let input = Box::new(BufReader::with_capacity(BUFFER, file));
    Recorded::from_reader(&name, input, &options)
}

fn whole_frames(name: &str, bytes: u64, layout: Layout) -> Result<(), InputErrors> {
    let frame = layout.frame_len() as u64;
    if bytes == 0 {
        return Err(empty(name).into());
    }
    match (bytes.checked_div(frame), bytes.checked_rem(frame)) {
        (Some(whole), Some(rest)) if rest > 0 => {
            let rest = usize::try_from(rest).unwrap_or(usize::MAX);
            Err(partial(name, whole, rest, layout).into())
        }
        _ => Ok(()),
    }
}

impl Recorded {
    /// Reads a recording from anywhere; `name` stands for it in messages.
    ///
    /// # Errors
    /// The input cannot be read, the header is wrong, or an option is out of range.
    pub fn from_reader(
        name: &str,
        mut input: Input,
        options: &RecordedOptions,
    ) -> Result<Self, InputErrors> {
        let layout = options.layout;
        if layout.frame_len() == 0 {
            let error = InputError::whole("the prop has no pixels, so no frame can be read");
            return Err(error.help("add a strip to the build file").into());
        }
        if let Some(rate) = options.rate_hz.filter(|r| !(r.is_finite() && *r > 0.0)) {
            let error = InputError::whole(format!("{rate} is not a frame rate"));
            return Err(error
                .help("give frames a second above 0, such as 60")
                .into());
        }
        let format = match options.format {
            Some(format) => format,
            None => {
                // As many bytes as tell; a pipe may give them one at a time.
                let mut start = Vec::new();
                let mut first = input.take(SNIFFED);
                first
                    .read_to_end(&mut start)
                    .map_err(|e| unreadable(name, &e))?;
                let format = sniff(&start);
                input = Box::new(Cursor::new(start).chain(first.into_inner()));
                format
            }
        };
        let stated = options.rate_hz.map(|rate| 1.0 / rate);
        let (reader, step) = match format {
            RecordedFormat::Raw => {
                let raw = RawReader::new(name.to_owned(), input, layout);
                (Reader::Raw(raw), None)
            }
            RecordedFormat::Csv => {
                let mut csv = CsvReader::new(name.to_owned(), input, layout)?;
                let step = match stated {
                    Some(_) => None,
                    None => csv.first_step_s()?,
                };
                (Reader::Csv(csv), step)
            }
        };
        Ok(Self {
            layout,
            period_s: stated
                .or(step)
                .unwrap_or(1.0 / RecordedOptions::DEFAULT_RATE_HZ),
            cap: options.cap,
            index: 0,
            reader,
        })
    }
}

/// The form of what starts with these bytes.
fn sniff(start: &[u8]) -> RecordedFormat {
    let start = start.strip_prefix("\u{feff}".as_bytes()).unwrap_or(start);
    let csv = [&b"time_s,"[..], b"r0,"]
        .iter()
        .any(|p| start.starts_with(p));
    if csv {
        RecordedFormat::Csv
    } else {
        RecordedFormat::Raw
    }
}
