//! The data lines of a prop: which strips hang on each, and which bytes of a frame go over it.

use super::clocked::PIXEL_BITS;
use crate::build::diag::{InputError, InputErrors};
use crate::build::parts::{DataTiming, PixelType, Strip};
use crate::build::prop::{PartKind, Prop};
use crate::profile::circuit::{Circuit, Driver};

/// A strip on a line.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// The strip's name.
    pub name: String,
    /// Its pixels.
    pub pixels: usize,
    /// Its first pixel in the frame.
    pub first: usize,
    /// Channels of a pixel in the order in which they are sent, as their place in the frame: 0 red, 1 green, 2 blue,
    /// 3 white.
    pub order: Vec<usize>,
}

/// A data line: the strip at its start and every strip behind it.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The strips, in the order in which the data reaches them.
    pub runs: Vec<Run>,
    /// The pixel type at its start, whose limits hold for the signal.
    pub pixel: PixelType,
    /// Longest reset of all its pixel types, seconds.
    pub reset_s: f64,
    /// Whether it has a clock.
    pub clocked: bool,
    /// Bytes of a pixel in a frame of the prop.
    stride: usize,
}

impl Line {
    /// Name of the strip at its start.
    pub fn name(&self) -> &str {
        self.runs.first().map_or("", |r| r.name.as_str())
    }

    /// Its pixels.
    pub fn pixels(&self) -> usize {
        self.runs.iter().map(|r| r.pixels).sum()
    }

    /// Bits that its pixels take.
    pub fn bits(&self) -> u64 {
        let each = |r: &Run| match self.clocked {
            true => r.pixels as u64 * PIXEL_BITS,
            false => r.pixels as u64 * r.order.len() as u64 * 8,
        };
        self.runs.iter().map(each).sum()
    }

    /// Puts bytes from the line into a frame. With a clock, colours are scaled from their brightness to the one that the
    /// pixel type's currents are stated for, to the nearest.
    pub fn unpack(&self, bytes: &[u8], stated: u8, frame: &mut [u8]) {
        let mut sent = bytes.iter();
        for run in &self.runs {
            for pixel in 0..run.pixels {
                let base = (run.first + pixel) * self.stride;
                let share = match self.clocked {
                    true => u32::from(sent.next().copied().unwrap_or(0) & 31),
                    false => 1,
                };
                let whole = if self.clocked {
                    u32::from(stated.max(1))
                } else {
                    1
                };
                for channel in &run.order {
                    let Some(byte) = sent.next() else { return };
                    let level = (u32::from(*byte) * share * 2 + whole) / (2 * whole);
                    if let Some(slot) = frame.get_mut(base + channel) {
                        *slot = u8::try_from(level).unwrap_or(u8::MAX);
                    }
                }
            }
        }
    }

    /// The bytes that a frame sends over the line; with a clock at a brightness.
    pub fn pack(&self, frame: &[u8], brightness: u8, out: &mut Vec<u8>) {
        out.clear();
        for run in &self.runs {
            for pixel in 0..run.pixels {
                let base = (run.first + pixel) * self.stride;
                if self.clocked {
                    out.push(0b1110_0000 | brightness & 31);
                }
                let levels = run.order.iter();
                out.extend(levels.map(|c| frame.get(base + c).copied().unwrap_or(0)));
            }
        }
    }
}

/// The data lines of a prop, by the first pixel at their start.
///
/// # Errors
/// No strip is driven, or a line mixes pixels with and without a clock.
pub fn lines(prop: &Prop, circuit: &Circuit) -> Result<Vec<Line>, InputErrors> {
    let stride = prop.frame_channels();
    let strip = |k: usize| -> Option<(&str, &Strip)> {
        let part = prop.parts.get(circuit.strips.get(k)?.part)?;
        match &part.kind {
            PartKind::Strip(strip) => Some((part.name.as_str(), strip)),
            _ => None,
        }
    };
    let mut out = Vec::new();
    for (start, driver) in circuit.drivers.iter().enumerate() {
        if matches!(driver, Driver::Strip(_)) {
            continue;
        }
        let Some((name, first)) = strip(start) else {
            continue;
        };
        let mut line = Line {
            runs: Vec::new(),
            pixel: first.pixel.clone(),
            reset_s: 0.0,
            clocked: is_clocked(&first.pixel),
            stride,
        };
        let mut next = Some(start);
        // A ring of strips would have no start, so this ends.
        while let Some((k, (at, strip))) = next.and_then(|k| Some((k, strip(k)?))) {
            if is_clocked(&strip.pixel) != line.clocked {
                let message = format!("the data line of strip \"{name}\" goes on into \"{at}\", but only one of them has a clock");
                let help = "join strips of one kind, or give each an output of its own";
                return Err(InputError::whole(message).help(help).into());
            }
            line.reset_s = line.reset_s.max(strip.pixel.reset_seconds());
            line.runs.push(Run {
                name: at.to_owned(),
                pixels: strip.pixels as usize,
                first: strip.first as usize,
                order: order(&strip.pixel.order),
            });
            let behind = |d: &Driver| *d == Driver::Strip(k);
            next = circuit.drivers.iter().position(behind);
            if line.runs.len() > circuit.drivers.len() {
                break;
            }
        }
        out.push(line);
    }
    if out.is_empty() {
        let error = InputError::whole("the prop has no strip that data could reach");
        return Err(error.help("add a strip and wire its data-in").into());
    }
    Ok(out)
}

fn is_clocked(pixel: &PixelType) -> bool {
    matches!(pixel.timing, Some(DataTiming::Clocked { .. }))
}

/// Letters of channels as places in the frame.
fn order(letters: &str) -> Vec<usize> {
    letters.chars().filter_map(|l| "RGBW".find(l)).collect()
}
