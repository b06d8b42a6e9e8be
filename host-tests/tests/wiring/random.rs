//! Whatever is wired to whatever: no panic, and every wire is drawn once, from its one terminal to its other.

use super::builds::{read, RIGHT};
use super::drawing::faults;
use lampwright::report::diagram::lay_out;
use lampwright::study::bench_sheet::states::plain;
use lampwright::study::bench_sheet::{bench_sheet, judge};
use lampwright::study::rules::findings;
use lampwright::study::workshop::cut_list::cut_list;
use lampwright::study::workshop::joints::joint_plan;
use proptest::prelude::*;

const TERMINALS: [&str; 24] = [
    "cell.plus",
    "cell.minus",
    "fuse.a",
    "fuse.b",
    "master.a",
    "master.b",
    "board.supply",
    "board.ground",
    "board.data1",
    "board.data2",
    "board.button",
    "board.rail",
    "resistor.a",
    "resistor.b",
    "plus",
    "minus",
    "bulk.plus",
    "bulk.minus",
    "strip.plus",
    "strip.minus@end",
    "strip.plus@4",
    "strip.minus",
    "strip.data-in",
    "strip.data-out",
];

/// The right build with some wires left out and some laid at random.
fn any_wiring() -> impl Strategy<Value = String> {
    let kept = proptest::collection::vec(any::<bool>(), 12);
    let more = proptest::collection::vec((0..TERMINALS.len(), 0..TERMINALS.len()), 0..8);
    (kept, more).prop_map(|(kept, more)| {
        let mut pieces = RIGHT.split("[[wires]]");
        let mut text = pieces.next().unwrap().to_owned();
        for (piece, keep) in pieces.zip(kept) {
            if keep {
                text.push_str("[[wires]]");
                text.push_str(piece);
            }
        }
        for (a, b) in more.into_iter().filter(|(a, b)| a != b) {
            text.push_str(&format!(
                "\n[[wires]]\nfrom = \"{}\"\nto = \"{}\"\ngauge = \"24 AWG\"\nlength = \"50 mm\"\n",
                TERMINALS[a], TERMINALS[b]
            ));
        }
        text
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_wiring_is_drawn_and_judged(text in any_wiring()) {
        let prop = read(&text);
        let scene = lay_out(&prop, &[]);
        let wrong: Vec<String> = faults(&prop, &scene)
            .into_iter()
            .filter(|f| f.contains("is drawn") || f.contains("does not run") || f.contains("askew") || f.contains("leaves the sheet"))
            .collect();
        prop_assert!(wrong.is_empty(), "{}\n{text}", wrong.join("\n"));
        for f in findings(&prop) {
            prop_assert!(!f.mend.is_empty());
        }
        let _ = (cut_list(&prop), joint_plan(&prop));
        let sheet = bench_sheet(&prop, plain(&prop, 255));
        for row in &sheet.rows {
            prop_assert!(row.expected.is_none_or(f64::is_finite), "{row:?}");
        }
        if sheet.rows.len() < 40 {
            let readings: Vec<Option<f64>> = sheet.rows.iter().map(|r| r.expected).collect();
            let _ = judge(&prop, &sheet, &readings);
        }
    }
}
