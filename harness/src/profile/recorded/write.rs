//! Frames written as a recording.

use super::csv::{column, TIME};
use super::RecordedFormat;
use lampwright_model::Layout;
use std::io::{self, Write};

/// Writes frames in the form that [`super::open_recorded`] reads.
#[derive(Debug)]
pub struct FrameWriter<W> {
    out: W,
    format: RecordedFormat,
    line: Vec<u8>,
}

impl<W: Write> FrameWriter<W> {
    /// Starts a recording; CSV gets its header.
    ///
    /// # Errors
    /// Writing failed.
    pub fn new(mut out: W, format: RecordedFormat, layout: Layout) -> io::Result<Self> {
        if format == RecordedFormat::Csv {
            out.write_all(TIME.as_bytes())?;
            for index in 0..layout.frame_len() {
                write!(out, ",{}", column(index, layout.channels))?;
            }
            out.write_all(b"\n")?;
        }
        Ok(Self {
            out,
            format,
            line: Vec::new(),
        })
    }

    /// Writes a frame and when it began, in nanoseconds; a raw recording has no times.
    ///
    /// # Errors
    /// Writing failed.
    pub fn frame(&mut self, time_ns: u64, levels: &[u8]) -> io::Result<()> {
        if self.format == RecordedFormat::Raw {
            return self.out.write_all(levels);
        }
        self.line.clear();
        let (seconds, rest) = (time_ns / 1_000_000_000, time_ns % 1_000_000_000);
        write!(self.line, "{seconds}.{rest:09}")?;
        for level in levels {
            write!(self.line, ",{level}")?;
        }
        self.line.push(b'\n');
        self.out.write_all(&self.line)
    }

    /// Ends the recording.
    ///
    /// # Errors
    /// Writing failed.
    pub fn finish(mut self) -> io::Result<W> {
        self.out.flush()?;
        Ok(self.out)
    }
}
