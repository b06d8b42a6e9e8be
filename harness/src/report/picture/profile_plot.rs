//! The profile of one preset: strip colours over time, currents below, voltages with their limits below that.

use super::axes::{self, Frame, BOTTOM_AXIS_HEIGHT, HEADING_HEIGHT};
use super::gutter;
use super::light::StripImage;
use super::page::{self, Footer, MARGIN};
use super::panel::Panel;
use super::scale::{time_ticks, TimeStyle};
use super::series::{Limit, Series};
use super::strips;
use super::svg::Svg;
use super::timeline::{self, CUE_HEIGHT, STATE_HEIGHT};

/// State of a prop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// Every channel is off.
    Dark,
    /// Coming on.
    Rising,
    /// On.
    Lit,
    /// Going off.
    Falling,
}

impl State {
    /// The state's name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Dark => "dark",
            Self::Rising => "rising",
            Self::Lit => "lit",
            Self::Falling => "falling",
        }
    }
}

/// A time during which the prop is in one state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StateSpan {
    /// Start, s.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
    /// The state.
    pub state: State,
}

/// A cue at a time.
#[derive(Debug, Clone, PartialEq)]
pub struct CueMark {
    /// Time, s.
    pub t_s: f64,
    /// Kind of cue (press, knock, swing); cues with equal labels get equal marks.
    pub label: String,
}

/// Everything the profile picture of one preset shows.
///
/// Series share the time from 0 to `duration_s`. Any list may be empty: its part of the picture is then left
/// out (an empty plot says so).
#[derive(Debug, Clone, PartialEq)]
pub struct ProfilePlot {
    /// Prop and preset.
    pub title: String,
    /// What was played, for how long, at which cap.
    pub subtitle: String,
    /// Length of the time axis, s.
    pub duration_s: f64,
    /// The strips, topmost first.
    pub strips: Vec<StripImage>,
    /// Currents in A: average first, then coincidence peak, then aligned worst case.
    pub currents: Vec<Series>,
    /// Limits of the currents, A.
    pub current_limits: Vec<Limit>,
    /// Voltages in V: cell, board, worst pixel supply.
    pub voltages: Vec<Series>,
    /// Limits of the voltages, V (brown-out, pixel full colour, cut-off).
    pub voltage_limits: Vec<Limit>,
    /// The states, in order of time.
    pub states: Vec<StateSpan>,
    /// The cues, in order of time.
    pub cues: Vec<CueMark>,
    /// What the reader must beware of.
    pub caution: String,
    /// The conditions the values hold under.
    pub conditions: String,
    /// Name and version of the tool.
    pub tool: String,
}

/// Width of the picture, px.
const WIDTH: f64 = 1200.0;
/// Room left of the plots for names and numbers, px.
const LEFT: f64 = 108.0;
/// Least height of a panel's plot, px.
const PANEL_HEIGHT: f64 = 184.0;
/// Space between the rows above the panels, px.
const ROW_GAP: f64 = 6.0;

impl ProfilePlot {
    /// The picture as SVG, 1200 px wide and about 900 px high (more with many strips or labels).
    pub fn to_svg(&self) -> String {
        let footer = self.footer();
        let panels = self.panels();
        let heights = panels.each_ref().map(panel_height);
        let bottom = self.plots_top() + heights.iter().sum::<f64>() + 2.0 * HEADING_HEIGHT;
        let footer_top = bottom + BOTTOM_AXIS_HEIGHT + 14.0;
        let height = footer_top + footer.height(WIDTH);
        let mut svg = Svg::new(WIDTH, height, &self.title, &self.description());
        let top = page::header(&mut svg, WIDTH, &self.title, &self.subtitle);
        let plots = Frame {
            x: MARGIN + LEFT,
            y: top,
            width: WIDTH - 2.0 * MARGIN - LEFT - gutter::WIDTH,
            height: bottom - top,
        };
        self.draw_rows(&mut svg, plots);
        self.draw_panels(&mut svg, plots, &panels, &heights);
        footer.draw(&mut svg, WIDTH, footer_top);
        svg.finish()
    }

