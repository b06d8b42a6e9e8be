//! Draws every kind of picture with invented data into a folder, to be looked at:
//! `cargo run -p lampwright --example pictures -- FOLDER`
#![allow(missing_docs)]

#[path = "../tests/picture/samples.rs"]
mod samples;

use lampwright::report::picture::to_png;
use samples::{profile, STAFF};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args()
        .nth(1)
        .ok_or("give a folder to draw into")?;
    std::fs::create_dir_all(&folder)?;
    for (name, svg) in pictures() {
        std::fs::write(format!("{folder}/{name}.svg"), &svg)?;
        std::fs::write(format!("{folder}/{name}.png"), to_png(&svg, 1.0)?)?;
    }
    Ok(())
}

fn pictures() -> Vec<(&'static str, String)> {
    let nothing = 2.0..2.0;
    let long_names = [
        (
            "a column with a very long name that somebody typed in one go",
            96,
        ),
        ("another collar with a long name", 12),
        ("pneumonoultramicroscopicsilicovolcanoconiosis", 1),
    ];
    let five = [
        ("column", 144),
        ("left arm", 60),
        ("right arm", 60),
        ("collar", 12),
        ("status", 1),
    ];
    let mut long = profile(&long_names, 20.0, 60.0, nothing.clone());
    for s in long.currents.iter_mut().chain(&mut long.voltages) {
        s.name = format!(
            "{} of the first strip under the most unfavourable tolerances",
            s.name
        );
    }
    for l in long
        .voltage_limits
        .iter_mut()
        .chain(&mut long.current_limits)
    {
        l.name = format!("{} as the data sheet of the part states it", l.name);
    }
    for c in &mut long.cues {
        c.label = format!("{} with much force", c.label);
    }
    long.title = long.title.repeat(3);
    long.subtitle = long.subtitle.repeat(5);
    long.conditions = long.conditions.repeat(4);
    let mut zero = profile(&STAFF, 10.0, 60.0, 2.0..2.0);
    zero.currents = zero.currents.iter().map(|s| flat(s, 0.0)).collect();
    zero.voltages = zero.voltages.iter().map(|s| flat(s, 0.0)).collect();
    let mut busy = profile(&STAFF, 60.0, 60.0, 0.4..0.45);
    busy.cues = (0..150)
        .map(|i| lampwright::report::picture::CueMark {
            t_s: f64::from(i) * 0.4,
            label: [
                "press",
                "knock",
                "swing",
                "twist",
                "double press",
                "low cell",
            ][i as usize * 7 % 6]
                .to_owned(),
        })
        .collect();
    let mut none = profile(&STAFF, 10.0, 60.0, -1.0..2.0);
    none.strips.iter_mut().for_each(|s| s.columns.clear());
    vec![
        (
            "five-minutes",
            profile(&STAFF, 300.0, 60.0, nothing.clone()).to_svg(),
        ),
        (
            "two-seconds",
            profile(&STAFF, 2.0, 60.0, nothing.clone()).to_svg(),
        ),
        (
            "three-frames",
            profile(&STAFF, 0.05, 60.0, nothing.clone()).to_svg(),
        ),
        ("zeros", zero.to_svg()),
        (
            "one-strip",
            profile(&[("ring", 24)], 60.0, 30.0, nothing.clone()).to_svg(),
        ),
        ("five-strips", profile(&five, 60.0, 30.0, nothing).to_svg()),
        ("long-names", long.to_svg()),
        ("gaps", profile(&STAFF, 10.0, 60.0, 0.4..0.55).to_svg()),
        ("no-values", none.to_svg()),
        ("busy", busy.to_svg()),
        ("margins", samples::margins().to_svg()),
        ("caps", samples::caps().to_svg()),
        ("runtimes", samples::runtimes().to_svg()),
    ]
}

fn flat(
    series: &lampwright::report::picture::Series,
    value: f64,
) -> lampwright::report::picture::Series {
    use lampwright::report::picture::Series;
    let mut out = Series::new(&series.name, 10.0, series.draw, series.worst);
    for k in 0..600 {
        out.push(f64::from(k) / 60.0, value);
    }
    out
}
