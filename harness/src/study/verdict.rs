//! What a check says.

use super::colour_shift::FallOff;
use serde::Serialize;

/// The outcome of a check.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, PartialOrd, Ord)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// The limit is passed.
    Fails,
    /// Within the limit by less than a tenth of it.
    Tight,
    /// Data is missing, so nothing is claimed.
    NotChecked,
    /// Within the limit.
    Holds,
}

impl Verdict {
    /// The word in reports.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fails => "fails",
            Self::Tight => "tight",
            Self::NotChecked => "not checked",
            Self::Holds => "holds",
        }
    }
}

/// Share of a limit below which a margin counts as tight.
pub const TIGHT_SHARE: f64 = 0.1;

/// On which side of its limit a figure is safe.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// The figure must stay at or below the limit.
    AtMost,
    /// The figure must stay at or above the limit.
    AtLeast,
}

impl Side {
    /// Limit minus figure, signed so that positive is safe.
    pub fn margin(self, limit: f64, figure: f64) -> f64 {
        match self {
            Self::AtMost => limit - figure,
            Self::AtLeast => figure - limit,
        }
    }
}

/// A part's name without the pixel behind it.
fn bare(part: &str) -> &str {
    part.split_once('[').map_or(part, |(strip, _)| strip)
}

/// One line of a check.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckResult {
    /// Stable id, such as `cell-continuous`.
    pub id: &'static str,
    /// What the check protects.
    pub protects: &'static str,
    /// The preset that was played; `None` for a check of the build alone.
    pub preset: Option<String>,
    /// The cue trace that was played.
    pub cues: Option<String>,
    /// The outcome.
    pub verdict: Verdict,
    /// The limit, in `unit`.
    pub limit: Option<f64>,
    /// The worst figure found, in `unit`.
    pub worst: Option<f64>,
    /// Limit minus worst, signed so that positive is safe, in `unit`.
    pub margin: Option<f64>,
    /// The margin as a share of the limit.
    pub margin_share: Option<f64>,
    /// On which side of the limit it is safe.
    pub side: Side,
    /// Unit of limit, worst and margin.
    pub unit: &'static str,
    /// The part or wire.
    pub part: Option<String>,
    /// When the worst figure occurred.
    pub time_s: Option<f64>,
    /// Index of that frame.
    pub frame: Option<u64>,
    /// The cue that was last before it.
    pub cue: Option<String>,
    /// Zones whose layers were active then.
    pub layers: Option<String>,
    /// The condition under which the worst figure occurred.
    pub condition: Option<String>,
    /// The worst figure in the nominal case, in `unit`.
    pub nominal: Option<f64>,
    /// Why it holds, fails or was not checked, in words.
    pub why: String,
    /// Where the limit comes from.
    pub source: Option<String>,
    /// Where along a strip its channels lose current, and what that does to its colour; for `pixel-supply` alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fall_off: Option<FallOff>,
}

impl CheckResult {
    /// A check that lacks data.
    pub fn not_checked(
        id: &'static str,
        protects: &'static str,
        unit: &'static str,
        why: impl Into<String>,
    ) -> Self {
        Self {
            id,
            protects,
            preset: None,
            cues: None,
            verdict: Verdict::NotChecked,
            limit: None,
            worst: None,
            margin: None,
            margin_share: None,
            side: Side::AtMost,
            unit,
            part: None,
            time_s: None,
            frame: None,
            cue: None,
            layers: None,
            condition: None,
            nominal: None,
            why: why.into(),
            source: None,
            fall_off: None,
        }
    }

    /// A check of a figure against a limit; verdict and margins follow.
    pub fn judged(
        id: &'static str,
        protects: &'static str,
        unit: &'static str,
        side: Side,
        limit: f64,
        worst: f64,
    ) -> Self {
        let margin = side.margin(limit, worst);
        let share = (limit != 0.0).then(|| margin / limit.abs());
        let verdict = if margin < 0.0 || margin.is_nan() {
            Verdict::Fails
        } else if share.is_some_and(|s| s < TIGHT_SHARE) {
            Verdict::Tight
        } else {
            Verdict::Holds
        };
        Self {
            verdict,
            limit: Some(limit),
            worst: Some(worst),
            margin: Some(margin),
            margin_share: share,
            side,
            ..Self::not_checked(id, protects, unit, "")
        }
    }

    /// The part without the pixel within it: `column` for `column[95]`.
    pub fn bare_part(&self) -> Option<&str> {
        self.part.as_deref().map(bare)
    }

    /// Whether two results are about the same check and part; the pixel within a strip may differ.
    pub fn same_subject(&self, other: &Self) -> bool {
        self.id == other.id && self.unit == other.unit && self.bare_part() == other.bare_part()
    }

    /// Names the part.
    #[must_use]
    pub fn part(mut self, part: impl Into<String>) -> Self {
        self.part = Some(part.into());
        self
    }

    /// Says why.
    #[must_use]
    pub fn why(mut self, why: impl Into<String>) -> Self {
        self.why = why.into();
        self
    }

    /// Names the source of the limit.
    #[must_use]
    pub fn source(mut self, source: impl Into<String>) -> Self {
        self.source = Some(source.into());
        self
    }
}
