//! Strips over time: one image a strip, its name and pixel numbers beside it.

use super::axes::{centred, Frame};
use super::light::StripImage;
use super::svg::{Anchor, Image, Label, Stroke, Svg, Weight};
use super::text::{width_px, wrap};
use super::theme::{Theme, SIZE_NAME, SIZE_SMALL};

/// Space between two strips, px.
const GAP: f64 = 8.0;
/// Least height of a strip, px: a line of text.
const LEAST: f64 = 16.0;
/// Most height of a strip, px.
const MOST: f64 = 192.0;
/// Height that the strips share if it suffices, px.
const SHARED: f64 = 232.0;
/// Height from which the first and last pixel are numbered.
const NUMBERED: f64 = 40.0;

/// Heights of the strips, px. Longer strips get more, by the square root of their pixels so that short ones can
/// still be read; where it is close, a whole number of px a pixel, so that all pixels look alike.
pub(crate) fn heights(strips: &[StripImage]) -> Vec<f64> {
    let root = |strip: &StripImage| (strip.pixels.max(1) as f64).sqrt();
    let total: f64 = strips.iter().map(root).sum();
    strips
        .iter()
        .map(|strip| {
            let height = (SHARED * root(strip) / total).clamp(LEAST, MOST);
            let pixels = strip.pixels.max(1) as f64;
            let whole = (height / pixels).round().max(1.0) * pixels;
            if (whole / height - 1.0).abs() < 0.35 && (LEAST..=MOST).contains(&whole) {
                whole
            } else {
                height.round()
            }
        })
        .collect()
}

/// Height of all strips together, px.
pub(crate) fn total_height(strips: &[StripImage]) -> f64 {
    let gaps = strips.len().saturating_sub(1) as f64 * GAP;
    heights(strips).iter().sum::<f64>() + gaps
}

/// Draws the strips from `frame.y` down, across the frame's width, their names in `room` px left of it.
pub(crate) fn draw(svg: &mut Svg, frame: Frame, strips: &[StripImage], room: f64) {
    let mut y = frame.y;
    svg.group("strips", |svg| {
        for (strip, height) in strips.iter().zip(heights(strips)) {
            let place = Frame { y, height, ..frame };
            draw_strip(svg, place, strip);
            draw_name(svg, place, strip, room);
            y += height + GAP;
        }
    });
}

fn draw_strip(svg: &mut Svg, frame: Frame, strip: &StripImage) {
    // What is missing stays as light as paper, what is off is black: the two cannot be taken for each other.
    svg.rect(
        frame.x,
        frame.y,
        frame.width,
        frame.height,
        Theme::SHADE_DARK,
    );
    // Two image columns a px keep the picture sharp in print.
    let png = strip.to_png(2 * frame.width as usize, frame.height as usize);
    if let (Ok(png), false) = (png, strip.columns.is_empty()) {
        let alt = format!("light of {} over time", strip.name);
        svg.image(Image {
            x: frame.x,
            y: frame.y,
            width: frame.width,
            height: frame.height,
            png: &png,
            alt: &alt,
        });
    }
    let stroke = Stroke::solid(Theme::AXIS, 0.8);
    svg.outline(frame.x, frame.y, frame.width, frame.height, stroke);
}

fn draw_name(svg: &mut Svg, frame: Frame, strip: &StripImage, room: f64) {
    let middle = frame.y + frame.height / 2.0;
    let numbered = frame.height >= NUMBERED && strip.pixels > 1;
    let last = strip.pixels.to_string();
    let numbers = if numbered {
        number(svg, frame.x - 6.0, frame.y + 9.0, &last);
        number(svg, frame.x - 6.0, frame.bottom() - 1.0, "1");
        width_px(&last, SIZE_SMALL, Weight::Regular) + 10.0
    } else {
        4.0
    };
    let count = match strip.pixels {
        1 => "1 pixel".to_owned(),
        n => format!("{n} pixels"),
    };
    let most_lines = if frame.height >= 2.0 * 15.0 { 2 } else { 1 };
    let name = wrap(
        &strip.name,
        SIZE_NAME,
        Weight::SemiBold,
        room - numbers - 6.0,
        most_lines,
    );
    let with_count = frame.height >= 15.0 * (name.len() + 1) as f64;
    let lines = name.len() + usize::from(with_count);
    let x = frame.x - numbers - 6.0;
    let first = middle - (lines as f64 - 1.0) * 15.0 / 2.0;
    for (i, part) in name.iter().enumerate() {
        let label = Label {
            text: part,
            x,
            y: centred(first + i as f64 * 15.0, SIZE_NAME),
            anchor: Anchor::End,
            size: SIZE_NAME,
            weight: Weight::SemiBold,
            colour: Theme::INK,
        };
        svg.text_with_title(label, if i == 0 { &strip.name } else { "" });
    }
    if with_count {
        let y = centred(first + name.len() as f64 * 15.0, SIZE_SMALL);
        number(svg, x, y, &count);
    }
}

fn number(svg: &mut Svg, x: f64, y: f64, text: &str) {
    svg.text(Label {
        text,
        x,
        y,
        anchor: Anchor::End,
        size: SIZE_SMALL,
        weight: Weight::Regular,
        colour: Theme::MUTED,
    });
}
