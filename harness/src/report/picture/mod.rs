//! Pictures: the profile of a preset and a few general charts, as SVG and PNG.
//!
//! Every picture is a plain struct of results with a `to_svg` method; [`to_png`] turns any of the SVGs into
//! a PNG. The same input always gives the same bytes: numbers have a fixed short precision, nothing depends
//! on the clock, on the locale or on fonts installed on the machine.
//!
//! From the bottom up:
//!
//! | file | what it holds |
//! |---|---|
//! | `theme` | colours, dash patterns, type sizes |
//! | `text` | text widths from the shipped font, shortening and wrapping |
//! | `svg` | the SVG writer |
//! | `scale` | value to pixel, 1-2-5 ticks, time ticks, unit prefixes |
//! | `light` | drive level to screen colour, strip columns to PNG |
//! | `envelope` | minimum/maximum decimation of long series |
//! | `series` | a named series, a limit line, an uncertainty band |
//! | `gutter` | labels beside a plot, spread so that none overlap |
//! | `axes` | grid, ticks and axis titles |
//! | `panel` | one plot with its axes, series, limits and labels |
//! | `profile_plot`, `line_chart`, `bar_chart`, `heat_map` | whole pictures |
//! | `raster` | SVG to PNG |
//!
//! A value that is missing is a gap (`NaN` in a series, `None` in a bar or cell), never a zero.

mod axes;
mod bar_chart;
mod envelope;
mod gutter;
mod heat_map;
mod light;
mod line_chart;
mod page;
mod panel;
mod pdf;
mod profile_plot;
mod raster;
mod scale;
mod series;
mod strips;
mod svg;
mod text;
mod theme;
mod timeline;

pub use bar_chart::{Bar, BarChart, BarOrder, Tone};
pub use envelope::{Envelope, Sample};
pub use heat_map::{Cell, HeatMap};
pub(crate) use light::film_png;
pub use light::{srgb_from_drive, srgb_from_drive_rgbw, StripColumns, StripImage};
pub use line_chart::{BandSeries, LineChart};
pub use pdf::to_pdf;
pub use profile_plot::{CueMark, ProfilePlot, State, StateSpan};
pub use raster::{to_png, PictureError};
pub use scale::{nice_ticks, time_ticks, Scale, Ticks};
pub use series::{Draw, Limit, Series, Worst};
pub(crate) use svg::escape as escape_markup;
pub use svg::{num, Anchor, Image, Label, Stroke, Svg, Weight};
pub use text::{shorten, width_px, wrap};
pub use theme::Theme;
