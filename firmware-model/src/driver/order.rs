//! The order in which the channels of a pixel are sent.

/// The order in which the channels of a pixel are sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Order {
    /// For each place on the line the channel: 0 red, 1 green, 2 blue, 3 white.
    channels: [u8; 4],
    count: u8,
}

impl Order {
    /// Green, red, blue: WS2812B and SK6812 (their data sheets, "composition of 24 bit data").
    pub const GRB: Order = Order {
        channels: [1, 0, 2, 0],
        count: 3,
    };
    /// Green, red, blue, white: SK6812RGBW data sheet, "composition of 32 bit data" (from memory).
    pub const GRBW: Order = Order {
        channels: [1, 0, 2, 3],
        count: 4,
    };

    /// An order by its letters, each of `RGB` or `RGBW` once; `None` for anything else.
    #[must_use]
    pub fn parse(letters: &str) -> Option<Order> {
        let count = letters.len();
        let mut channels = [0; 4];
        let mut seen = 0u8;
        for (place, letter) in channels.iter_mut().zip(letters.bytes()) {
            *place = match letter {
                b'R' => 0,
                b'G' => 1,
                b'B' => 2,
                b'W' => 3,
                _ => return None,
            };
            seen |= 1 << *place;
        }
        let whole = matches!((count, seen), (3, 0b0111) | (4, 0b1111));
        whole.then_some(Order {
            channels,
            count: count as u8,
        })
    }

    /// Number of channels, 3 or 4.
    #[must_use]
    pub const fn count(self) -> usize {
        self.count as usize
    }

    /// The levels R, G, B, W of a pixel in this order.
    pub fn arrange(self, levels: [u8; 4]) -> impl Iterator<Item = u8> {
        let channels = self.channels.into_iter().take(self.count());
        // A channel is one of four.
        channels.map(move |channel| levels[usize::from(channel & 3)])
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn orders_are_read_and_kept() {
        assert_eq!(Order::parse("GRB"), Some(Order::GRB));
        assert_eq!(Order::parse("GRBW"), Some(Order::GRBW));
        assert!(Order::parse("BGR")
            .unwrap()
            .arrange([1, 2, 3, 4])
            .eq([3, 2, 1]));
        assert!(Order::parse("WBRG")
            .unwrap()
            .arrange([1, 2, 3, 4])
            .eq([4, 3, 1, 2]));
        for wrong in [
            "", "RG", "RGBB", "RRB", "RGW", "rgb", "RGBWR", "RGBWW", "RGB ",
        ] {
            assert_eq!(Order::parse(wrong), None, "{wrong}");
        }
    }
}
