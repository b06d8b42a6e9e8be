//! Instructions a frame from the ticks of a board's timer, as a table.

use super::{names, read, read_text, Named, Outcome};

/// An emulated core.
struct Core {
    name: &'static str,
    /// Clock of its timer in the emulation, MHz.
    timer_mhz: f64,
    /// The clock a prop's board runs it at, MHz.
    board_mhz: f64,
    /// Names its files: `m0.raw`, ticks of the timer, and `m0.cycles`, what the plugin counted.
    key: &'static str,
}

const CORES: [Core; 3] = [
    Core {
        name: "M0",
        timer_mhz: 16.0,
        board_mhz: 48.0,
        key: "m0",
    },
    Core {
        name: "M3",
        timer_mhz: 12.5,
        board_mhz: 72.0,
        key: "m3",
    },
    Core {
        name: "M4",
        timer_mhz: 25.0,
        board_mhz: 120.0,
        key: "m4",
    },
];

/// Where the cycles come from.
const CYCLES: &str = "Cycles are those of every executed instruction by the core's table, summed up by the plugin `cycles.c`, for memory \
without wait states (a flash with wait states and no cache is slower). M0: Arm DDI 0432C, \"Cortex-M0 instruction summary\", multiplier of one \
cycle. M3 and M4: Arm DDI 0337 and 0439, \"instruction set summary\", upper bounds where a range is given (refill after a taken branch 3, division \
12, loads that do not overlap), so the true figure is lower. Instructions were counted twice, by the timer and by the plugin, with the same result.";

/// Frames a second that shares of the period are of.
const RATE_HZ: f64 = 60.0;

/// The counts of one scenario on one core.
struct Counts {
    /// Instructions for rendering, limiting and encoding, each frame.
    parts: [Vec<u64>; 3],
    /// The same in cycles.
    cycles: [Vec<u64>; 3],
    /// Stack that decoding, rendering, limiting and encoding took at most, bytes.
    stacks: [u32; 4],
    /// Bytes of preset, engine, limiter and driver.
    held: [u32; 4],
}

impl Counts {
    fn most(&self, part: usize) -> u64 {
        most(&self.parts, part)
    }
    fn most_cycles(&self, part: usize) -> u64 {
        most(&self.cycles, part)
    }
    fn mean(&self, part: usize) -> f64 {
        self.parts.get(part).map_or(0.0, |p| {
            p.iter().sum::<u64>() as f64 / p.len().max(1) as f64
        })
    }
}

fn most(parts: &[Vec<u64>; 3], part: usize) -> u64 {
    let all = parts.get(part).map_or(&[][..], Vec::as_slice);
    all.iter().max().copied().unwrap_or(0)
}

/// `chip_costs.csv`, the table that the check `frame-time` reads, and behind a line of its own the worst frames of the demo
/// presets, which that table is held against.
pub(crate) fn table(folder: &str) -> Outcome {
    let scenarios = names(&format!("{folder}/names.txt"))?;
    let mut text = String::from("core,item,cycles_a_frame,cycles_a_pixel\n");
    let mut worst = String::from("core,preset,render,limit,encode\n");
    for core in &CORES {
        let all = counts(core, &scenarios, folder)?;
        let items = Items {
            scenarios: &scenarios,
            all: &all,
        };
        for (item, frame, pixel) in items.rows()? {
            text += &format!("{},{item},{frame:.0},{pixel:.1}\n", core.key);
        }
        for (scenario, counts) in scenarios.iter().zip(&all).filter(|(s, _)| is_demo(s)) {
            let [render, limit, encode] = [0, 1, 2].map(|part| counts.most_cycles(part));
            let name = scenario.name.split(" (").next().unwrap_or_default();
            worst += &format!("{},{name},{render},{limit},{encode}\n", core.key);
        }
    }
    Ok(text + "\n" + worst.trim_end())
}

/// Presets of the demo props are played for longer than those made up.
fn is_demo(scenario: &Named) -> bool {
    scenario.frames > 60
}

/// Scenarios `@ITEM@PIXELS` of one core.
struct Items<'a> {
    scenarios: &'a [Named],
    all: &'a [Counts],
}

/// The two lengths of an item.
const LENGTHS: [f64; 2] = [48.0, 144.0];