    fn footer(&self) -> Footer<'_> {
        Footer {
            caution: &self.caution,
            conditions: &self.conditions,
            tool: &self.tool,
        }
    }

    fn time_style(&self) -> TimeStyle {
        TimeStyle::of(self.duration_s)
    }

    fn panels(&self) -> [Panel<'_>; 2] {
        let time = self.time_style();
        [
            Panel {
                name: "Current",
                unit: "A",
                series: &self.currents,
                limits: &self.current_limits,
                from_zero: true,
                time,
            },
            Panel {
                name: "Voltage",
                unit: "V",
                series: &self.voltages,
                limits: &self.voltage_limits,
                from_zero: false,
                time,
            },
        ]
    }

    /// The y at which the first panel's heading begins.
    fn plots_top(&self) -> f64 {
        let mut y = page::header_height(WIDTH, &self.subtitle);
        for height in self.row_heights() {
            y += height;
        }
        y
    }

    /// Heights of strips, states and cues with the space after each; 0 for what is not shown.
    fn row_heights(&self) -> [f64; 3] {
        let with_gap = |height: f64, empty: bool| if empty { 0.0 } else { height + ROW_GAP };
        [
            with_gap(strips::total_height(&self.strips), self.strips.is_empty()),
            with_gap(STATE_HEIGHT, self.states.is_empty()),
            with_gap(CUE_HEIGHT, self.cues.is_empty()),
        ]
    }

    fn draw_rows(&self, svg: &mut Svg, plots: Frame) {
        let times = plots.across((0.0, self.duration_s));
        let [strips_height, states_height, _] = self.row_heights();
        strips::draw(svg, plots, &self.strips, LEFT);
        if !self.states.is_empty() {
            let row = Frame {
                y: plots.y + strips_height,
                height: STATE_HEIGHT,
                ..plots
            };
            timeline::state_row(svg, row, times, &self.states);
        }
        if !self.cues.is_empty() {
            let row = Frame {
                y: plots.y + strips_height + states_height,
                height: CUE_HEIGHT,
                ..plots
            };
            timeline::cue_row(svg, row, times, &self.cues);
        }
    }

    fn draw_panels(
        &self,
        svg: &mut Svg,
        plots: Frame,
        panels: &[Panel<'_>; 2],
        heights: &[f64; 2],
    ) {
        let times = plots.across((0.0, self.duration_s));
        let ticks = time_ticks(self.duration_s, 10);
        let mut top = self.plots_top();
        let mut lowest = plots;
        for (panel, &height) in panels.iter().zip(heights) {
            let frame = Frame {
                y: top + HEADING_HEIGHT,
                height,
                ..plots
            };
            timeline::shades(svg, frame, times, &self.states);
            axes::vertical_grid(svg, frame, times, &ticks);
            timeline::cue_lines(svg, frame, times, &self.cues);
            panel.draw(svg, frame, times);
            top = frame.bottom();
            lowest = frame;
        }
        let title = format!("time in {}", ticks.unit);
        axes::bottom_axis(svg, lowest, times, &ticks, &title);
    }

    /// What a screen reader says of the picture.
    fn description(&self) -> String {
        let mut parts = vec![self.subtitle.clone()];
        let worst = |unit: &str, series: &Series| {
            let sample = series.worst_sample()?;
            let at = self.time_style().say(sample.t_s, 2);
            Some(format!(
                "{}: worst {:.3} {unit} at {at}",
                series.name, sample.value
            ))
        };
        parts.extend(self.currents.iter().filter_map(|s| worst("A", s)));
        parts.extend(self.voltages.iter().filter_map(|s| worst("V", s)));
        parts.retain(|part| !part.is_empty());
        parts.join(". ")
    }
}

/// Height of a panel's plot: the usual one, or what its labels need.
fn panel_height(panel: &Panel<'_>) -> f64 {
    PANEL_HEIGHT.max((panel.label_height() - 12.0).ceil())
}
