//! Frames that another program makes while it runs: it gets the cues on its standard input and writes the frames, a byte a
//! level, to its standard output.
//!
//! The lines on its input, each ended by a newline:
//!
//! ```text
//! start 1 109 3 60        version of these lines, pixels, channels, frames a second
//! cue 1500 short-press    a cue and its time in ms
//! cue 4250 knock 0.8      shares from 0 to 1; twist in degrees
//! frame 1517              write the frame for this time, in ms
//! ```
//!
//! Cues come before the frame they are due at; after the last frame the input ends. The lines are sent as fast as the
//! program takes them, so that it need not write out a frame before it reads on, and may also not read them at all.

mod child;

use super::schedule::Schedule;
use super::stream::{cap_levels, Chunk, FrameStream};
use crate::build::cues::{cue_words, CueTrace};
use crate::build::diag::{InputError, InputErrors};
use child::{Child, Got};
use lampwright_model::{LayerSet, Layout};
use std::io::{self, Write};
use std::time::Duration;

/// How long a program may take to end after its last frame.
const GRACE: Duration = Duration::from_millis(500);

/// How a program is run.
#[derive(Debug, Clone, PartialEq)]
pub struct ProgramOptions {
    /// The program and its arguments.
    pub command: Vec<String>,
    /// The shape of its frames.
    pub layout: Layout,
    /// Frames a second.
    pub rate_hz: f64,
    /// The cap, 0..=255: levels are scaled by cap / 255, to the nearest.
    pub cap: u8,
    /// Longest time without a byte from it.
    pub wait: Duration,
}

/// A program that is running.
#[derive(Debug)]
pub struct Program<'t> {
    name: String,
    options: ProgramOptions,
    schedule: Schedule<'t>,
    child: Child,
    over: bool,
}

impl<'t> Program<'t> {
    /// Starts a program that plays a cue trace.
    ///
    /// # Errors
    /// There is no command, it cannot be started, or the prop has no pixels.
    pub fn start(options: ProgramOptions, trace: &'t CueTrace) -> Result<Self, InputErrors> {
        let Some((file, arguments)) = options.command.split_first() else {
            let error = InputError::whole("the command of the engine is empty");
            return Err(error.help("name a program and its arguments").into());
        };
        if options.layout.frame_len() == 0 {
            let error = InputError::whole("the prop has no pixels, so no frame can be had");
            return Err(error.help("add a strip to the build file").into());
        }
        let name = options.command.join(" ");
        let lines = Lines {
            schedule: Schedule::new(trace, options.rate_hz).owned(),
            layout: options.layout,
            rate_hz: options.rate_hz,
        };
        let child = Child::start(file, arguments, move |out| lines.write(out)).map_err(|e| {
            InputError::whole(format!("engine `{name}` cannot be started: {e}"))
                .help("build it first; a path counts from the current folder, as in ./engine")
        })?;
        Ok(Self {
            name,
            schedule: Schedule::new(trace, options.rate_hz),
            options,
            child,
            over: false,
        })
    }

    /// Number of frames from the start to the end of the trace.
    pub fn frames(&self) -> u64 {
        self.schedule.frames()
    }

    fn error(&self, what: &str, help: &str) -> InputErrors {
        let said = self.child.last_words();
        let help = match said.is_empty() {
            true => help.to_owned(),
            false => format!("{help}; its last words: {said}"),
        };
        InputError::whole(format!("engine `{}` {what}", self.name))
            .help(help)
            .into()
    }

    /// It ended, or closed its output, `filled` bytes into frame `index`.
    fn ended(&mut self, index: u64, filled: usize) -> InputErrors {
        let status = self.child.status(GRACE);
        let (frames, length) = (self.schedule.frames(), self.options.layout.frame_len());
        let partly = match filled {
            0 => String::new(),
            n => format!(" and {n} of {length} bytes of the next"),
        };
        let what = format!("{status} after {index} of {frames} frames{partly}");
        let help = format!(
            "it must write {length} bytes ({} pixels of {} channels) for every `frame` line until its input ends, and flush them",
            self.options.layout.pixels,
            self.options.layout.channels.count()
        );
        self.error(&what, &help)
    }

