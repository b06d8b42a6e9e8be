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
//! # Safety of the server
//! It listens on the loopback unless asked otherwise; every address holds a token that changes with each start; a
//! request with a `Host` that is a name other than `localhost`, with another `Origin`, or sent by another site's
//! page is refused; bodies are small; nothing but the page's own files is served.

mod api;
mod desk;
mod faults;
mod files;
mod guard;
mod live;
mod series;
mod server;
mod sheet;
mod unwired;
mod watch;
mod wish;

pub use desk::{Read, Shown};
pub use server::{run, Options, Ready, ServeError};
pub use unwired::{Answer, Question, Unwired};
pub use wish::Wish;
