//! Pictures from outside: well-formed SVG, labels that do not overlap, PNGs of the right size, the same bytes
//! every time. Boxes of text are those that usvg lays out with the shipped font, not our own estimates.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod samples;

use std::sync::{Arc, LazyLock};

use lampwright::report::picture::{
    to_png, width_px, Bar, BarChart, CueMark, Draw, Limit, LineChart, PictureError, ProfilePlot,
    Series, StripImage, Tone, Weight, Worst,
};
use proptest::prelude::*;
use resvg::usvg::{self, fontdb};
use samples::{profile, STAFF};

static FONTS: LazyLock<Arc<fontdb::Database>> = LazyLock::new(|| {
    let mut fonts = fontdb::Database::new();
    fonts.load_font_data(include_bytes!("../../assets/fonts/Inter-Regular-subset.otf").to_vec());
    fonts.load_font_data(include_bytes!("../../assets/fonts/Inter-SemiBold-subset.otf").to_vec());
    Arc::new(fonts)
});

fn parse(svg: &str) -> usvg::Tree {
    let options = usvg::Options {
        fontdb: FONTS.clone(),
        ..usvg::Options::default()
    };
    usvg::Tree::from_str(svg, &options).expect("well-formed SVG")
}

/// A text and its box as laid out.
struct Placed {
    text: String,
    rect: usvg::Rect,
}

impl std::fmt::Display for Placed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "\"{}\" at {:?}", self.text, self.rect)
    }
}

fn texts(svg: &str) -> Vec<Placed> {
    fn walk(group: &usvg::Group, out: &mut Vec<Placed>) {
        for node in group.children() {
            match node {
                usvg::Node::Group(group) => walk(group, out),
                usvg::Node::Text(text) => out.push(Placed {
                    text: text.chunks().iter().map(|c| c.text()).collect(),
                    rect: text.abs_bounding_box(),
                }),
                usvg::Node::Path(_) | usvg::Node::Image(_) => {}
            }
        }
    }
    let mut out = Vec::new();
    walk(parse(svg).root(), &mut out);
    out
}

/// The boxes hold the font's whole ascent and descent; letters fill about the middle 60 %.
fn overlaps(a: &Placed, b: &Placed) -> bool {
    let core = |p: &Placed| {
        let fifth = p.rect.height() * 0.2;
        (p.rect.top() + fifth, p.rect.bottom() - fifth)
    };
    let ((a_top, a_bottom), (b_top, b_bottom)) = (core(a), core(b));
    a.rect.left() < b.rect.right()
        && b.rect.left() < a.rect.right()
        && a_top < b_bottom
        && b_top < a_bottom
}

fn check_layout(name: &str, svg: &str) -> Result<(), String> {
    let size = parse(svg).size();
    let placed = texts(svg);
    for (i, a) in placed.iter().enumerate() {
        let r = a.rect;
        if r.left() < 0.0 || r.top() < 0.0 || r.right() > size.width() || r.bottom() > size.height()
        {
            return Err(format!("{name}: {a} leaves the picture of {size:?}"));
        }
        if let Some(b) = placed[i + 1..].iter().find(|b| overlaps(a, b)) {
            return Err(format!("{name}: {a} overlaps {b}"));
        }
    }
    Ok(())
}

fn with_long_names(mut plot: ProfilePlot) -> ProfilePlot {
    let long = "a name that somebody typed in one go without thinking of the picture";
    for series in plot.currents.iter_mut().chain(&mut plot.voltages) {
        series.name = format!("{} {long}", series.name);
    }
    for limit in plot
        .current_limits
        .iter_mut()
        .chain(&mut plot.voltage_limits)
    {
        limit.name = format!("{} {long}", limit.name);
    }
    for cue in &mut plot.cues {
        cue.label = format!("{} {long}", cue.label);
    }
    for strip in &mut plot.strips {
        strip.name = format!("{} {long}", strip.name);
    }
    plot.title = long.repeat(4);
    plot.subtitle = long.repeat(6);
    plot.caution = long.repeat(9);
    plot.conditions = long.repeat(9);
    plot.tool = long.repeat(3);
    plot
}

