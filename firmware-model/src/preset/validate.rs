//! What makes a preset sound.

use super::{
    Edge, Envelope, Fault, Layer, Mask, Paint, Place, Preset, PresetError, Stops, Transition, Zone,
    FRAME_RATE_HZ, MAX_DURATION_MS, MAX_PIXELS,
};
use crate::color::{Channels, Color};
use crate::fixed::{Length, Share};
use crate::state::State;

type Checked = Result<(), PresetError>;

/// One pixel pitch as a length.
const ONE_PIXEL: u32 = 16;

/// Names the part and the field a check is about.
#[derive(Clone, Copy)]
struct At(Place);

impl At {
    fn fail(self, field: &'static str, fault: Fault) -> Checked {
        Err(PresetError {
            place: self.0,
            field,
            fault,
        })
    }

    fn range(self, field: &'static str, found: u32, min: u32, max: u32) -> Checked {
        if (min..=max).contains(&found) {
            Ok(())
        } else {
            self.fail(field, Fault::OutOfRange { found, min, max })
        }
    }

    /// A duration that may be 0.
    fn duration(self, field: &'static str, ms: u32) -> Checked {
        self.range(field, ms, 0, MAX_DURATION_MS)
    }

    /// A period that must not be 0.
    fn period(self, field: &'static str, ms: u32) -> Checked {
        self.range(field, ms, 1, MAX_DURATION_MS)
    }

    /// A size of at least one pixel.
    fn size(self, field: &'static str, length: Length) -> Checked {
        self.range(field, u32::from(length.0), ONE_PIXEL, 65535)
    }

    /// A share that must not be 0.
    fn some(self, field: &'static str, share: Share) -> Checked {
        self.range(field, u32::from(share.0), 1, 65535)
    }

    fn color(self, field: &'static str, channels: Channels, color: Color) -> Checked {
        if channels == Channels::Rgb && color.w != 0 {
            self.fail(field, Fault::NoWhiteChannel)
        } else {
            Ok(())
        }
    }

    fn stops(self, channels: Channels, stops: &Stops) -> Checked {
        const FIELD: &str = "stops";
        if stops.is_empty() {
            return self.fail(FIELD, Fault::Empty);
        }
        for (index, (before, stop)) in stops.iter().zip(stops.iter().skip(1)).enumerate() {
            if stop.at < before.at {
                let stop = index as u8 + 1;
                return self.fail(FIELD, Fault::OutOfOrder { stop });
            }
        }
        stops
            .iter()
            .try_for_each(|stop| self.color(FIELD, channels, stop.color))
    }
}

pub(super) fn preset(preset: &Preset) -> Checked {
    let at = At(Place::Preset);
    if preset.name.is_empty() {
        return at.fail("name", Fault::Empty);
    }
    at.range("pixels", u32::from(preset.pixels), 1, u32::from(MAX_PIXELS))?;
    at.range(
        "frame_rate_hz",
        u32::from(preset.frame_rate_hz),
        u32::from(*FRAME_RATE_HZ.start()),
        u32::from(*FRAME_RATE_HZ.end()),
    )?;
    transition(At(Place::Rise), &preset.rise)?;
    transition(At(Place::Fall), &preset.fall)?;
    if preset.zones.is_empty() {
        return at.fail("zones", Fault::Empty);
    }
    for index in 0..preset.zones.len() {
        zone(preset, index)?;
    }
    for (index, layer) in preset.layers.iter().enumerate() {
        self::layer(At(Place::Layer(index as u8)), preset, layer)?;
    }
    Ok(())
}

fn transition(at: At, transition: &Transition) -> Checked {
    at.duration("duration_ms", transition.duration_ms)
}

fn zone(preset: &Preset, index: usize) -> Checked {
    let at = At(Place::Zone(index as u8));
    let Some(zone) = preset.zones.get(index) else {
        return Ok(());
    };
    if zone.name.is_empty() {
        return at.fail("name", Fault::Empty);
    }
    if preset.zones.iter().take(index).any(|z| z.name == zone.name) {
        return at.fail("name", Fault::NameTaken);
    }
    runs(at, preset.pixels, zone)
}

fn runs(at: At, pixels: u16, zone: &Zone) -> Checked {
    const FIELD: &str = "runs";
    if zone.runs.is_empty() {
        return at.fail(FIELD, Fault::Empty);
    }
    for (index, run) in zone.runs.iter().enumerate() {
        at.range("len", u32::from(run.len), 1, u32::from(pixels))?;
        let run_index = index as u8;
        if run.end() > u32::from(pixels) {
            return at.fail(
                FIELD,
                Fault::PastLastPixel {
                    run: run_index,
                    end: run.end(),
                    pixels,
                },
            );
        }
        let shares_pixels = |other: &super::Run| {
            u32::from(run.start) < other.end() && u32::from(other.start) < run.end()
        };
        if zone.runs.iter().take(index).any(shares_pixels) {
            return at.fail(FIELD, Fault::Overlap { run: run_index });
        }
    }
    Ok(())
}

