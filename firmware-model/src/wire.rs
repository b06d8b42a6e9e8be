//! Numbers, texts and lists out of bytes in postcard's wire format.
//!
//! Written by hand because it is what most of a board's flash went to: the readers that serde derives
//! carry every value through a result of its own. Here a fault is noted and reading goes on with
//! zeros; who reads asks once at the end. What is read is the same as with `postcard` (tested).

use crate::fixed::{Length, Share};

/// Bytes that are read from their start.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reader<'b> {
    rest: &'b [u8],
    sound: bool,
}

impl<'b> Reader<'b> {
    pub(crate) const fn new(bytes: &'b [u8]) -> Self {
        Self {
            rest: bytes,
            sound: true,
        }
    }

    /// What has not been read, if there was no fault so far.
    pub(crate) const fn finish(self) -> Option<&'b [u8]> {
        if self.sound {
            Some(self.rest)
        } else {
            None
        }
    }

    /// Whether there was no fault so far.
    pub(crate) const fn is_sound(&self) -> bool {
        self.sound
    }

    /// Notes a fault.
    pub(crate) fn fail(&mut self) {
        self.sound = false;
    }

    #[inline(never)]
    pub(crate) fn u8(&mut self) -> u8 {
        match self.rest.split_first() {
            Some((byte, rest)) => {
                self.rest = rest;
                *byte
            }
            None => {
                self.sound = false;
                0
            }
        }
    }

    /// A number of up to `bits` bits: seven in each byte, the lowest first, the eighth bit says that
    /// more follow.
    #[inline(never)]
    fn varint(&mut self, bits: u32) -> u32 {
        let mut value = 0;
        let mut shift = 0;
        while shift < bits {
            let byte = self.u8();
            let part = u32::from(byte & 0x7f);
            value |= part << shift;
            if byte & 0x80 == 0 {
                // Bits that the last byte has no room for.
                if bits - shift < 7 && part >> (bits - shift) != 0 {
                    break;
                }
                return value;
            }
            shift += 7;
        }
        self.sound = false;
        0
    }

    pub(crate) fn u32(&mut self) -> u32 {
        self.varint(32)
    }

    #[inline(never)]
    pub(crate) fn u16(&mut self) -> u16 {
        self.varint(16) as u16
    }

    /// Signed numbers stand with their sign in the lowest bit.
    pub(crate) fn i16(&mut self) -> i16 {
        let bits = self.u16();
        ((bits >> 1) ^ (bits & 1).wrapping_neg()) as i16
    }

    #[inline(never)]
    pub(crate) fn bool(&mut self) -> bool {
        self.choice(2) == 1
    }

    /// A byte that must be below `count`: a yes or no, or whether something follows.
    fn choice(&mut self, count: u8) -> u8 {
        let byte = self.u8();
        if byte >= count {
            self.sound = false;
        }
        byte
    }

    /// The number of a variant.
    #[inline(never)]
    pub(crate) fn variant(&mut self) -> u8 {
        u8::try_from(self.u32()).unwrap_or(u8::MAX)
    }

    /// A variant without data.
    #[inline]
    pub(crate) fn one_of<T: Copy, const N: usize>(&mut self, all: [T; N], none: T) -> T {
        let number = usize::from(self.variant());
        match all.get(number) {
            Some(value) => *value,
            None => {
                self.sound = false;
                none
            }
        }
    }

    pub(crate) fn share(&mut self) -> Share {
        Share(self.u16())
    }

    pub(crate) fn length(&mut self) -> Length {
        Length(self.u16())
    }

    /// Bytes with their number before them.
    #[inline(never)]
    pub(crate) fn bytes(&mut self) -> &'b [u8] {
        let len = self.u32() as usize;
        match self.rest.split_at_checked(len) {
            Some((bytes, rest)) => {
                self.rest = rest;
                bytes
            }
            None => {
                self.sound = false;
                &[]
            }
        }
    }

    /// A text with its length in bytes before it.
    #[inline(never)]
    pub(crate) fn text(&mut self) -> &'b str {
        match core::str::from_utf8(self.bytes()) {
            Ok(text) => text,
            Err(_) => {
                self.sound = false;
                ""
            }
        }
    }

    /// What may be left out.
    #[inline]
    pub(crate) fn option<T>(&mut self, read: impl FnOnce(&mut Self) -> T) -> Option<T> {
        self.bool().then(|| read(self))
    }

    /// The items of a list, given out one after the other; ends early at a fault.
    #[inline]
    pub(crate) fn list(&mut self, mut item: impl FnMut(&mut Self)) {
        let count = self.u32();
        for _ in 0..count {
            if !self.sound {
                break;
            }
            item(self);
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    extern crate std;
    use super::*;
    use core::fmt::Debug;
    use proptest::prelude::*;
    use serde::de::DeserializeOwned;

    /// Reads with both and holds value and rest against each other.
    fn same<'b, T: DeserializeOwned + PartialEq + Debug>(
        bytes: &'b [u8],
        read: impl FnOnce(&mut Reader<'b>) -> T,
    ) {
        let mut reader = Reader::new(bytes);
        let value = read(&mut reader);
        let own = reader.finish().map(|rest| (value, rest));
        let theirs = postcard::take_from_bytes::<T>(bytes).ok();
        assert_eq!(own, theirs, "{bytes:?}");
    }

    fn all_same(bytes: &[u8]) {
        same::<u8>(bytes, Reader::u8);
        same::<u16>(bytes, Reader::u16);
        same::<u32>(bytes, Reader::u32);
        same::<i16>(bytes, Reader::i16);
        same::<bool>(bytes, Reader::bool);
        same::<Share>(bytes, Reader::share);
        same::<Option<u16>>(bytes, |r| r.option(Reader::u16));
        same::<crate::State>(bytes, |r| {
            use crate::State::{Dark, Falling, Lit, Rising};
            r.one_of([Dark, Rising, Lit, Falling], Dark)
        });
        // Postcard takes lengths of up to 64 bits on a host, of 32 bits on a small core as here.
        if bytes.iter().take_while(|byte| **byte >= 0x80).count() >= 5 {
            return;
        }
        same::<heapless::Vec<u16, 12>>(bytes, |r| {
            let mut all = heapless::Vec::new();
            r.list(|r| all.push(r.u16()).unwrap());
            all
        });
        same::<heapless::String<12>>(bytes, |r| heapless::String::try_from(r.text()).unwrap());
    }

    #[test]
    fn numbers_at_their_ends_are_read_as_postcard_reads_them() {
        let ends = [
            0u32,
            1,
            127,
            128,
            255,
            256,
            16383,
            16384,
            65535,
            65536,
            2097151,
            2097152,
            268435455,
            268435456,
            2147483647,
            u32::MAX,
        ];
        for value in ends {
            let mut buffer = [0; 8];
            all_same(postcard::to_slice(&value, &mut buffer).unwrap());
            // Cut short, and one more in the highest place.
            let bytes = postcard::to_slice(&value, &mut buffer).unwrap();
            all_same(&bytes[..bytes.len() - 1]);
            *bytes.last_mut().unwrap() += 1;
            all_same(bytes);
        }
        for bytes in [
            &[0x80u8, 0x80, 0x80, 0x80, 0x10][..],
            &[0x80, 0],
            &[0xff; 5],
            &[0xff, 0xff, 4],
        ] {
            all_same(bytes);
        }
    }

    proptest! {
        #[test]
        fn any_bytes_are_read_as_postcard_reads_them(
            bytes in proptest::collection::vec(prop_oneof![any::<u8>(), 0..4u8, Just(0x80), Just(0xff)], 0..12)
        ) {
            all_same(&bytes);
        }
    }
}