impl Items<'_> {
    /// Cycles a frame and a pixel that a part (render 0, limit 1, encode 2) of an item takes in its worst frame.
    fn line(&self, item: &str, part: usize) -> Result<(f64, f64), String> {
        let at = |pixels: f64| {
            let name = format!("@{item}@{pixels}");
            let found = self.scenarios.iter().position(|s| s.name == name);
            let counts = found.and_then(|i| self.all.get(i));
            let counts = counts.ok_or_else(|| format!("{name} is missing"))?;
            Ok::<f64, String>(counts.most_cycles(part) as f64)
        };
        let [short, long] = LENGTHS;
        let pixel = (at(long)? - at(short)?) / (long - short);
        Ok((at(short)? - pixel * short, pixel))
    }

    /// The same of whatever item takes most there: a small core divides in software, which takes longer for some numbers
    /// than for others. RGBW and many strips have items of their own.
    fn dearest(&self, part: usize) -> (f64, f64) {
        let at = |pixels: f64| {
            let named = self.scenarios.iter().zip(self.all).filter(|(s, _)| {
                let item = s.name.strip_suffix(&format!("@{pixels}"));
                item.is_some_and(|item| {
                    item.starts_with('@') && !matches!(item, "@white" | "@limit-strip")
                })
            });
            let most = named.map(|(_, counts)| counts.most_cycles(part)).max();
            most.unwrap_or(0) as f64
        };
        let [short, long] = LENGTHS;
        let pixel = (at(long) - at(short)) / (long - short);
        (at(short) - pixel * short, pixel)
    }

    fn rows(&self) -> Result<Vec<(String, f64, f64)>, String> {
        let less = |a: (f64, f64), b: (f64, f64)| ((a.0 - b.0).max(0.0), (a.1 - b.1).max(0.0));
        let frame = self.line("frame", 0)?;
        let solid = self.line("solid", 0)?;
        let mut rows = vec![("frame".to_owned(), frame.0, frame.1)];
        let mut add = |item: &str, line: (f64, f64)| rows.push((item.to_owned(), line.0, line.1));
        for paint in [
            "solid", "wave", "gradient", "noise-1", "noise-3", "sparks", "embers",
        ] {
            add(paint, less(self.line(paint, 0)?, frame));
        }
        for paint in ["noise-1", "noise-3", "embers"] {
            // A cell of one pixel against one of 64.
            let item = format!("{paint}-cell");
            let long = LENGTHS[1];
            let at = |line: (f64, f64)| line.0 + line.1 * long;
            let more = at(self.line(&item, 0)?) - at(self.line(paint, 0)?);
            add(&item, (0.0, more.max(0.0) / (long - long / 64.0)));
        }
        for item in [
            "mask-span",
            "mask-front",
            "mask-taper",
            "mask-spot",
            "blend-over",
            "blend-add",
            "blend-lighten",
            "blend-multiply",
            "lightness",
            "dither",
            "white",
            "fade",
            "sweep",
        ] {
            add(item, less(self.line(item, 0)?, solid));
        }
        for (part, item) in [(1, "limit"), (2, "encode")] {
            add(item, self.dearest(part));
        }
        let (one, four) = (self.line("solid", 1)?, self.line("limit-strip", 1)?);
        add("limit-strip", ((four.0 - one.0).max(0.0) / 3.0, 0.0));
        Ok(rows)
    }
}

/// `MEASUREMENTS.md` from `names.txt`, `m0.raw`, `m3.raw`, `m4.raw`, `sizes.txt` and `compiler.txt` of a folder.
pub(crate) fn report(folder: &str) -> Outcome {
    let scenarios = names(&format!("{folder}/names.txt"))?;
    let mut all = Vec::new();
    for core in &CORES {
        all.push(counts(core, &scenarios, folder)?);
    }
    let compiler = read_text(&format!("{folder}/compiler.txt"))?;
    let sizes = read_text(&format!("{folder}/sizes.txt"))?;
    let mut text = format!(
        "# Measurements\n\nWritten by `host-tests/firmware/measure`; do not edit. Images of {}, `opt-level = \"s\"`, fat \
         link-time optimisation, run by QEMU with `-icount shift=10`; the same to the digit in two runs each.\n\n{CYCLES}\n\n\
         ## Instructions a frame\n\nRendering alone, mean over the frames, for the whole frame and for each pixel.\n\n\
         | preset | pixels |",
        compiler.trim()
    );
    for core in &CORES {
        text += &format!(" {} | {} a pixel |", core.name, core.name);
    }
    text += "\n|---|---|---|---|---|---|---|---|\n";
    let shown = |s: &Named| !s.name.starts_with('@');
    for (index, scenario) in scenarios.iter().enumerate().filter(|(_, s)| shown(s)) {
        let pixels = pixels(scenario);
        text += &format!("| {} | {pixels:.0} |", scenario.name);
        for core in &all {
            let mean = core.get(index).map_or(0.0, |c| c.mean(0));
            text += &format!(" {mean:.0} | {:.0} |", mean / pixels);
        }
        text += "\n";
    }
    text += &shares(&scenarios, &all);
    text += &format!("\n## Flash on M0\n\n{}\n", sizes.trim());
    text += &memory(&all);
    Ok(text)
}

/// Memory beside the pixel buffer.
fn memory(all: &[Vec<Counts>]) -> String {
    let mut text = String::from(
        "\n## Memory beside the pixel buffer\n\nBytes: what the parts hold, and the stack each step takes below its caller, at most over all \
         scenarios above. The steps follow one another, so the sum has the deepest of them. The packed prop stays in flash.\n\n\
         | core | preset | engine | limiter | driver | stack: decode | render | limit | encode | together |\n|---|---|---|---|---|---|---|---|---|---|\n",
    );
    for (core, counts) in CORES.iter().zip(all) {
        let most = |of: fn(&Counts) -> [u32; 4]| {
            let mut most = [0; 4];
            for counts in counts {
                for (most, bytes) in most.iter_mut().zip(of(counts)) {
                    *most = bytes.max(*most);
                }
            }
            most
        };
        let (held, stacks) = (most(|c| c.held), most(|c| c.stacks));
        let sum = held.iter().sum::<u32>() + stacks.iter().max().copied().unwrap_or(0);
        text += &format!("| {} |", core.name);
        for bytes in held.iter().chain(&stacks).chain([&sum]) {
            text += &format!(" {bytes} |");
        }
        text += "\n";
    }
    text
}

