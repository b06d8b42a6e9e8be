//! What happens over time: the states of the prop as shaded bands and the cues as marks.

use super::axes::{centred, Frame};
use super::profile_plot::{CueMark, State, StateSpan};
use super::scale::Scale;
use super::svg::{Anchor, Label, Stroke, Svg, Weight};
use super::text::{shorten, width_px};
use super::theme::{Theme, SIZE_SMALL};

/// Height of the state row, px.
pub(crate) const STATE_HEIGHT: f64 = 18.0;
/// Height of a line of the cue row, px.
const CUE_LINE: f64 = 18.0;
/// Most lines that the names of the kinds of cue may take.
const MOST_KEY_LINES: usize = 4;
/// Cues beyond which their lines through the plots would hide the data, and their marks each other: then each
/// kind gets a lane of its own.
const MOST_MARKS: usize = 60;
/// Lanes of crowded cues; kinds beyond share the last.
const MOST_LANES: usize = 8;

/// The shade of a state behind the plots; none where the prop is lit.
fn shade(state: State) -> Option<&'static str> {
    match state {
        State::Dark => Some(Theme::SHADE_DARK),
        State::Rising | State::Falling => Some(Theme::SHADE_MOVING),
        State::Lit => None,
    }
}

/// Shades the times at which the prop is dark, rising or falling.
pub(crate) fn shades(svg: &mut Svg, frame: Frame, times: Scale, states: &[StateSpan]) {
    svg.group("states", |svg| {
        for span in states.iter().filter(|span| span.to_s > span.from_s) {
            if let Some(fill) = shade(span.state) {
                let (left, right) = edges(times, span);
                svg.rect(left, frame.y, right - left, frame.height, fill);
            }
        }
    });
}

/// The row that names the states, each where its name fits.
pub(crate) fn state_row(svg: &mut Svg, frame: Frame, times: Scale, states: &[StateSpan]) {
    svg.group("state-row", |svg| {
        row_name(svg, frame, "state");
        for span in states.iter().filter(|span| span.to_s > span.from_s) {
            let (left, right) = edges(times, span);
            svg.rect(
                left,
                frame.y,
                right - left,
                frame.height,
                row_fill(span.state),
            );
            let name = span.state.name();
            if width_px(name, SIZE_SMALL, Weight::Regular) + 8.0 <= right - left {
                svg.text(Label {
                    text: name,
                    x: (left + right) / 2.0,
                    y: centred(frame.y + frame.height / 2.0, SIZE_SMALL),
                    anchor: Anchor::Middle,
                    size: SIZE_SMALL,
                    weight: Weight::Regular,
                    colour: row_ink(span.state),
                });
            }
        }
        svg.outline(
            frame.x,
            frame.y,
            frame.width,
            frame.height,
            Stroke::solid(Theme::AXIS, 0.8),
        );
        state_key(svg, frame, states);
    });
}

fn row_fill(state: State) -> &'static str {
    match state {
        State::Dark => "#3d444d",
        State::Rising => "#aeb6c0",
        State::Lit => "#ffffff",
        State::Falling => "#d3d8de",
    }
}

fn row_ink(state: State) -> &'static str {
    match state {
        State::Dark => "#ffffff",
        State::Rising | State::Lit | State::Falling => Theme::INK,
    }
}

/// The states that occur, right of the row.
fn state_key(svg: &mut Svg, frame: Frame, states: &[StateSpan]) {
    let mut x = frame.right() + 14.0;
    let y = frame.y + frame.height / 2.0;
    for state in [State::Dark, State::Rising, State::Lit, State::Falling] {
        if !states.iter().any(|span| span.state == state) {
            continue;
        }
        svg.rect(x, y - 5.0, 10.0, 10.0, row_fill(state));
        svg.outline(x, y - 5.0, 10.0, 10.0, Stroke::solid(Theme::AXIS, 0.8));
        let name = state.name();
        svg.text(Label::small(
            name,
            x + 14.0,
            centred(y, SIZE_SMALL),
            Anchor::Start,
        ));
        x += 14.0 + width_px(name, SIZE_SMALL, Weight::Regular) + 9.0;
    }
}

/// Thin lines through a plot at the cues, unless there are too many of them.
pub(crate) fn cue_lines(svg: &mut Svg, frame: Frame, times: Scale, cues: &[CueMark]) {
    if crowded(cues) {
        return;
    }
    svg.group("cue-lines", |svg| {
        for cue in cues.iter().filter(|cue| cue.t_s.is_finite()) {
            let x = times.at_clamped(cue.t_s);
            let stroke = Stroke {
                colour: Theme::AXIS,
                width: 0.9,
                dash: "1 3",
            };
            svg.line(x, frame.y, x, frame.bottom(), stroke);
        }
    });
}

fn crowded(cues: &[CueMark]) -> bool {
    cues.len() > MOST_MARKS
}

/// The row of cue marks: one shape a kind, its name where there is room, all kinds named at the right. Crowded
/// cues become ticks in a lane for each kind.
pub(crate) fn cue_row(svg: &mut Svg, frame: Frame, times: Scale, cues: &[CueMark]) {
    let kinds = kinds(cues);
    let lanes = crowded(cues);
    svg.group("cue-row", |svg| {
        let first_line = Frame {
            height: CUE_LINE,
            ..frame
        };
        row_name(svg, first_line, "cues");
        for cue in cues.iter().filter(|cue| cue.t_s.is_finite()) {
            let kind = kinds.iter().position(|k| *k == cue.label).unwrap_or(0);
            let x = times.at_clamped(cue.t_s);
            if lanes {
                let y = line_middle(frame, kind.min(MOST_LANES - 1));
                svg.rect(x - 0.7, y - 4.5, 1.4, 9.0, Theme::INK);
            } else {
                mark(svg, kind, x, line_middle(frame, 0));
            }
        }
        if lanes {
            lane_key(svg, frame, &kinds);
        } else {
            name_marks(svg, frame, times, cues);
            cue_key(svg, frame, &kinds);
        }
    });
}

