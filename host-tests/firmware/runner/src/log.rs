//! The log of a board, decoded with the image's own table of messages.

use super::{read, read_text, Outcome};
use defmt_decoder::{DecodeError, Table};

pub(crate) fn check(image: &str, log: &str, want: &str) -> Outcome {
    let lines = decode(image, log)?;
    std::fs::write(format!("{log}.txt"), lines.join("\n") + "\n").map_err(|e| e.to_string())?;
    let want = read_text(want)?;
    follows(&lines, &want)?;
    let late = lines.iter().filter(|l| l.contains(" ms late, ")).count();
    let counted: usize = lines.iter().filter_map(|l| overruns(l)).sum();
    if late != counted {
        return Err(format!(
            "{late} lines of late frames, but {counted} overruns counted"
        ));
    }
    let count = |start: &str| lines.iter().filter(|l| plain(l).starts_with(start)).count();
    Ok(format!(
        "{} lines: {} cues, {} states, {} of the limiter, {} of the sag guard, {late} of late frames",
        lines.len(),
        count("cue "),
        count("state "),
        count("limiter: "),
        count("sag guard: ")
    ))
}

/// The lines of a log: level and message.
fn decode(image: &str, log: &str) -> Result<Vec<String>, String> {
    let table = Table::parse(&read(image)?).map_err(|e| format!("{image}: {e}"))?;
    let table = table.ok_or_else(|| format!("{image} has no messages"))?;
    let mut decoder = table.new_stream_decoder();
    decoder.received(&read(log)?);
    let mut lines = Vec::new();
    loop {
        match decoder.decode() {
            Ok(frame) => {
                let level = frame.level().map_or("", |level| level.as_str());
                lines.push(format!("{level} {}", frame.display_message()));
            }
            Err(DecodeError::UnexpectedEof) => return Ok(lines),
            Err(DecodeError::Malformed) => {
                return Err(format!("{log}: malformed after {} lines", lines.len()));
            }
        }
    }
}

/// A line without its level.
fn plain(line: &str) -> &str {
    line.split_once(' ').map_or(line, |(_, rest)| rest)
}

/// A line as the host's list has it; `None` for one that is not in it.
fn listed(line: &str) -> Option<String> {
    let line = plain(line);
    if line.starts_with("play ") || line == "limiter: off" {
        Some(line.to_owned())
    } else if line.starts_with("limiter: ") {
        Some("limiter: on".to_owned())
    } else if line.starts_with("state ") {
        line.split_once(" at ").map(|(state, _)| state.to_owned())
    } else {
        None
    }
}

/// Every line wanted is there in its order. Between them only states may stand, that no frame showed.
fn follows(lines: &[String], want: &str) -> Result<(), String> {
    let mut found = lines.iter().filter_map(|line| listed(line));
    for (number, wanted) in want.lines().enumerate() {
        loop {
            let Some(line) = found.next() else {
                return Err(format!("line {} is missing: {wanted}", number + 1));
            };
            if line == wanted {
                break;
            }
            if !line.starts_with("state ") {
                return Err(format!("line {}: {line}, not {wanted}", number + 1));
            }
        }
    }
    match found.find(|line| !line.starts_with("state ")) {
        Some(line) => Err(format!("one line more than there should be: {line}")),
        None => Ok(()),
    }
}

/// How many overruns the last line of a scenario counts.
fn overruns(line: &str) -> Option<usize> {
    let count = line.strip_suffix(" overruns")?.rsplit(' ').next()?;
    count.parse().ok()
}
