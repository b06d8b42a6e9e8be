//! Right builds, which raise nothing.

use super::builds::{all_findings, edited, read, Edit, RIGHT};
use Edit::{Add, Cut, Rewire, Swap, Wire};

const RIGHT_BUILDS: &[(&str, &[Edit])] = &[
    ("as it stands", &[]),
    ("switch in the plus leg", &[Cut("N1"), Rewire("N2", "cell.minus", "minus"), Rewire("P2", "fuse.b", "master.a"), Wire("master.b", "plus")]),
    ("protection circuit in place of the fuse", &[Swap("kind = \"fuse\"\nfrom = \"fuse-fast-2a\"", "kind = \"protection\"\nfrom = \"protection-dw01a-2-fs8205a\"")]),
    ("a transistor against a reversed cell", &[Swap("keyed = true", "keyed = false"), Add("[parts.guard]\nkind = \"diode\"\nforward-voltage = \"0 V\"\nresistance = \"20 mΩ\"\n"), Rewire("P2", "fuse.b", "guard.anode"), Wire("guard.cathode", "plus")]),
    ("a Schottky diode in the minus leg", &[Swap("keyed = true", "keyed = false"), Add("[parts.guard]\nkind = \"diode\"\nforward-voltage = \"0.3 V\"\n"), Rewire("N2", "master.b", "guard.cathode"), Wire("guard.anode", "minus")]),
    ("strip fed at both ends", &[Wire("plus", "strip.plus@end"), Wire("minus", "strip.minus@end")]),
    ("two strips on one line in frame order", &[Add("[parts.far]\nkind = \"strip\"\nfrom = \"strip-ws2812b-60\"\npixels = 5\n"), Wire("plus", "far.plus"), Wire("minus", "far.minus"), Wire("strip.data-out", "far.data-in")]),
    ("an accent pixel on the second output", &[Add("[parts.accent]\nkind = \"strip\"\npixel = \"ws2812b\"\npixels = 1\n\n[parts.r2]\nkind = \"resistor\"\nfrom = \"resistor-data-470r\"\n"), Wire("plus", "accent.plus"), Wire("minus", "accent.minus"), Wire("board.data2", "r2.a"), Wire("r2.b", "accent.data-in")]),
    ("two cells in parallel", &[Add("[parts.cell2]\nkind = \"cell\"\nfrom = \"21700-nmc811-5ah\"\nkeyed = true\n"), Wire("cell2.plus", "cell.plus"), Wire("cell2.minus", "cell.minus")]),
    ("a button on the board", &[Add("[parts.button]\nkind = \"button\"\nfrom = \"button-tactile-6mm\"\n"), Wire("board.button", "button.a"), Wire("button.b", "minus")]),
    ("strip behind a plug with three poles", &[Add("[parts.plug]\nkind = \"connector\"\nfrom = \"connector-crimp-2-5mm\"\npoles = [\"plus\", \"minus\", \"data\"]\n"), Rewire("P3", "plus", "plug.plus.a"), Wire("plug.plus.b", "strip.plus"), Rewire("N3", "minus", "plug.minus.a"), Wire("plug.minus.b", "strip.minus"), Rewire("D2", "resistor.b", "plug.data.a"), Wire("plug.data.b", "strip.data-in"), Rewire("P5", "strip.plus", "bulk.plus"), Rewire("N5", "strip.minus", "bulk.minus")]),
    ("a measuring shunt in the minus leg", &[Add("[parts.shunt]\nkind = \"resistor\"\nfrom = \"resistor-shunt-10mohm\"\n"), Rewire("N2", "master.b", "shunt.a"), Wire("shunt.b", "minus")]),
];

#[test]
fn right_builds_raise_nothing() {
    assert!(RIGHT_BUILDS.len() >= 10);
    for (words, edits) in RIGHT_BUILDS {
        let found = all_findings(&read(&edited(RIGHT, edits)));
        let told: Vec<String> = found
            .iter()
            .map(|f| format!("{}: {}", f.id, f.message))
            .collect();
        assert!(told.is_empty(), "{words}:\n{}", told.join("\n"));
    }
}