fn layer(at: At, preset: &Preset, layer: &Layer) -> Checked {
    let zones = preset.zones.len() as u8;
    if layer.zone >= zones {
        let found = layer.zone;
        return at.fail("zone", Fault::NoSuchZone { found, zones });
    }
    if layer.start == Edge::Enter(State::Dark) {
        return at.fail("start", Fault::NeverShows);
    }
    paint(at, preset.channels, &layer.paint)?;
    mask(at, &layer.mask)?;
    envelope(at, &layer.envelope)
}

fn paint(at: At, channels: Channels, paint: &Paint) -> Checked {
    match paint {
        Paint::Solid { color } => at.color("color", channels, *color),
        Paint::Gradient {
            stops, scroll_ms, ..
        } => {
            at.duration("scroll_ms", *scroll_ms)?;
            at.stops(channels, stops)
        }
        Paint::Wave {
            low,
            high,
            wavelength,
            period_ms,
            ..
        } => {
            at.size("wavelength", *wavelength)?;
            at.duration("period_ms", *period_ms)?;
            at.color("low", channels, *low)?;
            at.color("high", channels, *high)
        }
        Paint::Noise {
            stops,
            grain,
            period_ms,
            octaves,
        } => {
            at.size("grain", *grain)?;
            at.duration("period_ms", *period_ms)?;
            at.range("octaves", u32::from(*octaves), 1, 3)?;
            at.stops(channels, stops)
        }
        Paint::Sparks {
            color,
            chance_every_ms,
            decay,
            ..
        } => {
            at.period("chance_every_ms", *chance_every_ms)?;
            at.some("decay", *decay)?;
            at.color("color", channels, *color)
        }
        Paint::Embers {
            stops,
            patch,
            kick_every_ms,
            cooling,
            ..
        } => {
            at.size("patch", *patch)?;
            at.period("kick_every_ms", *kick_every_ms)?;
            at.some("cooling", *cooling)?;
            at.stops(channels, stops)
        }
        Paint::Breathing {
            low,
            high,
            period_ms,
        } => {
            at.period("period_ms", *period_ms)?;
            at.color("low", channels, *low)?;
            at.color("high", channels, *high)
        }
    }
}

fn mask(at: At, mask: &Mask) -> Checked {
    match mask {
        Mask::Whole | Mask::Spot { .. } => Ok(()),
        Mask::Span { from, to, .. } => at.range("to", u32::from(to.0), u32::from(from.0), 65535),
        Mask::Front { duration_ms, .. } => at.duration("duration_ms", *duration_ms),
        Mask::Taper { length, power, .. } => {
            at.some("length", *length)?;
            at.range("power", u32::from(*power), 1, 3)
        }
    }
}

