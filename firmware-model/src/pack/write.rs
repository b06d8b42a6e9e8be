//! Writing a packed prop into a buffer.

use serde::Serialize;

use super::{Head, Pack, StripData, WriteError, MAGIC, VERSION};
use crate::codec;

/// A preset to be packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NewEntry<'a> {
    /// Name of its file, without the ending.
    pub name: &'a str,
    /// File names of the cue traces meant for it.
    pub cues: &'a [&'a str],
    /// Its bytes, as [`codec::encode`](crate::codec::encode) writes them.
    pub preset: &'a [u8],
}

/// Writes a packed prop into `out` and returns the part written. The counts of `head` are set to
/// the lengths of the lists.
///
/// # Errors
///
/// The buffer is too small, or what was given could not be read again.
pub fn write<'b>(
    head: &Head<'_>,
    strips: &[StripData<'_>],
    presets: &[NewEntry<'_>],
    out: &'b mut [u8],
) -> Result<&'b [u8], WriteError> {
    let count = |n: usize| u16::try_from(n).map_err(|_| WriteError::TooMany);
    let head = Head {
        strips: count(strips.len())?,
        presets: count(presets.len())?,
        ..*head
    };
    let mut room = Room { out, len: 0 };
    room.bytes(&MAGIC)?;
    room.bytes(&[VERSION])?;
    room.item(&head)?;
    for strip in strips {
        room.item(strip)?;
    }
    for preset in presets {
        room.item(&(preset.name, count(preset.cues.len())?, preset.preset))?;
        for cue in preset.cues {
            room.item(cue)?;
        }
    }
    let crc = codec::checksum(room.written());
    room.bytes(&crc.to_le_bytes())?;
    let Room { out, len } = room;
    let out = &*out;
    let bytes = out.get(..len).ok_or(WriteError::NoRoom)?;
    let pack = Pack::read(bytes).map_err(WriteError::Invalid)?;
    for index in 0..head.presets {
        pack.preset(index).map_err(WriteError::Invalid)?;
    }
    Ok(bytes)
}

/// A buffer filled from its start.
struct Room<'b> {
    out: &'b mut [u8],
    len: usize,
}

impl Room<'_> {
    fn written(&self) -> &[u8] {
        self.out.get(..self.len).unwrap_or_default()
    }

    fn bytes(&mut self, bytes: &[u8]) -> Result<(), WriteError> {
        let end = self.len + bytes.len();
        let place = self.out.get_mut(self.len..end);
        place.ok_or(WriteError::NoRoom)?.copy_from_slice(bytes);
        self.len = end;
        Ok(())
    }

    fn item(&mut self, item: &impl Serialize) -> Result<(), WriteError> {
        let rest = self.out.get_mut(self.len..).unwrap_or_default();
        let written = postcard::to_slice(item, rest).map_err(|_| WriteError::NoRoom)?;
        self.len += written.len();
        Ok(())
    }
}