/// A chart whose axis numbers are too wide for all of them to stand beside each other.
fn wide_numbers() -> LineChart {
    let mut chart = samples::runtimes();
    for series in &mut chart.series {
        series.points.iter_mut().for_each(|p| p.0 *= 1e20);
        series.band.iter_mut().for_each(|p| p.0 *= 1e20);
    }
    chart
}

/// Every kind of picture,, with ordinary and with awkward input.
fn gallery() -> Vec<(&'static str, String)> {
    let whole = || 2.0..2.0;
    let five = [
        ("column", 144),
        ("left", 60),
        ("right", 60),
        ("collar", 12),
        ("dot", 1),
    ];
    let many_limits = || {
        let mut plot = profile(&STAFF, 10.0, 60.0, whole());
        let more = (0..9).map(|i| Limit::new(&format!("limit {i}"), 3.0 + 0.01 * f64::from(i)));
        plot.voltage_limits.extend(more);
        plot
    };
    let many_cues = || {
        let mut plot = profile(&STAFF, 10.0, 60.0, whole());
        let cue = |i: usize| CueMark {
            t_s: i as f64 * 0.05,
            label: format!("kind {}", i % 9),
        };
        plot.cues = (0..200).map(cue).collect();
        plot
    };
    vec![
        ("ordinary", profile(&STAFF, 30.0, 60.0, whole()).to_svg()),
        ("minutes", profile(&STAFF, 200.0, 5.0, whole()).to_svg()),
        (
            "hours",
            profile(&[("ring", 3)], 9000.0, 0.2, whole()).to_svg(),
        ),
        ("tiny", profile(&STAFF, 0.05, 60.0, whole()).to_svg()),
        ("no frames", profile(&STAFF, 0.0, 60.0, whole()).to_svg()),
        ("missing", profile(&STAFF, 2.0, 60.0, -1.0..2.0).to_svg()),
        ("gap", profile(&STAFF, 2.0, 60.0, 0.3..0.6).to_svg()),
        ("five strips", profile(&five, 5.0, 30.0, whole()).to_svg()),
        ("no strips", profile(&[], 5.0, 30.0, whole()).to_svg()),
        (
            "long names",
            with_long_names(profile(&five, 5.0, 30.0, whole())).to_svg(),
        ),
        ("many limits", many_limits().to_svg()),
        ("many cues", many_cues().to_svg()),
        ("margins", samples::margins().to_svg()),
        ("no bars", BarChart::default().to_svg()),
        ("caps", samples::caps().to_svg()),
        ("runtimes", samples::runtimes().to_svg()),
        ("wide numbers", wide_numbers().to_svg()),
    ]
}

#[test]
fn no_label_overlaps_another_or_leaves_the_picture() {
    for (name, svg) in gallery() {
        check_layout(name, &svg).unwrap();
    }
}

#[test]
fn the_layout_check_itself_finds_an_overlap() {
    let two = |x: f64| {
        format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='200' height='40' font-family='Inter'>\
             <text x='5' y='20'>current</text><text x='{x}' y='20'>voltage</text></svg>"
        )
    };
    assert!(check_layout("apart", &two(90.0)).is_ok());
    assert!(check_layout("touching", &two(30.0)).is_err());
    assert!(check_layout("outside", &two(180.0)).is_err());
}

