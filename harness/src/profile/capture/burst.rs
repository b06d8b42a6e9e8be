//! What came over a line between two resets, and what was wrong with it.

/// Why a burst is no frame. Where the data sheet does not say what a pixel makes of a pulse, the burst is not decoded:
/// the decoder does not guess.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FaultKind {
    /// A pulse, high or low, of less than half the shortest that is allowed.
    Glitch,
    /// A high that is neither that of a 0 nor that of a 1.
    HighTime,
    /// A high within the limits of both, with a low that does not tell either.
    Ambiguous,
    /// A low longer than that of any bit and shorter than a reset.
    Gap,
    /// A low shorter than that of any bit.
    LowTime,
    /// The line's level is not known.
    Unknown,
    /// Fewer bits than the line's pixels need.
    Short,
    /// More bits than the line's pixels take.
    Long,
    /// Data and clock changed in the same time step.
    Together,
    /// A pixel's first three bits are not ones.
    Marker,
    /// A brightness above the one that the pixel type's currents are stated for.
    Brightness,
    /// The capture began within it.
    CutAtStart,
    /// The capture ended within it.
    CutAtEnd,
}

impl FaultKind {
    /// Whether it comes of where the capture begins or ends, and not of the line.
    pub fn of_the_capture(self) -> bool {
        matches!(self, Self::CutAtStart | Self::CutAtEnd)
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Glitch => "a pulse too short for any bit",
            Self::HighTime => "a high time that is neither a 0 nor a 1",
            Self::Ambiguous => "a high time that may be a 0 or a 1",
            Self::Gap => "a low too long for a bit and too short for a reset",
            Self::LowTime => "a low time too short for any bit",
            Self::Unknown => "a level that is not known (x or z)",
            Self::Short => "fewer bits than the pixels need",
            Self::Long => "more bits than the pixels take",
            Self::Together => "data and clock change in the same time step",
            Self::Marker => "a pixel that does not start with three ones",
            Self::Brightness => "a brightness above the one the pixel type's currents hold for",
            Self::CutAtStart => "the capture begins within it",
            Self::CutAtEnd => "the capture ends within it",
        }
    }
}

/// The first thing that was wrong with a burst.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fault {
    /// What.
    pub kind: FaultKind,
    /// When, in steps.
    pub at: u64,
    /// After how many whole bits.
    pub bit: u64,
    /// How long the pulse was, in steps; the number of bits for [`FaultKind::Short`] and [`FaultKind::Long`], the
    /// brightness for [`FaultKind::Brightness`].
    pub found: u64,
}

/// What came between two resets.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Burst {
    /// When its first bit began, in steps.
    pub start: u64,
    /// Bits.
    pub bits: u64,
    /// The bits as bytes, the first bit on top; no more than the pixels take.
    pub bytes: Vec<u8>,
    /// What was wrong.
    pub fault: Option<Fault>,
    /// Bits whose value is known, but whose low time lies outside of the limits for that value.
    pub odd_lows: u64,
}

impl Burst {
    /// Empties it for one that starts now.
    pub(super) fn begin(&mut self, start: u64) {
        self.start = start;
        self.bits = 0;
        self.bytes.clear();
        self.fault = None;
        self.odd_lows = 0;
    }

    /// Keeps the first fault.
    pub(super) fn wrong(&mut self, kind: FaultKind, at: u64, found: u64) {
        let bit = self.bits;
        self.fault.get_or_insert(Fault {
            kind,
            at,
            bit,
            found,
        });
    }
}
