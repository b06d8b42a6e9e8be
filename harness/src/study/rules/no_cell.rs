//! `no-cell`: nothing drives the loop.

use super::{located, Facts, Finding, Severity};

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    if facts.prop.cell().is_some() {
        return;
    }
    out.push(Finding {
        id: "no-cell",
        severity: Severity::Fault,
        part: facts.prop.name.clone(),
        place: facts.prop.parts.first().map(|p| located(&p.place)),
        message: "the build has no cell, so no loop carries current".into(),
        why: "every load needs a loop from the cell's plus back to its minus",
        mend: "add [parts.cell] with kind = \"cell\" and wire cell.plus and cell.minus".into(),
    });
}
