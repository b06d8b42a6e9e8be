//! Instructions a frame from the ticks of a board's timer, as a table.

use super::{names, read, read_text, Named, Outcome};

/// An emulated core.
struct Core {
    name: &'static str,
    /// Clock of its timer in the emulation, MHz.
    timer_mhz: f64,
    /// The clock a prop's board runs it at, MHz.
    board_mhz: f64,
    /// Cycles an instruction takes on average, at most: an estimate, see [`CYCLES`].
    cycles: f64,
    /// The file of its counts.
    file: &'static str,
}

const CORES: [Core; 3] = [
    Core {
        name: "M0",
        timer_mhz: 16.0,
        board_mhz: 48.0,
        cycles: 1.7,
        file: "m0.raw",
    },
    Core {
        name: "M3",
        timer_mhz: 12.5,
        board_mhz: 72.0,
        cycles: 1.5,
        file: "m3.raw",
    },
    Core {
        name: "M4",
        timer_mhz: 25.0,
        board_mhz: 120.0,
        cycles: 1.5,
        file: "m4.raw",
    },
];

/// Where the cycles come from.
const CYCLES: &str = "Cycles are estimated: the emulation counts instructions, not cycles. An instruction takes 1 cycle, \
a load or store 2, a taken branch 3 (Cortex-M0 Technical Reference Manual, table \"instruction set summary\", from memory); \
with the mix of this code that is taken as 1.7 cycles an instruction on M0 and 1.5 on M3 and M4, from flash without \
wait states (common practice; a flash with wait states and no cache is slower).";

/// Frames a second that shares of the period are of.
const RATE_HZ: f64 = 60.0;

/// The counts of one scenario on one core.
struct Counts {
    /// Instructions for rendering, limiting and encoding, each frame.
    parts: [Vec<u64>; 3],
    stack: u32,
}

impl Counts {
    fn most(&self, part: usize) -> u64 {
        self.parts
            .get(part)
            .and_then(|p| p.iter().max())
            .copied()
            .unwrap_or(0)
    }
    fn mean(&self, part: usize) -> f64 {
        self.parts.get(part).map_or(0.0, |p| {
            p.iter().sum::<u64>() as f64 / p.len().max(1) as f64
        })
    }
}

/// `MEASUREMENTS.md` from `names.txt`, `m0.raw`, `m3.raw`, `m4.raw`, `sizes.txt` and `compiler.txt` of a folder.
pub(crate) fn report(folder: &str) -> Outcome {
    let scenarios = names(&format!("{folder}/names.txt"))?;
    let mut all = Vec::new();
    for core in &CORES {
        all.push(counts(
            core,
            &scenarios,
            &format!("{folder}/{}", core.file),
        )?);
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
    for (index, scenario) in scenarios.iter().enumerate() {
        let pixels = pixels(scenario);
        text += &format!("| {} | {pixels:.0} |", scenario.name);
        for core in &all {
            let mean = core.get(index).map_or(0.0, |c| c.mean(0));
            text += &format!(" {mean:.0} | {:.0} |", mean / pixels);
        }
        text += "\n";
    }
    text += &shares(&scenarios, &all);
    text += &format!("\n## Memory on M0\n\n{}\n", sizes.trim());
    let stacks: Vec<String> = CORES
        .iter()
        .zip(&all)
        .map(|(core, counts)| {
            let deepest = counts.iter().map(|c| c.stack).max().unwrap_or(0);
            format!("{deepest} B on {}", core.name)
        })
        .collect();
    text += &format!(
        "\nDeepest stack of the image that plays all scenarios above, decoding, limiting, encoding and the image's own \
         file access included: {}.\n",
        stacks.join(", ")
    );
    Ok(text)
}

/// Worst frames as shares of the frame period.
fn shares(scenarios: &[Named], all: &[Vec<Counts>]) -> String {
    let mut text = format!(
        "\n## Worst frame as a share of the period at {RATE_HZ:.0} frames a second\n\nRendering, limiting and encoding \
         for a one-wire strip are done one after the other; waiting for the SPI port is not in it.\n\n\
         | preset | core | clock | render | limit | encode | render, share | all, share |\n|---|---|---|---|---|---|---|---|\n"
    );
    let wanted = |s: &Named| s.frames > 60 || s.name.ends_with("layers");
    for (index, scenario) in scenarios.iter().enumerate().filter(|(_, s)| wanted(s)) {
        for (core, counts) in CORES.iter().zip(all) {
            let Some(counts) = counts.get(index) else {
                continue;
            };
            let parts = [0, 1, 2].map(|part| counts.most(part));
            let share = |instructions: u64| {
                100.0 * instructions as f64 * core.cycles * RATE_HZ / (core.board_mhz * 1e6)
            };
            text += &format!(
                "| {} | {} | {:.0} MHz | {} | {} | {} | {:.1} % | {:.1} % |\n",
                scenario.name,
                core.name,
                core.board_mhz,
                parts[0],
                parts[1],
                parts[2],
                share(parts[0]),
                share(parts.iter().sum())
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
fn counts(core: &Core, scenarios: &[Named], file: &str) -> Result<Vec<Counts>, String> {
    let bytes = read(file)?;
    let mut numbers = bytes
        .chunks_exact(4)
        .map(|four| u32::from_le_bytes([four[0], four[1], four[2], four[3]]));
    let mut all = Vec::new();
    for scenario in scenarios {
        let mut parts: [Vec<u64>; 3] = Default::default();
        for _ in 0..scenario.frames {
            for part in &mut parts {
                let ticks = numbers
                    .next()
                    .ok_or_else(|| format!("{file} ends at {}", scenario.name))?;
                let exact = f64::from(ticks) / (core.timer_mhz * 1.024);
                if (exact - exact.round()).abs() > 0.1 {
                    return Err(format!(
                        "{ticks} ticks are {exact:.2} instructions: wrong clock"
                    ));
                }
                part.push(exact.round() as u64);
            }
        }
        let stack = numbers.next().ok_or("the depth of the stack is missing")?;
        all.push(Counts { parts, stack });
    }
    Ok(all)
}
