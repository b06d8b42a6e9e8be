//! The diagram for a page: without paper, each wire and its current in a group of its own.

use super::place::lay_out;
use super::sheet::draw;
use super::symbols::Pen;
use crate::build::prop::Prop;
use crate::report::picture::Svg;

/// A current that no wire carries: with the wire's index added, it tells whose label a line of text is.
const NOBODY_A: f64 = 1000.0;
const MARGIN: f64 = 8.0;

/// The diagram with groups `wire-N` and, for each wire in `carrying`, `reading-N`, N being the wire's index.
pub fn live(prop: &Prop, carrying: &[usize]) -> String {
    let marks: Vec<Option<f64>> = (0..prop.wires.len())
        .map(|i| carrying.contains(&i).then_some(NOBODY_A + i as f64))
        .collect();
    let scene = lay_out(prop, &marks);
    let title = format!("Wiring diagram of {}", prop.name);
    let (width, height) = (scene.width + 2.0 * MARGIN, scene.height + 2.0 * MARGIN);
    let mut svg = Svg::new(
        width,
        height,
        &title,
        "Currents of the frame at the play head",
    );
    let mut pen = Pen {
        svg: &mut svg,
        scale: 1.0,
        dx: MARGIN,
        dy: MARGIN,
        named: true,
    };
    draw(&mut pen, prop, &scene, &|text| {
        let amperes: f64 = text.strip_suffix(" A")?.parse().ok()?;
        let index = amperes - NOBODY_A;
        (index >= 0.0 && index.fract() == 0.0).then_some(index as usize)
    });
    svg.finish()
}
