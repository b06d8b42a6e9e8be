//! Well-formed examples for messages: what a builder would really write under a key.

use crate::units::Quantity;

/// An example of a quantity for a key; the kind's own example where the key is not known.
pub(super) fn example<Q: Quantity>(key: &str) -> &'static str {
    let by_key = match key {
        "dark-current" => "0.6 mA",
        "current" => "12 mA",
        "logic-current" => "40 mA",
        "hold" => "2.0 A",
        "trip" => "6.0 A",
        "cut-off" | "off" | "under-voltage" => "2.5 V",
        "full" => "3.4 V",
        "supply-min" => "3.5 V",
        "supply-max" => "5.3 V",
        "zero-high" => "300 ns",
        "zero-low" => "900 ns",
        "one-high" | "one-low" => "600 ns",
        "reset" => "280 µs",
        "rail-plus" | "rail-minus" => "1.3 mΩ",
        "efficiency" => "90 %",
        "clock-max" => "10 MHz",
        "outer-diameter" => "32 mm",
        "wall" => "2 mm",
        "soc" => "50 %",
        _ => "",
    };
    // A key may be used with another kind elsewhere: only an example of the right kind is shown.
    match crate::units::parse::<Q>(by_key) {
        Ok(_) => by_key,
        Err(_) => Q::EXAMPLE,
    }
}
