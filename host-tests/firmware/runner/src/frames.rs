//! Frames of a board against the host's.

use super::{names, read, Outcome};

pub(crate) fn compare(want: &str, out: &str, list: &str) -> Outcome {
    let (want, out) = (read(want)?, read(out)?);
    let scenarios = names(list)?;
    let mut at = 0;
    for scenario in &scenarios {
        for frame in 0..scenario.frames {
            let end = at + scenario.len;
            let host = want.get(at..end).ok_or("the host's frames end too early")?;
            let place = format!("{}, frame {frame}", scenario.name);
            let board = out.get(at..end);
            let board = board.ok_or_else(|| format!("the board's frames end at {place}"))?;
            if let Some(byte) = host.iter().zip(board).position(|(a, b)| a != b) {
                let what = match scenario.len - byte {
                    1 | 2 => "scale of the limiter".to_owned(),
                    3 => "state".to_owned(),
                    _ => format!("byte {byte}"),
                };
                let (host, board) = (host[byte], board[byte]);
                return Err(format!("{place}: {what} is {board}, on the host {host}"));
            }
            at = end;
        }
    }
    if out.len() != at || want.len() != at {
        return Err(format!("{} bytes of frames, not {at}", out.len()));
    }
    let frames: usize = scenarios.iter().map(|s| s.frames).sum();
    Ok(format!(
        "{} scenarios, {frames} frames, {at} bytes: the same",
        scenarios.len()
    ))
}
