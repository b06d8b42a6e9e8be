//! Progress on standard error: only on a terminal, only when it takes long.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::time::Duration;

/// A bar over seconds of trace, hidden where standard error is not a terminal.
pub(super) fn bar(total_s: Option<f64>, what: &str) -> ProgressBar {
    let target = ProgressDrawTarget::stderr_with_hz(8);
    let bar = match total_s {
        Some(s) => ProgressBar::with_draw_target(Some(s.ceil() as u64), target),
        None => ProgressBar::with_draw_target(None, target),
    };
    let style =
        ProgressStyle::with_template("{msg:<28} {bar:30} {pos}/{len} s of trace, {eta} left");
    if let Ok(style) = style {
        bar.set_style(style);
    }
    bar.set_message(what.to_owned());
    if !bar.is_hidden() {
        bar.enable_steady_tick(Duration::from_millis(250));
    }
    bar
}

/// A bar over a number of things, hidden where standard error is not a terminal.
pub(super) fn count(total: u64, what: &str) -> ProgressBar {
    let target = ProgressDrawTarget::stderr_with_hz(8);
    let bar = ProgressBar::with_draw_target(Some(total), target);
    let style = ProgressStyle::with_template("{msg:<28} {bar:30} {pos}/{len}, {eta} left");
    if let Ok(style) = style {
        bar.set_style(style);
    }
    bar.set_message(what.to_owned());
    bar
}
