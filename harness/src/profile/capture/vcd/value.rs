//! Values of lines as text.

use super::Level;

/// The level that a character stands for.
#[inline]
pub(super) fn level(character: u8) -> Option<Level> {
    match character {
        b'0' => Some(Level::Low),
        b'1' => Some(Level::High),
        b'x' | b'X' | b'z' | b'Z' => Some(Level::Unknown),
        _ => None,
    }
}

/// A bit of a value of several, counted from the last. What a value leaves out on its left is 0 where
/// it starts with 0 or 1, else what it starts with (IEEE 1364-2005, 18.2.1).
pub(super) fn bit(digits: &[u8], bit: u32) -> Option<Level> {
    let index = usize::try_from(bit).ok()?;
    match digits.iter().rev().nth(index) {
        Some(character) => level(*character),
        None => match level(*digits.first()?)? {
            Level::Unknown => Some(Level::Unknown),
            Level::Low | Level::High => Some(Level::Low),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_value_is_extended_to_the_left() {
        assert_eq!(bit(b"10", 0), Some(Level::Low));
        assert_eq!(bit(b"10", 1), Some(Level::High));
        assert_eq!(bit(b"10", 7), Some(Level::Low));
        assert_eq!(bit(b"x1", 7), Some(Level::Unknown));
        assert_eq!(bit(b"z", 3), Some(Level::Unknown));
        assert_eq!(bit(b"12", 0), None);
        assert_eq!(bit(b"", 0), None);
    }
}
