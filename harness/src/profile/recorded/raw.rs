//! Frames as bytes back to back.

use super::Input;
use crate::build::diag::{InputError, InputErrors};
use lampwright_model::Layout;
use std::io::{ErrorKind, Read};

/// Reads raw frames.
pub(super) struct RawReader {
    name: String,
    input: Input,
    layout: Layout,
    frames: u64,
}

impl RawReader {
    pub(super) fn new(name: String, input: Input, layout: Layout) -> Self {
        Self {
            name,
            input,
            layout,
            frames: 0,
        }
    }

    /// Reads one frame; `false` at the end.
    pub(super) fn frame(&mut self, levels: &mut [u8]) -> Result<bool, InputErrors> {
        let mut filled = 0;
        while let Some(rest) = levels.get_mut(filled..).filter(|r| !r.is_empty()) {
            match self.input.read(rest) {
                Ok(0) => break,
                Ok(n) => filled += n,
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(e) => return Err(unreadable(&self.name, &e).into()),
            }
        }
        if filled == 0 {
            return if self.frames == 0 {
                Err(empty(&self.name).into())
            } else {
                Ok(false)
            };
        }
        if filled < levels.len() {
            return Err(partial(&self.name, self.frames, filled, self.layout).into());
        }
        self.frames += 1;
        Ok(true)
    }
}

/// The last frame is cut off, or the frames are of another length.
pub(super) fn partial(name: &str, frame: u64, found: usize, layout: Layout) -> InputError {
    let wanted = layout.frame_len();
    let (pixels, channels) = (layout.pixels, layout.channels.count());
    let at = frame * wanted as u64;
    let message = format!("{name}: frame {frame} (from byte {at}) has {found} of {wanted} bytes");
    InputError::whole(message).help(format!(
        "the prop has {pixels} pixels of {channels} channels: {pixels} × {channels} = {wanted} bytes a frame; write whole frames of that length"
    ))
}

pub(super) fn empty(name: &str) -> InputError {
    InputError::whole(format!("{name}: there is no frame"))
        .help("record at least one frame; a CSV recording has a header, then a row a frame")
}

pub(super) fn unreadable(name: &str, error: &std::io::Error) -> InputError {
    InputError::whole(format!("{name} cannot be read: {error}"))
        .help("check the path and its permissions; - stands for the standard input")
}
