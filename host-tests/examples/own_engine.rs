//! An effect engine of one's own under the harness, in Rust: implement `FrameSource`, play it with a cue trace on a prop, and
//! let every check watch. The effect and the prop are invented.
//!
//! `cargo run --release -p lampwright-host-tests --example own_engine`

use lampwright::build::folder::{read_cue_traces, read_prop, Choice};
use lampwright::build::preset::StripMap;
use lampwright::profile::Played;
use lampwright::study::watch::{watch, worst_first, StudyError};
use lampwright_model::{Cue, FrameSource, Layout, Millis, State};
use std::convert::Infallible;
use std::path::Path;

/// A band of light that a press starts and stops and that runs faster after a swing.
struct Band {
    layout: Layout,
    lit: bool,
    /// Pixels a second.
    speed: f64,
    /// Where it is, in pixels.
    place: f64,
    last: Option<Millis>,
}

impl FrameSource for Band {
    type Error = Infallible;

    fn layout(&self) -> Layout {
        self.layout
    }

    fn cue(&mut self, _at: Millis, cue: Cue) {
        match cue {
            Cue::ShortPress => self.lit = !self.lit,
            Cue::Swing { speed } => self.speed = 40.0 + 120.0 * f64::from(speed.0) / 65535.0,
            _ => {}
        }
    }

    fn frame(&mut self, at: Millis, out: &mut [u8]) -> Result<State, Infallible> {
        let since_ms = self.last.replace(at).map_or(0, |last| at.since(last));
        let pixels = f64::from(self.layout.pixels);
        self.place = (self.place + self.speed * f64::from(since_ms) / 1e3) % pixels;
        for (pixel, levels) in out.chunks_mut(self.layout.channels.count()).enumerate() {
            let away = (pixel as f64 - self.place).abs();
            let level = if self.lit { 255.0 - 12.0 * away } else { 0.0 };
            for (channel, share) in levels.iter_mut().zip([1.0, 0.5, 0.1]) {
                // Below 0 saturates to 0.
                *channel = (level * share) as u8;
            }
        }
        Ok(if self.lit { State::Lit } else { State::Dark })
    }
}

fn main() -> Result<(), StudyError> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../traces/lantern-staff");
    let prop = read_prop(&folder, &Choice::default())?;
    let Some(layout) = StripMap::of(&prop).layout() else {
        return Ok(());
    };
    for trace in read_cue_traces(&folder, None)? {
        let engine = Band {
            layout,
            lit: false,
            speed: 40.0,
            place: 0.0,
            last: None,
        };
        let mut stream = Played::new(engine, &trace, 60.0).with_cap(120);
        let mut results = watch(&prop, None, &mut stream, &|_| {})?;
        worst_first(&mut results);
        println!("{}", trace.name);
        for r in &results {
            let part = r.part.as_deref().unwrap_or("the prop");
            match (r.worst, r.limit) {
                (Some(worst), Some(limit)) => {
                    let verdict = r.verdict.word();
                    println!(
                        "  {verdict:<12}{:<18}{part}: {worst:.3} of {limit:.3} {}",
                        r.id, r.unit
                    );
                }
                _ => println!("  {:<12}{:<18}{part}: {}", r.verdict.word(), r.id, r.why),
            }
        }
    }
    Ok(())
}
