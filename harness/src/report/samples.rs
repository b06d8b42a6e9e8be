//! The samples of a sweep as a CSV file: one head line that says what was swept, then a row a sample.
//!
//! Rows are appended in order of their number as they are played, so a file that was cut off anywhere
//! holds whole samples up to there.

use crate::study::sweep::engine::Sample;
use serde::{Deserialize, Serialize};
use std::io::{self, BufRead, Write};

/// Version of the samples file. 1: first form.
pub const SAMPLES_SCHEMA: &str = "lampwright/samples/1";
/// What the head line begins with.
const HEAD: &str = "# ";

/// What was swept. Files that agree in all but the shard belong to one sweep.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Head {
    /// [`SAMPLES_SCHEMA`].
    pub schema: String,
    /// The prop's name.
    pub prop: String,
    /// The preset, or the recording.
    pub preset: String,
    /// The cue trace.
    pub cues: String,
    /// Number that changes with any figure of the build, the preset or the settings.
    pub fingerprint: String,
    /// Seed.
    pub seed: u64,
    /// Number of samples of the whole sweep.
    pub samples: u64,
    /// Which part of them is in this file, from 1.
    pub shard: u64,
    /// Of how many parts.
    pub shards: u64,
    /// Brightness cap.
    pub cap: u8,
    /// Ids of the checks.
    pub checks: Vec<String>,
    /// Names of the tolerances.
    pub tolerances: Vec<String>,
}

impl Head {
    /// Numbers of the samples that belong to this shard.
    pub fn indices(&self) -> impl Iterator<Item = u64> {
        let step = usize::try_from(self.shards.max(1)).unwrap_or(usize::MAX);
        (self.shard.saturating_sub(1)..self.samples).step_by(step)
    }

    /// Whether two files are parts of one sweep.
    pub fn same_sweep(&self, other: &Self) -> bool {
        Self {
            shard: 0,
            shards: 0,
            ..self.clone()
        } == Self {
            shard: 0,
            shards: 0,
            ..other.clone()
        }
    }

    /// Writes the head line and the column names.
    ///
    /// # Errors
    /// Writing failed.
    pub fn write(&self, out: &mut dyn Write) -> io::Result<()> {
        let json = serde_json::to_string(self).map_err(io::Error::other)?;
        writeln!(out, "{HEAD}{json}")?;
        write!(out, "sample,played,soc,temperature_k")?;
        for check in &self.checks {
            write!(out, ",margin_share:{check}")?;
        }
        for name in &self.tolerances {
            write!(out, ",draw:{name}")?;
        }
        writeln!(out)
    }
}

/// Writes a sample as a row. Numbers are in the shortest form that reads back as the same number.
///
/// # Errors
/// Writing failed.
pub fn write_row(out: &mut dyn Write, s: &Sample) -> io::Result<()> {
    let played = if s.full { "whole" } else { "digest" };
    write!(out, "{},{played},{},{}", s.index, s.soc, s.temperature_k)?;
    for value in s.margins.iter().chain(&s.shares) {
        write!(out, ",{value}")?;
    }
    writeln!(out)
}

/// Reads a samples file; a last line that was cut off is left out. Gives the head, the samples and the
/// number of bytes that hold whole lines.
///
/// # Errors
/// What is wrong, in words, with the line.
pub fn read(mut input: impl BufRead) -> Result<(Head, Vec<Sample>, u64), String> {
    let mut line = String::new();
    let mut bytes = 0;
    let mut next = |line: &mut String| -> Result<bool, String> {
        line.clear();
        let n = input
            .read_line(line)
            .map_err(|e| format!("cannot be read: {e}"))?;
        if n == 0 || !line.ends_with('\n') {
            return Ok(false);
        }
        bytes += n as u64;
        Ok(true)
    };
    let foreign = "is not a samples file of `lampwright sweep`";
    if !next(&mut line)? {
        return Err(foreign.to_owned());
    }
    let json = line.strip_prefix(HEAD).ok_or(foreign)?;
    let head: Head = serde_json::from_str(json).map_err(|e| format!("{foreign}: {e}"))?;
    if head.schema != SAMPLES_SCHEMA {
        return Err(format!(
            "has the schema {}, not {SAMPLES_SCHEMA}",
            head.schema
        ));
    }
    if !next(&mut line)? {
        return Ok((head, Vec::new(), 0));
    }
    let mut samples = Vec::new();
    let mut number = 2;
    while next(&mut line)? {
        number += 1;
        let sample = row(line.trim_end(), &head).ok_or_else(|| {
            format!(
                "line {number}: is not a sample with {} columns",
                columns(&head)
            )
        })?;
        samples.push(sample);
    }
    Ok((head, samples, bytes))
}

fn columns(head: &Head) -> usize {
    4 + head.checks.len() + head.tolerances.len()
}

fn row(line: &str, head: &Head) -> Option<Sample> {
    let mut cells = line.split(',');
    let index = cells.next()?.parse().ok().filter(|i| *i < head.samples)?;
    let full = match cells.next()? {
        "whole" => true,
        "digest" => false,
        _ => return None,
    };
    let mut number = || cells.next()?.parse::<f64>().ok().filter(|v| !v.is_nan());
    let (soc, temperature_k) = (number()?, number()?);
    let margins = head
        .checks
        .iter()
        .map(|_| number())
        .collect::<Option<Vec<_>>>()?;
    let shares = head
        .tolerances
        .iter()
        .map(|_| number())
        .collect::<Option<Vec<_>>>()?;
    cells.next().is_none().then_some(Sample {
        index,
        soc,
        temperature_k,
        shares,
        margins,
        full,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn head() -> Head {
        Head {
            schema: SAMPLES_SCHEMA.to_owned(),
            prop: "p".to_owned(),
            preset: "glow".to_owned(),
            cues: "walk".to_owned(),
            fingerprint: "1".to_owned(),
            seed: 1,
            samples: 10,
            shard: 2,
            shards: 3,
            cap: 255,
            checks: vec!["cell-pulse".to_owned()],
            tolerances: vec!["a, b".to_owned()],
        }
    }

    #[test]
    fn a_file_reads_back_up_to_where_it_was_cut_off() {
        let sample = |index| Sample {
            index,
            soc: 0.1 + 0.2,
            temperature_k: 273.15,
            shares: vec![1.0 / 3.0],
            margins: vec![f64::NEG_INFINITY],
            full: true,
        };
        let mut text = Vec::new();
        head().write(&mut text).unwrap();
        for i in [1, 4] {
            write_row(&mut text, &sample(i)).unwrap();
        }
        let whole = text.len();
        text.extend_from_slice(b"7,whole,0.3");
        let (found, samples, bytes) = read(text.as_slice()).unwrap();
        assert_eq!((found, bytes as usize), (head(), whole));
        assert_eq!(samples, [sample(1), sample(4)]);
        assert_eq!(head().indices().collect::<Vec<_>>(), [1, 4, 7]);
        assert!(read(&b"time_s,cue\n"[..]).is_err());
        assert!(read([&text[..whole], &b"5,whole\n"[..]].concat().as_slice()).is_err());
    }
}