fn envelope(at: At, envelope: &Envelope) -> Checked {
    match *envelope {
        Envelope::Constant => Ok(()),
        Envelope::Adsr {
            attack_ms,
            decay_ms,
            release_ms,
            ..
        } => {
            at.duration("attack_ms", attack_ms)?;
            at.duration("decay_ms", decay_ms)?;
            at.duration("release_ms", release_ms)
        }
        Envelope::OneShot {
            attack_ms,
            hold_ms,
            release_ms,
        } => {
            at.duration("attack_ms", attack_ms)?;
            at.duration("hold_ms", hold_ms)?;
            at.duration("release_ms", release_ms)
        }
        Envelope::Periodic {
            period_ms,
            rise,
            hold,
            fall,
        } => {
            at.period("period_ms", period_ms)?;
            let sum = u32::from(rise.0) + u32::from(hold.0) + u32::from(fall.0);
            if sum > 65535 {
                return at.fail("fall", Fault::MoreThanFull { sum });
            }
            Ok(())
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    extern crate std;
    use super::super::{Direction, Run, Shape, Stop, MAX_NAME};
    use super::*;
    use std::format;
    use std::string::String;

    fn sound() -> Preset {
        let mut preset = Preset::new("lantern", 100, Channels::Rgb);
        preset
            .layers
            .push(Layer {
                start: Edge::Enter(State::Lit),
                ..Layer::plain(Paint::Solid {
                    color: Color::WHITE,
                })
            })
            .unwrap();
        preset
    }

    /// The message for a sound preset after a change.
    fn message(change: impl FnOnce(&mut Preset)) -> String {
        let mut preset = sound();
        preset.validate().unwrap();
        change(&mut preset);
        format!("{}", preset.validate().unwrap_err())
    }

    fn with_paint(paint: Paint) -> String {
        message(|p| p.layers[0].paint = paint)
    }

    fn with_runs(runs: &[(u16, u16)]) -> String {
        message(|p| {
            let run = |&(start, len)| Run {
                start,
                len,
                reversed: false,
            };
            p.zones[0].runs = runs.iter().map(run).collect();
        })
    }

    #[test]
    fn faults_of_the_preset_itself_name_the_field() {
        assert_eq!(
            message(|p| p.name.clear()),
            "preset: name: must not be empty"
        );
        assert_eq!(
            message(|p| p.pixels = 0),
            "preset: pixels: 0 is outside 1 to 4095"
        );
        assert_eq!(
            message(|p| p.frame_rate_hz = 0),
            "preset: frame_rate_hz: 0 is outside 1 to 250"
        );
        assert_eq!(
            message(|p| p.zones.clear()),
            "preset: zones: must not be empty"
        );
        assert_eq!(
            message(|p| p.fall.duration_ms = 3_600_001),
            "fall: duration_ms: 3600001 is outside 0 to 3600000"
        );
    }

    #[test]
    fn faults_of_zones_name_the_zone_and_run() {
        assert_eq!(with_runs(&[]), "zone 0: runs: must not be empty");
        assert_eq!(with_runs(&[(5, 0)]), "zone 0: len: 0 is outside 1 to 100");
        assert_eq!(
            with_runs(&[(0, 10), (95, 6)]),
            "zone 0: runs: run 1 ends before pixel 101, but there are 100"
        );
        assert_eq!(
            with_runs(&[(20, 10), (40, 5), (10, 11)]),
            "zone 0: runs: run 2 shares pixels with an earlier run of the zone"
        );
        assert_eq!(
            message(|p| p.zones.push(p.zones[0].clone()).unwrap()),
            "zone 1: name: an earlier zone has this name"
        );
    }

    #[test]
    fn runs_may_touch() {
        let mut preset = sound();
        preset.zones[0].runs = [(50, 50), (0, 50)]
            .map(|(start, len)| Run {
                start,
                len,
                reversed: true,
            })
            .into_iter()
            .collect();
        assert_eq!(preset.validate(), Ok(()));
    }

    #[test]
    fn faults_of_layers_name_the_layer_and_field() {
        assert_eq!(
            message(|p| p.layers[0].start = Edge::Enter(State::Dark)),
            "layer 0: start: a layer that starts on entering dark never shows"
        );
        let white = Color::rgbw(0, 0, 0, 1);
        assert_eq!(
            with_paint(Paint::Solid { color: white }),
            "layer 0: color: white is set, but the pixels have no white channel"
        );
        let wave = |wavelength, period_ms| Paint::Wave {
            low: Color::BLACK,
            high: Color::WHITE,
            wavelength,
            period_ms,
            direction: Direction::TowardsEnd,
            shape: Shape::Sine,
        };
        assert_eq!(
            with_paint(wave(Length(15), 0)),
            "layer 0: wavelength: 15 is outside 16 to 65535"
        );
        assert_eq!(
            with_paint(wave(Length(16), u32::MAX)),
            "layer 0: period_ms: 4294967295 is outside 0 to 3600000"
        );
        let gradient = |places: &[u16]| Paint::Gradient {
            stops: places
                .iter()
                .map(|at| Stop {
                    at: Share(*at),
                    color: Color::WHITE,
                })
                .collect(),
            scroll_ms: 0,
            direction: Direction::TowardsEnd,
        };
        assert_eq!(
            with_paint(gradient(&[])),
            "layer 0: stops: must not be empty"
        );
        assert_eq!(
            with_paint(gradient(&[0, 9, 9, 8])),
            "layer 0: stops: stop 3 lies before the stop before it"
        );
        let taper = Mask::Taper {
            towards: super::super::Side::End,
            length: Share::FULL,
            power: 4,
        };
        assert_eq!(
            message(|p| p.layers[0].mask = taper),
            "layer 0: power: 4 is outside 1 to 3"
        );
        let third = Share(21846);
        let round = Envelope::Periodic {
            period_ms: 1,
            rise: third,
            hold: third,
            fall: third,
        };
        assert_eq!(
            message(|p| p.layers[0].envelope = round),
            "layer 0: fall: the shares add up to 65538, more than 65535 (full)"
        );
    }

    #[test]
    fn a_name_of_the_greatest_length_is_kept() {
        let name = "x".repeat(MAX_NAME);
        assert_eq!(Preset::new(&name, 1, Channels::Rgb).name.as_str(), name);
    }
}