/// Middle of a line of the cue row, px.
fn line_middle(frame: Frame, line: usize) -> f64 {
    frame.y + CUE_LINE * (line as f64 + 0.5)
}

/// The kind of each lane, right of it.
fn lane_key(svg: &mut Svg, frame: Frame, kinds: &[&str]) {
    for (lane, name) in kinds.iter().take(MOST_LANES).enumerate() {
        let others = kinds.len() - lane;
        let name = if lane + 1 == MOST_LANES && others > 1 {
            format!("{others} other kinds")
        } else {
            shorten(
                name,
                SIZE_SMALL,
                Weight::Regular,
                super::gutter::WIDTH - 18.0,
            )
        };
        let y = centred(line_middle(frame, lane), SIZE_SMALL);
        svg.text(Label::small(&name, frame.right() + 14.0, y, Anchor::Start));
    }
}

/// Writes the names of those cues that have room before the next cue.
fn name_marks(svg: &mut Svg, frame: Frame, times: Scale, cues: &[CueMark]) {
    let mut at: Vec<(f64, &str)> = cues
        .iter()
        .filter(|cue| cue.t_s.is_finite())
        .map(|cue| (times.at_clamped(cue.t_s), cue.label.as_str()))
        .collect();
    at.sort_by(|a, b| a.0.total_cmp(&b.0));
    let y = centred(line_middle(frame, 0), SIZE_SMALL);
    for (i, &(x, label)) in at.iter().enumerate() {
        let room_to = at.get(i + 1).map_or(frame.right(), |next| next.0 - 6.0);
        if x + 8.0 + width_px(label, SIZE_SMALL, Weight::Regular) <= room_to {
            svg.text(Label::small(label, x + 8.0, y, Anchor::Start));
        }
    }
}

/// A kind of cue in the key: its number, its name as shown, and where it stands.
struct KeyItem {
    kind: usize,
    name: String,
    dx: f64,
    line: usize,
}

/// Places the kinds of cue line after line; kinds beyond the last line are left out.
fn key_items(kinds: &[&str]) -> Vec<KeyItem> {
    let room = super::gutter::WIDTH - 19.0;
    let (mut dx, mut line) = (0.0, 0);
    let mut items = Vec::new();
    for (kind, name) in kinds.iter().enumerate() {
        let name = shorten(name, SIZE_SMALL, Weight::Regular, room - 12.0);
        let width = 8.0 + width_px(&name, SIZE_SMALL, Weight::Regular);
        if dx > 0.0 && dx + width > room {
            (dx, line) = (0.0, line + 1);
        }
        if line == MOST_KEY_LINES {
            break;
        }
        items.push(KeyItem {
            kind,
            name,
            dx,
            line,
        });
        dx += width + 15.0;
    }
    items
}

/// Height of the cue row, px: what the names of its kinds need.
pub(crate) fn cue_height(cues: &[CueMark]) -> f64 {
    let kinds = kinds(cues);
    let lines = if crowded(cues) {
        kinds.len().min(MOST_LANES)
    } else {
        key_items(&kinds).last().map_or(1, |item| item.line + 1)
    };
    lines as f64 * CUE_LINE
}

fn cue_key(svg: &mut Svg, frame: Frame, kinds: &[&str]) {
    for item in key_items(kinds) {
        let x = frame.right() + 19.0 + item.dx;
        let y = line_middle(frame, item.line);
        mark(svg, item.kind, x, y);
        svg.text(Label::small(
            &item.name,
            x + 8.0,
            centred(y, SIZE_SMALL),
            Anchor::Start,
        ));
    }
}

/// The different labels in the order in which they first occur.
fn kinds(cues: &[CueMark]) -> Vec<&str> {
    let mut kinds: Vec<&str> = Vec::new();
    for cue in cues {
        if !kinds.contains(&cue.label.as_str()) {
            kinds.push(&cue.label);
        }
    }
    kinds
}

/// The shape of a kind of cue; shapes repeat after the sixth.
fn mark(svg: &mut Svg, kind: usize, x: f64, y: f64) {
    let ink = Theme::INK;
    match kind % 6 {
        0 => svg.polygon(
            &[(x - 4.5, y - 4.0), (x + 4.5, y - 4.0), (x, y + 4.5)],
            ink,
            1.0,
        ),
        1 => svg.circle(x, y, 4.0, ink),
        2 => svg.polygon(
            &[(x, y - 5.0), (x + 5.0, y), (x, y + 5.0), (x - 5.0, y)],
            ink,
            1.0,
        ),
        3 => svg.rect(x - 3.5, y - 3.5, 7.0, 7.0, ink),
        4 => svg.ring(x, y, 3.6, Theme::PAPER, Stroke::solid(ink, 1.6)),
        _ => svg.polygon(
            &[(x - 4.5, y + 4.0), (x + 4.5, y + 4.0), (x, y - 4.5)],
            ink,
            1.0,
        ),
    }
}

fn edges(times: Scale, span: &StateSpan) -> (f64, f64) {
    (times.at_clamped(span.from_s), times.at_clamped(span.to_s))
}

fn row_name(svg: &mut Svg, frame: Frame, name: &str) {
    let y = centred(frame.y + frame.height / 2.0, SIZE_SMALL);
    svg.text(Label::small(name, frame.x - 10.0, y, Anchor::End));
}
