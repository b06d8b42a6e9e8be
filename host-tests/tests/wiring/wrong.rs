//! Wrong builds, each with the finding that it must raise.

use super::builds::{all_findings, edited, read, Edit, RIGHT};
use Edit::{Add, Cut, Rewire, Swap, Wire};

const SECOND_STRIP: &str =
    "[parts.far]\nkind = \"strip\"\nfrom = \"strip-ws2812b-60\"\npixels = 5\n";
const USB: &str = "[parts.usb]\nkind = \"supply\"\nvoltage = \"5 V\"\n";
const DIODE: &str =
    "[parts.diode]\nkind = \"diode\"\nforward-voltage = \"0.3 V\"\nresistance = \"30 mΩ\"\n";
const SECOND_CELL: &str =
    "[parts.cell2]\nkind = \"cell\"\nfrom = \"21700-nmc811-5ah\"\nkeyed = true\n";

/// What is wrong in words, how the right build is changed, the finding.
const WRONG: &[(&str, &[Edit], &str)] = &[
    ("a wire right across the cell", &[Wire("cell.plus", "cell.minus")], "cell-shorted"),
    ("a wire across the supply behind fuse and switch", &[Wire("plus", "minus")], "cell-shorted"),
    ("plus of the strip wired to its own minus", &[Wire("strip.plus@end", "strip.minus@end")], "cell-shorted"),
    ("no cell at all", &[Swap("kind = \"cell\"\nfrom = \"21700-nmc811-5ah\"\nkeyed = true", "kind = \"capacitor\"\nfrom = \"capacitor-ceramic-100uf\"")], "no-cell"),
    ("cell without a wire on its minus", &[Cut("N1")], "loop-open"),
    ("strip with plus and minus exchanged", &[Rewire("P3", "plus", "strip.minus"), Rewire("N3", "minus", "strip.plus")], "part-reversed"),
    ("board with supply and ground exchanged", &[Rewire("P4", "plus", "board.ground"), Rewire("N4", "minus", "board.supply")], "part-reversed"),
    ("capacitor the wrong way round", &[Rewire("P5", "plus", "bulk.minus"), Rewire("N5", "minus", "bulk.plus")], "part-reversed"),
    ("diode in the plus leg the wrong way round", &[Add(DIODE), Rewire("P2", "fuse.b", "diode.cathode"), Wire("diode.anode", "plus")], "part-reversed"),
    ("diode in the minus leg the wrong way round", &[Add(DIODE), Rewire("N2", "master.b", "diode.anode"), Wire("diode.cathode", "minus")], "part-reversed"),
    ("second cell in parallel the wrong way round", &[Add(SECOND_CELL), Wire("cell2.plus", "cell.minus"), Wire("cell2.minus", "cell.plus")], "cells-opposed"),
    ("strip with a supply but no return", &[Cut("N3")], "load-unfed"),
    ("strip with a return but no supply", &[Cut("P3")], "load-unfed"),
    ("board with no return", &[Cut("N4")], "load-unfed"),
    ("fuse that leads nowhere", &[Rewire("P1", "cell.plus", "plus"), Cut("P2"), Wire("fuse.a", "plus")], "terminal-floating"),
    ("strip with both ends on plus", &[Rewire("N3", "plus", "strip.minus")], "load-bridged"),
    ("switch wired at one end only", &[Rewire("N2", "cell.minus", "minus")], "terminal-floating"),
    ("splice at the end of a single wire", &[Add("[parts.stub]\nkind = \"splice\"\n"), Wire("plus", "stub")], "terminal-floating"),
    ("a connector pole that is plugged but not led on", &[Add("[parts.plug]\nkind = \"connector\"\nfrom = \"connector-crimp-2-0mm\"\npoles = [\"plus\", \"spare\"]\n"), Rewire("P3", "plus", "plug.plus.a"), Wire("plug.plus.b", "strip.plus"), Wire("plus", "plug.spare.a")], "terminal-floating"),
    ("data led to data-out", &[Rewire("D2", "resistor.b", "strip.data-out")], "data-swapped"),
    ("two strips joined data-out to data-out", &[Add(SECOND_STRIP), Wire("plus", "far.plus"), Wire("minus", "far.minus"), Wire("strip.data-out", "far.data-out")], "data-swapped"),
    ("data never led to the strip", &[Cut("D2"), Cut("D1"), Swap("[parts.resistor]\nkind = \"resistor\"\nfrom = \"resistor-data-330r\"\n", "")], "data-missing"),
    ("strips wired in another order than they stand in", &[Swap("[parts.strip]", "[parts.far]\nkind = \"strip\"\nfrom = \"strip-ws2812b-60\"\npixels = 5\n\n[parts.strip]"), Wire("plus", "far.plus"), Wire("minus", "far.minus"), Wire("strip.data-out", "far.data-in")], "data-order"),
    ("data of a strip led back to itself", &[Cut("D1"), Rewire("D2", "strip.data-out", "strip.data-in"), Swap("[parts.resistor]\nkind = \"resistor\"\nfrom = \"resistor-data-330r\"\n", "")], "data-order"),
    ("two outputs of the board on one line", &[Wire("board.data2", "strip.data-in")], "data-drivers"),
    ("output of the board and of a strip on one line", &[Add(SECOND_STRIP), Wire("plus", "far.plus"), Wire("minus", "far.minus"), Wire("strip.data-out", "far.data-in"), Wire("board.data2", "far.data-in")], "data-drivers"),
    ("strip on a cell of its own, without common ground", &[Add(SECOND_CELL), Rewire("P3", "cell2.plus", "strip.plus"), Rewire("N3", "cell2.minus", "strip.minus")], "ground-missing"),
    ("strip with far too many pixels for one feed", &[Swap("pixels = 10", "pixels = 90"), Swap("fuse-fast-2a", "fuse-fast-5a")], "feed-overloaded"),
    ("supply wires of 30 AWG", &[Swap("type = \"wire-22awg-ptfe\"", "type = \"wire-30awg-enamel\""), Swap("pixels = 10", "pixels = 60")], "wire-too-thin"),
    ("a 0.3 A slide switch for sixty pixels", &[Swap("switch-toggle-5a", "switch-slide-300ma"), Swap("pixels = 10", "pixels = 60")], "contact-overloaded"),
    ("a spring pin for ninety pixels", &[Add("[parts.pin]\nkind = \"contact\"\nfrom = \"contact-spring-pin-2a\"\n"), Rewire("P2", "fuse.b", "pin.a"), Wire("pin.b", "plus"), Swap("pixels = 10", "pixels = 90")], "contact-overloaded"),
    ("a board whose data output is far below its supply",
        &[Swap("outputs = 2", "outputs = 2\ndata-high = \"60 %\"")],
        "logic-level-low"),
    ("a wire round the switch", &[Wire("master.a", "master.b")], "switch-bypassed"),
    ("strip fed past the switch", &[Rewire("N3", "cell.minus", "strip.minus")], "drain-when-off"),
    ("board fed past the switch while the strip is switched in its minus", &[Rewire("N4", "cell.minus", "board.ground")], "switch-bypassed"),
    ("no switch", &[Rewire("N2", "cell.minus", "minus"), Cut("N1"), Swap("[parts.master]\nkind = \"switch\"\nfrom = \"switch-toggle-5a\"\n", "")], "drain-when-off"),
    ("no fuse", &[Cut("P1"), Rewire("P2", "cell.plus", "plus"), Swap("[parts.fuse]\nkind = \"fuse\"\nfrom = \"fuse-fast-2a\"\n", "")], "no-fuse"),
    ("fuse in the board's branch only", &[Rewire("P1", "cell.plus", "plus"), Rewire("P2", "plus", "fuse.a"), Rewire("P4", "fuse.b", "board.supply")], "no-fuse"),
    ("a cell that can go in both ways round", &[Swap("keyed = true", "keyed = false")], "no-polarity-protection"),
    ("no bulk capacitor", &[Cut("P5"), Cut("N5"), Swap("[parts.bulk]\nkind = \"capacitor\"\nfrom = \"capacitor-electrolytic-1000uf\"\n", "")], "bulk-capacitor-missing"),
    ("no series resistor in the data line", &[Cut("D1"), Rewire("D2", "board.data1", "strip.data-in"), Swap("[parts.resistor]\nkind = \"resistor\"\nfrom = \"resistor-data-330r\"\n", "")], "data-resistor-missing"),
    ("USB lead straight on the cell's conductor", &[Add(USB), Wire("usb.plus", "plus"), Wire("usb.minus", "minus")], "second-supply"),
    ("USB lead the wrong way round", &[Add(USB), Wire("usb.plus", "minus"), Wire("usb.minus", "plus")], "second-supply"),
    ("USB socket of the board straight on its supply", &[Swap("outputs = 2", "outputs = 2\nusb = \"direct\"")], "second-supply"),
];

#[test]
fn every_wrong_build_raises_its_finding() {
    assert!(WRONG.len() >= 30);
    let mut missed = Vec::new();
    for (words, edits, id) in WRONG {
        let found = all_findings(&read(&edited(RIGHT, edits)));
        let ids: Vec<&str> = found.iter().map(|f| f.id).collect();
        if !ids.contains(id) {
            missed.push(format!("{words}: no {id}, but {ids:?}"));
        }
        for f in &found {
            assert!(!f.why.is_empty() && !f.mend.is_empty(), "{words}: {f:?}");
            assert!(
                f.place
                    .as_deref()
                    .is_some_and(|p| p.starts_with("build.toml:")),
                "{words}: {f:?}"
            );
        }
    }
    assert!(missed.is_empty(), "{}", missed.join("\n"));
}

/// A finding that fires on everything would pass the table above.
#[test]
fn wrong_builds_raise_little_else() {
    for (words, edits, id) in WRONG {
        let found = all_findings(&read(&edited(RIGHT, edits)));
        let others: std::collections::BTreeSet<&str> =
            found.iter().map(|f| f.id).filter(|i| i != id).collect();
        assert!(others.len() <= 3, "{words}: {others:?} besides {id}");
    }
}
