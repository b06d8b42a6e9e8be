//! Bulk capacitors in the peak figures.

use super::{moment, one_pixel, read};
use lampwright::profile::bench::Bench;
use lampwright::profile::condition::Condition;
use lampwright::profile::figures::Figures;

const CAPACITOR: &str = r#"
[parts.bulk]
kind = "capacitor"
capacitance = "CAPACITANCE"
series-resistance = "ESR"

[[wires]]
name = "k1"
from = "strip.plus"
to = "bulk.plus"
resistance = "0 Ω"

[[wires]]
name = "k2"
from = "strip.minus"
to = "bulk.minus"
resistance = "0 Ω"
"#;

fn figures(capacitor: Option<(&str, &str)>, levels: &[u8]) -> Figures {
    let extra = capacitor.map_or_else(String::new, |(c, esr)| {
        CAPACITOR.replace("CAPACITANCE", c).replace("ESR", esr)
    });
    let prop = read(&one_pixel(&extra)).unwrap();
    let mut bench = Bench::new(&prop, Condition::nominal()).unwrap();
    bench.step(levels, moment(0, 0.01), 0.01, 0.0).clone()
}

/// Variance of the cell current, from its RMS.
fn variance(f: &Figures) -> f64 {
    f.cell_rms_a * f.cell_rms_a - f.cell_a * f.cell_a
}

// SciPy `lfilter` of the transfer function (1 + s·r·C)/(1 + s·(R+r)·C), R 0.2 Ω, r 0.05 Ω, C 1000 µF, over a pulse
// train of period 2.5 ms and duty 0.5: the variance 0.25 shrinks to 0.155277. The bound that frames take lies above it,
// by less than a quarter.
#[test]
fn the_source_current_ripples_as_in_a_circuit_simulator() {
    let levels = [128, 0, 0];
    let d: f64 = 128.0 / 255.0;
    let bare = variance(&figures(None, &levels)) / 0.16;
    // The frame's peak is its aligned case here: one channel cannot exceed what it draws.
    let clip = ((1.0 - d) / 3.719_016_485).powi(2);
    assert!((bare / clip - 1.0).abs() < 1e-6, "{bare} {clip}");
    let smoothed = variance(&figures(Some(("1000 µF", "50 mΩ")), &levels)) / 0.16;
    let (share, left) = (0.155_277 / 0.25, smoothed / clip);
    assert!(left > share && left < 1.25 * share, "{left} {share}");
}

#[test]
fn a_capacitor_never_deepens_the_dip_and_a_huge_one_leaves_the_average() {
    for levels in [[128, 128, 128], [10, 200, 90], [255, 255, 255], [1, 0, 0]] {
        let bare = figures(None, &levels);
        let mut last = bare.cell_peak_v;
        for c in ["10 µF", "1000 µF", "0.1 F", "100 F"] {
            let f = figures(Some((c, "1 mΩ")), &levels);
            assert!(f.cell_peak_v >= last - 1e-9, "{levels:?} {c}");
            assert!(f.cell_peak_a <= bare.cell_peak_a + 1e-9);
            assert!((f.cell_a - bare.cell_a).abs() < 1e-9, "the average stays");
            assert!(f.cell_peak_v <= f.cell_v + 1e-9);
            last = f.cell_peak_v;
        }
        assert!((last - bare.cell_v).abs() < 2e-3, "{levels:?}");
    }
}

#[test]
fn a_capacitor_of_which_only_the_resistance_is_left_does_nothing() {
    let levels = [128, 128, 128];
    let (bare, dried) = (
        figures(None, &levels),
        figures(Some(("1000 µF", "100 Ω")), &levels),
    );
    assert!((bare.cell_peak_a - dried.cell_peak_a).abs() < 5e-3);
}
