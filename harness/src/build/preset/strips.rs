//! The strips a preset is written for.

use crate::build::prop::{PartKind, Prop};
use lampwright_model::{Channels, Layout};

/// A strip and where its pixels are in the frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StripRun {
    /// The name of its part in the build file.
    pub name: String,
    /// Index of its first pixel in the frame, counted from 0.
    pub first: u32,
    /// Number of pixels.
    pub pixels: u32,
}

/// Every strip of a prop in frame order, and the channels of a frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StripMap {
    /// The strips.
    pub strips: Vec<StripRun>,
    /// Pixels in a frame.
    pub pixels: u32,
    /// Channels of each pixel in a frame.
    pub channels: Channels,
}

impl StripMap {
    /// The strips of a prop. A frame has a white channel as soon as one strip has.
    pub fn of(prop: &Prop) -> Self {
        let strips = prop.parts.iter().filter_map(|part| match &part.kind {
            PartKind::Strip(strip) => Some((part.name.as_str(), strip.pixels)),
            _ => None,
        });
        let channels = match prop.frame_channels() {
            4.. => Channels::Rgbw,
            _ => Channels::Rgb,
        };
        Self::new(strips, channels)
    }

    /// Strips by name and number of pixels, one after the other in the frame.
    pub fn new<'a>(strips: impl IntoIterator<Item = (&'a str, u32)>, channels: Channels) -> Self {
        let mut first: u32 = 0;
        let strips: Vec<StripRun> = strips
            .into_iter()
            .map(|(name, pixels)| {
                let run = StripRun {
                    name: name.to_owned(),
                    first,
                    pixels,
                };
                first = first.saturating_add(pixels);
                run
            })
            .collect();
        Self {
            strips,
            pixels: first,
            channels,
        }
    }

    /// A frame whose strips have no names.
    pub fn unnamed(layout: Layout) -> Self {
        Self {
            strips: Vec::new(),
            pixels: u32::from(layout.pixels),
            channels: layout.channels,
        }
    }

    /// The shape of a frame; `None` where it has more pixels than the engine can count (65535).
    pub fn layout(&self) -> Option<Layout> {
        Some(Layout {
            pixels: u16::try_from(self.pixels).ok()?,
            channels: self.channels,
        })
    }

    /// The strip of that name.
    pub fn find(&self, name: &str) -> Option<&StripRun> {
        self.strips.iter().find(|s| s.name == name)
    }
}