#[test]
fn width_estimates_cover_what_usvg_lays_out() {
    for (weight, name) in [(Weight::Regular, "400"), (Weight::SemiBold, "600")] {
        for text in [
            "aligned worst case",
            "max 3.79 A at 1:45 min",
            "R0 ≥ 35 mΩ · −10 °C",
            "WAVE",
        ] {
            let svg = format!(
                "<svg xmlns='http://www.w3.org/2000/svg' width='900' height='40' font-family='Inter'>\
                 <text x='5' y='20' font-size='12.5' font-weight='{name}'>{text}</text></svg>"
            );
            let drawn = f64::from(texts(&svg)[0].rect.width());
            let estimate = width_px(text, 12.5, weight);
            assert!(
                drawn <= estimate * 1.02 + 0.5 && drawn >= estimate * 0.9,
                "{text}: drawn {drawn:.1}, estimated {estimate:.1}"
            );
        }
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let make = || profile(&STAFF, 3.0, 60.0, 2.0..2.0).to_svg();
    let (first, second) = (make(), make());
    assert!(first == second, "the SVG differs between two runs");
    assert_eq!(to_png(&first, 0.5).unwrap(), to_png(&second, 0.5).unwrap());
}

#[test]
fn a_png_has_the_size_of_the_picture_times_its_scale() {
    let svg = samples::margins().to_svg();
    let size = parse(&svg).size();
    for scale in [0.5f32, 1.0, 2.0] {
        let png = to_png(&svg, scale).unwrap();
        let reader = png::Decoder::new(std::io::Cursor::new(png))
            .read_info()
            .unwrap();
        let (width, height) = reader.info().size();
        assert_eq!(width, (size.width() * scale).ceil() as u32);
        assert_eq!(height, (size.height() * scale).ceil() as u32);
        // 96 dots an inch at scale 1 (CSS px), an inch is 25.4 mm: 3780 dots a metre.
        let dots = reader.info().pixel_dims.unwrap().xppu;
        assert!(dots.abs_diff((3779.53 * f64::from(scale)) as u32) <= 1);
    }
}

#[test]
fn text_is_really_drawn_in_the_png() {
    let ink = |text: &str| {
        let svg = format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='60' height='30' font-family='Inter'>\
             <text x='5' y='20'>{text}</text></svg>"
        );
        let png = to_png(&svg, 1.0).unwrap();
        let mut reader = png::Decoder::new(std::io::Cursor::new(png))
            .read_info()
            .unwrap();
        let mut data = vec![0; reader.output_buffer_size().unwrap()];
        reader.next_frame(&mut data).unwrap();
        data.iter().filter(|&&byte| byte < 128).count()
    };
    assert_eq!(ink(" "), 0);
    assert!(ink("3.70 Ω") > 100);
}

#[test]
fn bad_pictures_and_scales_are_errors() {
    let svg = samples::margins().to_svg();
    for scale in [0.0, -1.0, f32::NAN, f32::INFINITY] {
        assert!(matches!(to_png(&svg, scale), Err(PictureError::Scale(_))));
    }
    assert!(matches!(to_png("<svg", 1.0), Err(PictureError::Svg(_))));
    assert!(matches!(
        to_png(&svg, 1000.0),
        Err(PictureError::TooLarge { .. })
    ));
}

#[test]
fn a_picture_never_reads_a_file() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/Cargo.toml");
    let svg = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'>\
         <image href='{file}' width='9' height='9'/></svg>"
    );
    let png = to_png(&svg, 1.0).unwrap();
    let mut reader = png::Decoder::new(std::io::Cursor::new(png))
        .read_info()
        .unwrap();
    let mut data = vec![0; reader.output_buffer_size().unwrap()];
    reader.next_frame(&mut data).unwrap();
    assert!(data.iter().all(|&byte| byte == 255));
}

#[test]
fn long_traces_stay_small_and_keep_their_peak() {
    // An hour at 60 frames/s: 216,000 values, one of them a peak of one frame.
    let mut peak = Series::new("peak", 3600.0, Draw::Held, Worst::Highest);
    for k in 0..216_000 {
        let value = if k == 123_456 {
            9.0
        } else {
            1.0 + samples::noise(k)
        };
        peak.push(f64::from(k as u32) / 60.0, value);
    }
    let mut plot = profile(&[], 3600.0, 0.0, 2.0..2.0);
    plot.currents = vec![peak];
    let svg = plot.to_svg();
    // 123,456 frames at 60 frames/s are 2057.6 s = 34:18.
    assert!(svg.contains("max 9.00 A at 34:18 min"));
    let points = svg.matches(',').count();
    assert!(points < 2500, "{points} points for about 820 px");
}

#[test]
fn missing_values_draw_no_line_at_zero() {
    let plot = profile(&STAFF, 2.0, 60.0, 0.3..0.6);
    let lines = |plot: &ProfilePlot| plot.to_svg().matches("<polyline").count();
    let whole = profile(&STAFF, 2.0, 60.0, 2.0..2.0);
    assert_eq!(
        lines(&plot),
        lines(&whole) + 6,
        "each of six series is in two pieces"
    );
    assert!(
        plot.to_svg().contains("min 2.8"),
        "the lowest is a true value, not a zero"
    );
}

