//! The page that shows a prop while it is worked on: a server on the loopback, its page, and what they say to each
//! other.
//!
//! The server alone reads files and solves; the page draws. Whatever changes, the page asks again with the whole
//! [`Wish`]: three answers of rising cost, of which it drops those it no longer needs.
//!
//! | asked for | answer |
//! |---|---|
//! | `quick` | a digest at this wish: margins and currents from a few hundred frames, marked as an estimate |
//! | `play` | every frame under one condition: light, currents, voltages |
//! | `margins` | the checks over the whole trace, as `check` gives them |
//! | `cap` | the highest safe cap, as `cap` gives it |
//! | `live` | frames as they come, with cues by hand |
//! | `wait` | answered when a file has changed |
//!
//! All but the last are answered by code that knows neither server nor files: an [`Engine`] gives the same answers from
//! texts, in a report as WebAssembly (the crate feature `command` is off there).
//!
//! # Safety of the server
//! It listens on the loopback unless asked otherwise; every address holds a token that changes with each start; a
//! request with a `Host` that is a name other than `localhost`, with another `Origin`, or sent by another site's
//! page is refused; bodies are small; nothing but the page's own files is served.

mod answers;
mod engine;
mod faults;
mod hand;
mod reading;
mod series;
mod sheet;
mod wish;

#[cfg(feature = "command")]
mod api;
#[cfg(feature = "command")]
mod carried;
#[cfg(feature = "command")]
mod describe;
#[cfg(feature = "command")]
mod desk;
#[cfg(feature = "command")]
mod files;
#[cfg(feature = "command")]
mod guard;
#[cfg(feature = "command")]
mod live;
#[cfg(feature = "command")]
mod server;
#[cfg(feature = "command")]
mod unwired;
#[cfg(feature = "command")]
mod watch;

#[cfg(feature = "command")]
pub use carried::carried;
#[cfg(feature = "command")]
pub use describe::describe;
#[cfg(feature = "command")]
pub use desk::Read;
pub use engine::{Engine, Texts};
pub use reading::Shown;
#[cfg(feature = "command")]
pub use server::{run, Options, Ready, ServeError};
#[cfg(feature = "command")]
pub use unwired::{Answer, Question, Unwired};
pub use wish::Wish;
