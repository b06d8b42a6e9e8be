//! Instructions a frame from the ticks of a board's timer.

use super::{names, read, Outcome};

/// Lines of `name, pixels' bytes, frames, render least, mean, most, limit most, send most, stack`, tab-separated.
///
/// Under `-icount shift=10` an instruction takes 1024 ns, so the timer's ticks divided by 1.024 times its clock in MHz
/// are instructions; what is not whole to a tenth is a wrong clock. Reading the timer twice costs a few instructions
/// and is in every count.
pub(crate) fn table(list: &str, mhz: &str, cost: &str) -> Outcome {
    let mhz: f64 = mhz.parse().map_err(|_| format!("not a clock: {mhz}"))?;
    let bytes = read(cost)?;
    let mut numbers = bytes
        .chunks_exact(4)
        .map(|four| u32::from_le_bytes([four[0], four[1], four[2], four[3]]));
    let mut lines = Vec::new();
    for scenario in names(list)? {
        let mut counts: [Vec<u64>; 3] = Default::default();
        for _ in 0..scenario.frames {
            for count in &mut counts {
                let ticks = numbers.next().ok_or("the board's counts end too early")?;
                count.push(instructions(ticks, mhz)?);
            }
        }
        let stack = numbers.next().ok_or("the depth of the stack is missing")?;
        let most = |n: usize| counts[n].iter().max().copied().unwrap_or(0);
        let least = counts[0].iter().min().copied().unwrap_or(0);
        let mean = counts[0].iter().sum::<u64>() as f64 / counts[0].len().max(1) as f64;
        lines.push(format!(
            "{}\t{}\t{}\t{least}\t{mean:.0}\t{}\t{}\t{}\t{stack}",
            scenario.name,
            scenario.len - 3,
            scenario.frames,
            most(0),
            most(1),
            most(2)
        ));
    }
    Ok(lines.join("\n"))
}

fn instructions(ticks: u32, mhz: f64) -> Result<u64, String> {
    let exact = f64::from(ticks) / (mhz * 1.024);
    let whole = exact.round();
    if (exact - whole).abs() > 0.1 {
        return Err(format!(
            "{ticks} ticks are {exact:.2} instructions: wrong clock"
        ));
    }
    Ok(whole as u64)
}
