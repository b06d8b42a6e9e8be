//! `pixel-supply`: every pixel needs enough voltage to keep the colour of its lit channels; where along the strip they
//! begin to lose it, and how far the colour shifts at the worst pixel.

use super::Check;
use crate::build::parts::PixelType;
use crate::build::prop::PartKind;
use crate::profile::circuit::Subject;
use crate::profile::figures::{Figures, Moment, StripFigures, SupplyAlong};
use crate::study::colour_shift::{channel_fall, fall_off, FallOff};
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::at;

const ID: &str = "pixel-supply";
const PROTECTS: &str = "the colour at the far end of a strip";
/// Share of its full current that every lit channel must keep at the coincidence peak. Half the current
/// is a step in CIE 1976 lightness of about 24 of 100: clearly seen, but the prop still works.
pub(crate) const KEPT_SHARE: f64 = 0.5;

/// Supply at which a channel keeps the needed share, and at which it begins to lose any, volts.
#[derive(Debug, Clone, Copy)]
struct Needs {
    name: &'static str,
    kept_v: f64,
    full_v: f64,
    off_v: f64,
}

struct Line {
    name: String,
    source: String,
    channels: Vec<Needs>,
    supply_min: Option<(f64, String)>,
    pixels: u32,
    /// Least margin and its moment: margin, limit, supply, channel, pixel.
    worst: Option<(f64, f64, f64, usize, u32, Moment)>,
    /// Channels lit in that frame and the supply along the strip, where it was kept.
    lit: u8,
    along: Vec<f64>,
}

struct PixelSupply(Vec<Line>);

pub(super) fn check(subject: Subject<'_>) -> Box<dyn Check> {
    let cautious = subject.circuit.condition.cautious;
    let lines = subject.circuit.strips.iter().filter_map(|info| {
        let PartKind::Strip(strip) = &subject.prop.parts.get(info.part)?.kind else {
            return None;
        };
        Some(line(&info.name, info.pixels, &strip.pixel, cautious))
    });
    Box::new(PixelSupply(lines.collect()))
}

fn line(name: &str, pixels: u32, pixel: &PixelType, cautious: bool) -> Line {
    let channels = pixel.channels.iter().map(|c| {
        let (off_v, full_v) = if cautious {
            (c.off.high_si(), c.full.high_si())
        } else {
            (c.off.si(), c.full.si())
        };
        Needs {
            name: c.name,
            kept_v: off_v + KEPT_SHARE * (full_v - off_v),
            full_v,
            off_v,
        }
    });
    let source = pixel
        .channels
        .iter()
        .map(|c| c.full.source_or_given())
        .next()
        .unwrap_or_default();
    Line {
        name: name.to_owned(),
        source: source.to_owned(),
        channels: channels.collect(),
        supply_min: pixel
            .supply_min
            .as_ref()
            .map(|v| (v.si(), v.source_or_given().to_owned())),
        pixels,
        worst: None,
        lit: 0,
        along: Vec::new(),
    }
}

impl Line {
    fn see(&mut self, strip: &StripFigures, along: &SupplyAlong, moment: &Moment) {
        let before = self.worst.map(|w| w.0);
        for (i, channel) in self.channels.iter().enumerate() {
            if strip.lit & (1 << i) == 0 {
                continue;
            }
            let margin = strip.supply_min_v - channel.kept_v;
            if self
                .worst
                .is_none_or(|(w, ..)| margin < w || margin.is_nan())
            {
                self.worst = Some((
                    margin,
                    channel.kept_v,
                    strip.supply_min_v,
                    i,
                    strip.supply_min_pixel,
                    *moment,
                ));
            }
        }
        if self.worst.map(|w| w.0) != before {
            self.lit = strip.lit;
            self.along.clear();
            if along.frame == moment.frame {
                self.along.extend_from_slice(&along.supply_v);
            }
        }
    }

    /// Where the lit channels fall off in the worst frame.
    fn fall_off(&self) -> Option<FallOff> {
        if self.along.is_empty() {
            return None;
        }
        let each = self.channels.iter().enumerate();
        let lit = each.filter(|(i, _)| self.lit & (1 << i) != 0);
        let falls = lit.map(|(_, c)| channel_fall(c.name, c.off_v, c.full_v, &self.along));
        Some(fall_off(falls.collect()))
    }

    fn result(&self) -> CheckResult {
        let Some((_, limit, supply, channel, pixel, moment)) = &self.worst else {
            return CheckResult::not_checked(
                ID,
                PROTECTS,
                "V",
                "no channel is ever lit in this trace",
            )
            .part(&self.name);
        };
        let Some(c) = self.channels.get(*channel) else {
            return CheckResult::not_checked(ID, PROTECTS, "V", "no channel data").part(&self.name);
        };
        let share = ((supply - c.off_v) / (c.full_v - c.off_v)).clamp(0.0, 1.0);
        let mut why = if share >= 1.0 {
            format!("pixel {pixel}: {} keeps its full current", c.name)
        } else {
            format!("pixel {pixel}: {} falls to {:.0} % of its current; it begins to fall below {:.2} V", c.name, share * 100.0, c.full_v)
        };
        if let Some((min, source)) = self.supply_min.as_ref().filter(|(min, _)| supply < min) {
            why.push_str(&format!("; below the data sheet's supply range from {min:.1} V ({source}), where nothing is promised"));
        }
        let fall_off = self
            .fall_off()
            .filter(|f| f.channels.iter().any(|c| c.kept < 1.0));
        if let Some(f) = &fall_off {
            why.push_str(&format!("; {}", f.words(self.pixels)));
        }
        let mut result = at(
            CheckResult::judged(ID, PROTECTS, "V", Side::AtLeast, *limit, *supply),
            moment,
        )
        .part(format!("{}[{pixel}]", self.name))
        .source(format!(
            "half the channel current is kept; thresholds: {}",
            self.source
        ))
        .why(why);
        result.fall_off = fall_off;
        result
    }
}

impl Check for PixelSupply {
    fn observe(&mut self, figures: &Figures) {
        let strips = figures.strips.iter().zip(&figures.along);
        for (line, (strip, along)) in self.0.iter_mut().zip(strips) {
            line.see(strip, along, &figures.moment);
        }
    }

    fn results(&self) -> Vec<CheckResult> {
        self.0.iter().map(Line::result).collect()
    }
}
