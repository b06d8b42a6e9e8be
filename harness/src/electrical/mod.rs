//! The electrical core: what every frame does to pixels, wires, contacts and cell.
//!
//! Plain SI `f64` in, plain SI `f64` out. Nothing here knows files, parts or presets.
//!
//! ```text
//!   drive levels -> pixel laws -> strips (eliminated exactly to their feed points)
//!                                   |
//!   cell (E, R) -> network (reduced once to ports) -> Newton on the ports -> Solution
//! ```
//!
//! A [`Network`] is built once, a [`Solver`] reduces its linear part once, and each frame then
//! costs a time proportional to the number of pixels and allocates nothing.
//!
//! What this model leaves out: inductance, skin effect and transmission-line effects (a prop is
//! small and slow against them), contact noise, and the temperature of a conductor changing its
//! resistance within one solve.

pub mod balance;
pub mod cell;
pub mod data_line;
mod dense;
pub mod drive;
pub mod error;
pub mod heat;
pub mod hull;
mod lanes;
pub mod load;
pub mod network;
pub mod newton;
pub mod pixel;
mod power;
pub mod protection;
pub mod pwm;
pub mod reading;
mod reduce;
pub mod regulator;
pub mod ripple;
pub mod solution;
mod strip;
pub mod table;
mod topology;
pub mod transient;
pub mod wire;

pub use balance::{check_balance, BalanceReport};
pub use cell::{Ageing, CellModel, CellState, RcPair, Thermal};
pub use drive::{Drive, SourceDrive, StripDrive};
pub use error::{Collapse, NetworkError, SolveError};
pub use lanes::{Lane, LaneSolver, LANES};
pub use load::{LoadLaw, LoadState};
pub use network::{
    BranchId, Feed, LoadId, Network, NetworkBuilder, NodeId, Rail, SourceId, StripId, StripSpec,
};
pub use newton::Solver;
pub use pixel::{Channel, PixelLaw, PixelType, Ramp, MAX_CHANNELS};
pub use pwm::{LevelSums, PwmFigures, DEFAULT_PEAK_QUANTILE};
pub use reading::{Reading, StripSupply};
pub use ripple::{Ripple, SmoothedPwm, Smoothing};
pub use solution::{Solution, StripSolution};
pub use table::{Interpolation, Table1, Table2};
pub use transient::{Capacitor, Stretch, Transient};
