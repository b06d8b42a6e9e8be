//! `frame-time`: rendering, limiting, encoding and sending a frame must fit into the frame period.

use super::Check;
use crate::build::parts::PixelType;
use crate::build::prop::PartKind;
use crate::profile::circuit::{Driver, Subject};
use crate::profile::figures::Figures;
use crate::study::chip_work::{self, Work};
use crate::study::verdict::{CheckResult, Side};
use lampwright_model::Preset;

const ID: &str = "frame-time";
const PROTECTS: &str = "the frame rate";

/// What the processor does, or why that is not known.
enum Processor {
    Busy {
        work: Work,
        clock_hz: f64,
        core: &'static str,
    },
    Unknown(&'static str),
}

impl Processor {
    fn of(subject: Subject<'_>, preset: Option<&Preset>) -> Self {
        let Some(preset) = preset else {
            return Self::Unknown("the frames were not rendered by the engine");
        };
        let Some((_, board)) = subject.prop.board() else {
            return Self::Unknown("there is no board");
        };
        let Some(core) = &board.core else {
            return Self::Unknown("the board states no `core` and `clock`");
        };
        let strips = subject.circuit.strips.len();
        match chip_work::work(core.kind, preset, strips) {
            Some(work) => Self::Busy {
                work,
                clock_hz: core.clock.low_si(),
                core: core.kind.title(),
            },
            None => Self::Unknown("the table of costs lacks a part of this preset"),
        }
    }

    /// Time it takes, seconds.
    fn seconds(&self) -> f64 {
        match self {
            Self::Busy { work, clock_hz, .. } => work.total() / clock_hz,
            Self::Unknown(_) => 0.0,
        }
    }

    fn why(&self, sending_s: f64) -> String {
        let sending = format!("sending the longest data line {:.2} ms", sending_s * 1e3);
        match self {
            Self::Busy {
                work,
                clock_hz,
                core,
            } => {
                let ms = |cycles: f64| cycles / clock_hz * 1e3;
                format!(
                    "rendering {:.2} ms, limiting {:.2} ms and encoding {:.2} ms on a {core} at {:.0} MHz, {sending}, one after the \
                     other; at most, with every layer showing, counted on an emulated core with memory without wait states",
                    ms(work.render),
                    ms(work.limit),
                    ms(work.encode),
                    clock_hz / 1e6
                )
            }
            Self::Unknown(reason) => {
                format!("{sending}; rendering, limiting and encoding are left out: {reason}")
            }
        }
    }
}

struct FrameTime {
    processor: Processor,
    line: Option<(f64, String)>,
    missing: Option<String>,
    period_s: Option<f64>,
}

pub(super) fn check(subject: Subject<'_>, preset: Option<&Preset>) -> Box<dyn Check> {
    let pixel_of = |i: usize| -> Option<&PixelType> {
        let info = subject.circuit.strips.get(i)?;
        match &subject.prop.parts.get(info.part)?.kind {
            PartKind::Strip(s) => Some(&s.pixel),
            _ => None,
        }
    };
    let mut slowest: Option<(f64, String)> = None;
    let mut missing = None;
    for (i, driver) in subject.circuit.drivers.iter().enumerate() {
        if matches!(driver, Driver::Strip(_)) {
            continue;
        }
        // A data line is a strip driven by the board and every strip behind it.
        let mut seconds = 0.0;
        let mut reset: f64 = 0.0;
        let mut next = Some(i);
        let mut hops = 0;
        while let Some(k) = next {
            match pixel_of(k).and_then(|p| Some((p, p.seconds_per_pixel()?))) {
                Some((pixel, each)) => {
                    seconds += each
                        * subject
                            .circuit
                            .strips
                            .get(k)
                            .map_or(0.0, |s| f64::from(s.pixels));
                    reset = reset.max(pixel.reset_seconds());
                }
                None => missing = subject.circuit.strips.get(k).map(|s| s.name.clone()),
            }
            next = subject
                .circuit
                .drivers
                .iter()
                .position(|d| *d == Driver::Strip(k));
            hops += 1;
            if hops > subject.circuit.drivers.len() {
                break;
            }
        }
        let total = seconds + reset;
        if slowest.as_ref().is_none_or(|(s, _)| total > *s) {
            slowest = Some((
                total,
                subject
                    .circuit
                    .strips
                    .get(i)
                    .map_or_else(String::new, |s| s.name.clone()),
            ));
        }
    }
    let period_s = preset.map(|p| 1.0 / f64::from(p.frame_rate_hz));
    Box::new(FrameTime {
        processor: Processor::of(subject, preset),
        line: slowest,
        missing,
        period_s,
    })
}

impl Check for FrameTime {
    fn observe(&mut self, figures: &Figures) {
        self.period_s.get_or_insert(figures.period_s);
    }

    fn results(&self) -> Vec<CheckResult> {
        if let Some(strip) = &self.missing {
            return vec![CheckResult::not_checked(
                ID,
                PROTECTS,
                "ms",
                "the pixel type states no timing",
            )
            .part(strip)];
        }
        let (Some((seconds, strip)), Some(period)) = (&self.line, self.period_s) else {
            return vec![CheckResult::not_checked(
                ID,
                PROTECTS,
                "ms",
                "no strip is fed",
            )];
        };
        let whole = (seconds + self.processor.seconds()) * 1e3;
        vec![
            CheckResult::judged(ID, PROTECTS, "ms", Side::AtMost, period * 1e3, whole)
                .part(strip)
                .source("bit times and reset gap of the pixel type's data sheet; cycles counted on an emulated core")
                .why(self.processor.why(*seconds)),
        ]
    }
}
