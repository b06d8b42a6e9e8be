//! Writing a dump.

use super::{Level, Timescale};
use std::io::{self, Write};

/// Writes the changes of a few one-bit lines.
#[derive(Debug)]
pub struct VcdWriter<W> {
    out: W,
    time: Option<u64>,
    lines: usize,
}

/// The identifier of a line: as few printable characters as do.
fn id(mut line: usize) -> Vec<u8> {
    let mut out = Vec::new();
    loop {
        // Below 94 and so within a byte.
        out.push(b'!' + (line % 94) as u8);
        line /= 94;
        if line == 0 {
            return out;
        }
    }
}

impl<W: Write> VcdWriter<W> {
    /// Writes the head, and every line as low at time 0. Names must be without spaces.
    ///
    /// # Errors
    /// Writing failed.
    pub fn new(
        mut out: W,
        timescale: Timescale,
        comment: &str,
        names: &[String],
    ) -> io::Result<Self> {
        writeln!(
            out,
            "$version Lampwright {} $end",
            env!("CARGO_PKG_VERSION")
        )?;
        writeln!(out, "$comment {comment} $end")?;
        writeln!(out, "$timescale {} $end", timescale.words())?;
        writeln!(out, "$scope module prop $end")?;
        for (line, name) in names.iter().enumerate() {
            write!(out, "$var wire 1 ")?;
            out.write_all(&id(line))?;
            writeln!(out, " {name} $end")?;
        }
        writeln!(out, "$upscope $end\n$enddefinitions $end\n#0\n$dumpvars")?;
        for line in 0..names.len() {
            out.write_all(b"0")?;
            out.write_all(&id(line))?;
            out.write_all(b"\n")?;
        }
        writeln!(out, "$end")?;
        Ok(Self {
            out,
            time: Some(0),
            lines: names.len(),
        })
    }

    /// Writes that a line changed. Times must not fall.
    ///
    /// # Errors
    /// Writing failed.
    pub fn change(&mut self, time: u64, line: usize, level: Level) -> io::Result<()> {
        debug_assert!(line < self.lines);
        self.at(time)?;
        let value: &[u8] = match level {
            Level::Low => b"0",
            Level::High => b"1",
            Level::Unknown => b"x",
        };
        self.out.write_all(value)?;
        self.out.write_all(&id(line))?;
        self.out.write_all(b"\n")
    }

    fn at(&mut self, time: u64) -> io::Result<()> {
        if self.time != Some(time) {
            self.time = Some(time);
            writeln!(self.out, "#{time}")?;
        }
        Ok(())
    }

    /// Writes the last time.
    ///
    /// # Errors
    /// Writing failed.
    pub fn finish(mut self, time: u64) -> io::Result<W> {
        self.at(time)?;
        Ok(self.out)
    }
}