/// Worst frames as shares of the frame period.
fn shares(scenarios: &[Named], all: &[Vec<Counts>]) -> String {
    let mut text = format!(
        "\n## Worst frame as a share of the period at {RATE_HZ:.0} frames a second\n\nRendering, limiting and encoding \
         for a one-wire strip are done one after the other; waiting for the SPI port is not in it. Instructions of each, cycles of \
         rendering, shares of the period by cycles.\n\n\
         | preset | core | clock | render | limit | encode | render, cycles | cycles an instruction | render, share | all, share |\n\
         |---|---|---|---|---|---|---|---|---|---|\n"
    );
    let wanted = |s: &Named| is_demo(s) || s.name.ends_with("layers");
    for (index, scenario) in scenarios.iter().enumerate().filter(|(_, s)| wanted(s)) {
        for (core, counts) in CORES.iter().zip(all) {
            let Some(counts) = counts.get(index) else {
                continue;
            };
            let parts = [0, 1, 2].map(|part| counts.most(part));
            let cycles = [0, 1, 2].map(|part| counts.most_cycles(part));
            let share = |cycles: u64| 100.0 * cycles as f64 * RATE_HZ / (core.board_mhz * 1e6);
            text += &format!(
                "| {} | {} | {:.0} MHz | {} | {} | {} | {} | {:.2} | {:.1} % | {:.1} % |\n",
                scenario.name,
                core.name,
                core.board_mhz,
                parts[0],
                parts[1],
                parts[2],
                cycles[0],
                cycles[0] as f64 / parts[0].max(1) as f64,
                share(cycles[0]),
                share(cycles.iter().sum())
            );
        }
    }
    text
}

fn pixels(scenario: &Named) -> f64 {
    let channels = if scenario.name.contains("white") {
        4
    } else {
        3
    };
    ((scenario.len - 3) / channels) as f64
}

/// Reads the ticks of a core and makes instructions of them.
///
/// Under `-icount shift=10` an instruction takes 1024 ns, so ticks divided by 1.024 times the timer's clock in MHz are
/// instructions; what is not whole to a tenth is a wrong clock. Reading the timer twice costs a few instructions and is
/// in every count.
fn counts(core: &Core, scenarios: &[Named], folder: &str) -> Result<Vec<Counts>, String> {
    let file = &format!("{folder}/{}.raw", core.key);
    let (ticks, plugin) = (read(file)?, read(&format!("{folder}/{}.cycles", core.key))?);
    let (mut numbers, mut windows) = (words(&ticks), words(&plugin));
    let mut all = Vec::new();
    for scenario in scenarios {
        let mut parts: [Vec<u64>; 3] = Default::default();
        let mut cycles: [Vec<u64>; 3] = Default::default();
        for _ in 0..scenario.frames {
            for (part, cycles) in parts.iter_mut().zip(&mut cycles) {
                let ticks = numbers
                    .next()
                    .ok_or_else(|| format!("{file} ends at {}", scenario.name))?;
                let exact = f64::from(ticks) / (core.timer_mhz * 1.024);
                if (exact - exact.round()).abs() > 0.1 {
                    return Err(format!(
                        "{ticks} ticks are {exact:.2} instructions: wrong clock"
                    ));
                }
                let window = windows.next().zip(windows.next());
                let (seen, took) = window.ok_or("the plugin counted fewer windows")?;
                // Both see the same but for the few instructions around the reading itself.
                if (exact - f64::from(seen)).abs() > 16.0 {
                    return Err(format!(
                        "{}: {exact:.0} instructions by the timer, {seen} by the plugin",
                        scenario.name
                    ));
                }
                part.push(exact.round() as u64);
                cycles.push(u64::from(took));
            }
        }
        let mut four = || -> Option<[u32; 4]> {
            let mut next = || numbers.next();
            Some([next()?, next()?, next()?, next()?])
        };
        let (stacks, held) = four().zip(four()).ok_or("bytes of memory are missing")?;
        all.push(Counts {
            parts,
            cycles,
            stacks,
            held,
        });
    }
    if windows.next().is_some() {
        return Err("the plugin counted more windows".into());
    }
    Ok(all)
}

/// Numbers of four bytes, little-endian.
fn words(bytes: &[u8]) -> impl Iterator<Item = u32> + '_ {
    let four = |four: &[u8]| u32::from_le_bytes([four[0], four[1], four[2], four[3]]);
    bytes.chunks_exact(4).map(four)
}
