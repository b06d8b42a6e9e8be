//! What can be wrong with a network, and what a solve can find.

use super::network::Rail;

/// Why a network cannot be solved as it stands. Every variant names the place.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NetworkError {
    /// A value is outside the range that has a meaning.
    #[error("{what} of `{name}` is {value}: expected {expected}")]
    BadValue {
        /// Name of the part.
        name: String,
        /// Which of its values.
        what: &'static str,
        /// The value given.
        value: f64,
        /// The range that was expected, with unit.
        expected: &'static str,
    },
    /// Two parts of one kind have the same name.
    #[error("the name `{name}` is used twice")]
    DuplicateName {
        /// The name.
        name: String,
    },
    /// There is no cell.
    #[error("the network has no cell: nothing drives it")]
    NoSource,
    /// Both terminals of a cell are one node: a short circuit without any resistance.
    #[error("cell `{source_name}` is short-circuited: both its terminals are joined by 0 ohm")]
    ShortedSource {
        /// Name of the cell.
        source_name: String,
    },
    /// No conducting path joins these nodes to the cell.
    #[error("no conducting path to the cell from: {}", nodes.join(", "))]
    FloatingNodes {
        /// Names of the nodes.
        nodes: Vec<String>,
    },
    /// A rail of a strip has no feed.
    #[error("strip `{strip}` has no feed on its {rail} rail")]
    UnfedStrip {
        /// Name of the strip.
        strip: String,
        /// The rail without a feed.
        rail: Rail,
    },
    /// A feed is soldered to a pixel that the strip does not have.
    #[error(
        "strip `{strip}` has {pixels} pixels, but a feed is at pixel {pixel} (the first is 0)"
    )]
    FeedOutOfRange {
        /// Name of the strip.
        strip: String,
        /// Pixel asked for.
        pixel: usize,
        /// Number of pixels.
        pixels: usize,
    },
    /// A strip without pixels.
    #[error("strip `{strip}` has no pixels")]
    EmptyStrip {
        /// Name of the strip.
        strip: String,
    },
    /// Two feeds on a rail without resistance: how they share the current is undefined.
    #[error(
        "strip `{strip}`: its {rail} rail is given 0 ohm per pitch between two feeds, so the share \
         of current of each feed is undefined; give the resistance of the copper"
    )]
    RailWithoutResistance {
        /// Name of the strip.
        strip: String,
        /// The rail.
        rail: Rail,
    },
    /// The equations have no single solution, for example two cells in parallel without resistance.
    #[error("the network has no single solution (cells in a loop without resistance?)")]
    Singular,
}

/// No operating point exists with all constant-power loads running.
///
/// This is a finding about the prop, not a failure of the solver: past the voltage collapse point
/// (for one load `P` behind `E` and `R` it lies at `E²/4R`) a constant-power load would need more
/// than the supply can deliver.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Collapse {
    /// Index of the load that fails first (the order in which loads were added).
    pub load: usize,
    /// The largest share of all constant-power loads, 0..1, that still has an operating point.
    pub largest_share: f64,
    /// Supply of that load at that share, in volt.
    pub supply_v: f64,
}

/// Why one frame has no solution.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SolveError {
    /// Supply collapse: see [`Collapse`].
    #[error(
        "supply collapse: load {} cannot be supplied; largest share that can: {:.4}",
        .0.load, .0.largest_share
    )]
    Collapse(Collapse),
    /// The iteration did not end within its bound.
    #[error("no convergence after {iterations} iterations, residual {residual_a:e} A")]
    NoConvergence {
        /// Largest current that does not add up, in ampere.
        residual_a: f64,
        /// Iterations done.
        iterations: usize,
    },
    /// The drive does not fit the network.
    #[error("{what}: expected {expected}, found {found}")]
    BadDrive {
        /// What is wrong.
        what: &'static str,
        /// What was expected.
        expected: String,
        /// What was found.
        found: String,
    },
}
