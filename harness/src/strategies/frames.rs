//! Frames as any firmware might send them.

use lampwright_model::Layout;
use proptest::collection::vec;
use proptest::prelude::*;

/// Up to `most` frames one after the other, [`Layout::frame_len`] bytes each, at least one. All
/// dark, all full, lone pixels and noise; neighbouring frames are often alike.
pub fn frames(layout: Layout, most: usize) -> impl Strategy<Value = Vec<u8>> {
    let len = layout.frame_len();
    let frame = prop_oneof![
        1 => any::<u8>().prop_map(move |level| vec![level; len]),
        1 => (any::<prop::sample::Index>(), any::<u8>()).prop_map(move |(at, level)| {
            let mut frame = vec![0; len];
            if len > 0 {
                if let Some(byte) = frame.get_mut(at.index(len)) {
                    *byte = level;
                }
            }
            frame
        }),
        2 => vec(any::<u8>(), len),
    ];
    vec((frame, 1..4usize), 1..=most.max(1)).prop_map(move |held| {
        let times = held.into_iter();
        let mut frames: Vec<u8> = times
            .flat_map(|(frame, times)| std::iter::repeat_n(frame, times).flatten())
            .collect();
        frames.truncate(most.max(1) * len);
        frames
    })
}