    fn slow(&mut self, index: u64, filled: usize) -> InputErrors {
        self.child.kill();
        let what = format!(
            "gave nothing for {:.1} s, {filled} bytes into frame {index} of {}; it was stopped",
            self.options.wait.as_secs_f64(),
            self.schedule.frames()
        );
        self.error(
            &what,
            "does it flush its output and read its input? Give it longer with --engine-wait",
        )
    }

    /// After the last frame: nothing more may come of a program that ends with its input.
    fn end(&mut self) -> Result<(), InputErrors> {
        if std::mem::replace(&mut self.over, true) {
            return Ok(());
        }
        let most = self.options.layout.frame_len();
        let mut extra = 0;
        let mut scratch = vec![0; most];
        let ended = loop {
            match self.child.read(&mut scratch, GRACE)? {
                // Whole frames more: it does not go by its input, which is its right.
                Got::Bytes(_) if extra > most => break false,
                Got::Bytes(n) => extra += n,
                Got::End => break true,
                Got::Nothing => break false,
            }
        };
        if ended && extra > 0 {
            let what = format!(
                "gave {extra} bytes more than its {} frames have",
                self.schedule.frames()
            );
            return Err(self.error(
                &what,
                "only frames belong on its standard output, with nothing before, between or after them; text belongs on its standard error",
            ));
        }
        if ended {
            if let Some(failure) = self.child.failure(GRACE) {
                let what = format!("{failure} after its last frame");
                return Err(self.error(&what, "it must end with status 0 when its input ends"));
            }
        }
        self.child.kill();
        Ok(())
    }
}

impl FrameStream for Program<'_> {
    fn layout(&self) -> Layout {
        self.options.layout
    }

    fn period_s(&self) -> f64 {
        1.0 / self.schedule.rate_hz()
    }

    fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors> {
        chunk.clear(self.options.layout.frame_len());
        while chunk.len() < frames {
            let Some(due) = self.schedule.next(chunk, |_, _| {}) else {
                self.end()?;
                break;
            };
            let levels = chunk.push_levels();
            let mut filled = 0;
            while let Some(rest) = levels.get_mut(filled..).filter(|r| !r.is_empty()) {
                let fault = match self.child.read(rest, self.options.wait)? {
                    Got::Bytes(n) => {
                        filled += n;
                        continue;
                    }
                    Got::End => self.ended(due.index, filled),
                    Got::Nothing => self.slow(due.index, filled),
                };
                chunk.pop_levels();
                return Err(fault);
            }
            cap_levels(levels, self.options.cap);
            // The bytes tell no state and no layers.
            let meta = self.schedule.meta(due, None, LayerSet::default(), chunk);
            chunk.meta.push(meta);
        }
        Ok(chunk.len())
    }
}

/// The lines for a program.
struct Lines {
    schedule: Schedule<'static>,
    layout: Layout,
    rate_hz: f64,
}

impl Lines {
    fn write(mut self, out: &mut dyn Write) -> io::Result<()> {
        let (pixels, channels) = (self.layout.pixels, self.layout.channels.count());
        writeln!(out, "start 1 {pixels} {channels} {}", self.rate_hz)?;
        let mut chunk = Chunk::new();
        let mut cues = Vec::new();
        loop {
            chunk.clear(0);
            let due = self
                .schedule
                .next(&mut chunk, |at, cue| cues.push((at, cue)));
            for (at_ms, cue) in cues.drain(..) {
                writeln!(out, "cue {at_ms} {}", cue_words(cue))?;
            }
            match due {
                Some(due) => writeln!(out, "frame {}", due.now_ms)?,
                None => return out.flush(),
            }
        }
    }
}
