//! How fast a long log is read: writes one of so many rows into a temporary folder, reads it three times.
//!
//! `cargo run --release -p lampwright-host-tests --example read_log -- 10000000`
#![allow(clippy::unwrap_used)]

use lampwright::build::measured::{read_measured, ReadOptions};
use std::io::{BufWriter, Write as _};
use std::time::Instant;

fn main() {
    let rows: u64 = std::env::args()
        .nth(1)
        .map_or(10_000_000, |n| n.parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    for (name, header, german) in [
        ("points.csv", "time_s,current_ma,voltage_v", false),
        ("commas.csv", "Zeit [s];Strom [mA];Spannung [V]", true),
        ("stamps.csv", "timestamp,current_ma,voltage_v", false),
    ] {
        let path = folder.path().join(name);
        let mut out = BufWriter::new(std::fs::File::create(&path).unwrap());
        writeln!(out, "{header}").unwrap();
        for k in 0..rows {
            let t = k as f64 * 1e-4;
            let (a, v) = (
                800.0 + (k % 977) as f64 * 0.37,
                3.7 + (k % 331) as f64 * 1e-4,
            );
            if name == "stamps.csv" {
                let (h, m, s) = ((t / 3600.0) as u64, (t / 60.0) as u64 % 60, t % 60.0);
                writeln!(out, "2024-05-18T{h:02}:{m:02}:{s:07.4},{a:.2},{v:.4}").unwrap();
            } else if german {
                let line = format!("{t:.4};{a:.2};{v:.4}").replace('.', ",");
                writeln!(out, "{line}").unwrap();
            } else {
                writeln!(out, "{t:.4},{a:.2},{v:.4}").unwrap();
            }
        }
        out.flush().unwrap();
        drop(out);
        let bytes = std::fs::metadata(&path).unwrap().len();
        for _ in 0..3 {
            let (start, worked) = (Instant::now(), processor_s());
            let log = read_measured(&path, &ReadOptions::default()).unwrap();
            let seconds = start.elapsed().as_secs_f64();
            let worked = processor_s() - worked;
            assert_eq!(log.len() as u64, rows);
            println!(
                "{name}: {rows} rows, {:.0} MB in {seconds:.2} s, {worked:.2} s of processor time",
                bytes as f64 / 1e6,
            );
        }
    }
}

/// Processor time that this process has used, seconds; 0 where the system does not tell. Linux counts it in
/// hundredths, fields 14 and 15 of `proc(5)` stat.
fn processor_s() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = stat.rsplit(')').next().unwrap_or_default();
    let ticks = after_name.split_whitespace().skip(11).take(2);
    ticks.filter_map(|t| t.parse::<f64>().ok()).sum::<f64>() / 100.0
}
