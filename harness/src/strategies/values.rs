//! Numbers, colours and names.

use super::Ranges;
use lampwright_model::preset::{Direction, Origin, Stop, Stops, MAX_STOPS};
use lampwright_model::{Channels, Color, Length, Share};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;

/// Any share, its ends more often than chance.
pub fn share() -> impl Strategy<Value = Share> {
    prop_oneof![
        1 => Just(0),
        2 => Just(u16::MAX),
        1 => select(&[1, 32768, u16::MAX - 1][..]),
        6 => any::<u16>(),
    ]
    .prop_map(Share)
}

/// A share that is not zero.
pub(super) fn some_share() -> impl Strategy<Value = Share> {
    (1..=u16::MAX).prop_map(Share)
}

/// A duration in ms, up to the longest; none, whole seconds and the longest more often than chance.
pub fn duration_ms(ranges: &Ranges) -> impl Strategy<Value = u32> {
    let longest = ranges.longest_ms;
    prop_oneof![
        1 => Just(0),
        4 => 0..=longest,
        1 => (0..=longest / 1000).prop_map(|s| s * 1000),
        1 => Just(longest),
    ]
}

/// A duration in ms, at least 1.
pub(super) fn period_ms(ranges: &Ranges) -> impl Strategy<Value = u32> {
    duration_ms(ranges).prop_map(|ms| ms.max(1))
}

/// A size in pixel pitches, none more often than chance.
pub(super) fn length(ranges: &Ranges) -> impl Strategy<Value = Length> {
    prop_oneof![1 => Just(0), 5 => 0..=ranges.size.0].prop_map(Length)
}

/// A size in pixel pitches, from one pixel.
pub(super) fn size(ranges: &Ranges) -> impl Strategy<Value = Length> {
    (Length::from_pixels(1).0..=ranges.size.0.max(16)).prop_map(Length)
}

/// A colour for the channels; each channel is off or full more often than chance.
pub fn color(channels: Channels) -> impl Strategy<Value = Color> {
    let level = || prop_oneof![1 => Just(0), 1 => Just(u16::MAX), 3 => any::<u16>()];
    [level(), level(), level(), level()].prop_map(move |[r, g, b, w]| match channels {
        Channels::Rgb => Color::rgb(r, g, b),
        Channels::Rgbw => Color::rgbw(r, g, b, w),
    })
}

pub(super) fn stops(channels: Channels, ranges: &Ranges) -> impl Strategy<Value = Stops> {
    vec(
        (share(), color(channels)),
        1..=ranges.stops.clamp(1, MAX_STOPS),
    )
    .prop_map(|mut list| {
        list.sort_by_key(|stop| stop.0);
        let stops = list.into_iter().map(|(at, color)| Stop { at, color });
        stops.collect()
    })
}

pub(super) fn direction() -> impl Strategy<Value = Direction> {
    select(&[Direction::TowardsEnd, Direction::TowardsStart][..])
}

pub(super) fn origin() -> impl Strategy<Value = Origin> {
    select(&[Origin::Start, Origin::End, Origin::Centre][..])
}

/// A name; with `odd` whatever a text can hold.
pub fn name(odd: bool) -> BoxedStrategy<String> {
    let plain = "[a-z]{1,8}";
    if !odd {
        return plain.boxed();
    }
    const HARD: [&str; 12] = [
        "\"", "'", "a.b", " ", "\n", "\u{0}", "#", "=", "]", "\\", "é", "1",
    ];
    prop_oneof![
        plain,
        "[a-z][a-z-]{0,15}",
        "\\PC{1,8}",
        any::<[char; 4]>().prop_map(|c| c.iter().collect()),
        select(&HARD[..]).prop_map(str::to_owned),
    ]
    .boxed()
}