fn small_profile() -> ProfilePlot {
    let mut plot = profile(&[], 1.0, 4.0, 2.0..2.0);
    plot.strips = vec![StripImage {
        name: "ring <1>".into(),
        pixels: 2,
        columns: vec![vec![[255, 0, 0], [0, 0, 255]], vec![]],
    }];
    plot
}

/// The SVG with the embedded image replaced by its length, which depends on the PNG encoder's version.
fn without_image(svg: &str) -> String {
    let Some((before, rest)) = svg.split_once("base64,") else {
        return svg.to_owned();
    };
    let (_, after) = rest.split_once('"').unwrap();
    format!("{before}base64,…\"{}", without_image(after))
}

#[test]
fn structure_of_a_small_profile() {
    insta::assert_snapshot!(without_image(&small_profile().to_svg()));
}

#[test]
fn structure_of_a_small_bar_chart() {
    let chart = BarChart {
        title: "Margins & more".into(),
        value_name: "Margin".into(),
        unit: "%".into(),
        bars: vec![
            Bar {
                name: "fuse-hold".into(),
                value: Some(-12.0),
                detail: "2.8 A".into(),
                tone: Tone::Bad,
            },
            Bar {
                name: "runtime".into(),
                value: None,
                ..Bar::default()
            },
        ],
        tool: "Lampwright".into(),
        ..BarChart::default()
    };
    insta::assert_snapshot!(chart.to_svg());
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        6 => -10.0..10.0f64,
        1 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(0.0),
        1 => any::<f64>(),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_profile_gives_a_well_formed_picture(
        duration_s in any_number(),
        name in any::<String>(),
        values in prop::collection::vec((any_number(), any_number()), 0..60),
        limits in prop::collection::vec(any_number(), 0..4),
        pixels in prop_oneof![0usize..200, Just(usize::MAX)],
    ) {
        let mut plot = profile(&[("ring", 3)], 0.2, 30.0, 2.0..2.0);
        plot.duration_s = duration_s;
        plot.title.clone_from(&name);
        let mut series = Series::new(&name, duration_s, Draw::Held, Worst::Lowest);
        for (t_s, value) in &values {
            series.push(*t_s, *value);
        }
        plot.currents.push(series.clone());
        plot.voltages.push(Series { draw: Draw::Joined, ..series });
        plot.voltage_limits = limits.iter().map(|&v| Limit::new(&name, v)).collect();
        plot.current_limits.clone_from(&plot.voltage_limits);
        plot.cues = values.iter().map(|&(t_s, _)| CueMark { t_s, label: name.clone() }).collect();
        plot.strips[0].pixels = pixels;
        plot.strips[0].name.clone_from(&name);
        let svg = plot.to_svg();
        parse(&svg);
        prop_assert!(!svg.contains("NaN") || name.contains("NaN"));
        prop_assert!(!svg.contains("\"inf") && !svg.contains(",inf") && !svg.contains("\"-inf"));
    }

    #[test]
    fn ordinary_labels_never_overlap(
        ends in prop::collection::vec(0.0..5.0f64, 1..5),
        limits in prop::collection::vec(0.0..5.0f64, 0..5),
        names in prop::collection::vec("[a-zA-Z ]{1,40}", 10),
        duration_s in 0.1..20_000.0f64,
    ) {
        let mut plot = profile(&[], duration_s, 0.0, 2.0..2.0);
        let series = ends.iter().zip(&names).map(|(&end, name)| {
            let mut series = Series::new(name, duration_s, Draw::Joined, Worst::Highest);
            series.push(0.0, 1.0);
            series.push(duration_s, end);
            series
        });
        plot.currents = series.collect();
        plot.current_limits = limits.iter().zip(&names[5..]).map(|(&v, n)| Limit::new(n, v)).collect();
        prop_assert_eq!(check_layout("profile", &plot.to_svg()), Ok(()));
    }
}
