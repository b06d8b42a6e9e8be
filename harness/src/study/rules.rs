//! Wiring findings: what the drawing alone shows to be wrong.

use crate::build::netlist::Pin;
use crate::build::prop::{PartKind, Prop};
use crate::build::supply::{Fed, Spot, Supply};
use serde::Serialize;

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// The prop does not work or is dangerous.
    Fault,
    /// Worth knowing; the prop works.
    Advice,
}

/// Something the drawing shows.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// Stable id, such as `cell-shorted`.
    pub id: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// The part or wire it is about.
    pub part: String,
    /// File, one-based line and column of that part.
    pub place: Option<String>,
    /// What is found.
    pub message: String,
    /// Why it matters.
    pub why: &'static str,
    /// How to mend it.
    pub mend: String,
}

/// Every finding, faults first.
pub fn findings(prop: &Prop) -> Vec<Finding> {
    let supply = Supply::trace(prop);
    let mut out = Vec::new();
    no_cell(prop, &mut out);
    shorted(prop, &supply, &mut out);
    if !out.iter().any(|f| f.severity == Severity::Fault) {
        // Without a cell, or with a shorted one, every other part would be reported as well.
        fed(prop, &supply, &mut out);
        data(prop, &supply, &mut out);
    }
    out.sort_by_key(|f| f.severity);
    out
}

fn finding(
    prop: &Prop,
    part: usize,
    id: &'static str,
    severity: Severity,
    message: String,
    why: &'static str,
    mend: String,
) -> Finding {
    let part = prop.parts.get(part);
    let place = part.map(|p| {
        let (line, column) = p.place.source.line_column(p.place.span.start);
        format!("{}:{line}:{column}", p.place.source.name)
    });
    Finding {
        id,
        severity,
        part: part.map_or_else(String::new, |p| p.name.clone()),
        place,
        message,
        why,
        mend,
    }
}

fn no_cell(prop: &Prop, out: &mut Vec<Finding>) {
    if prop.cell().is_none() {
        out.push(Finding {
            id: "no-cell",
            severity: Severity::Fault,
            part: prop.name.clone(),
            place: prop.parts.first().map(|p| p.place.source.name.to_string()),
            message: "the build has no cell, so no loop carries current".into(),
            why: "every load needs a loop from the cell's plus back to its minus",
            mend: "add [parts.cell] with kind = \"cell\" and wire cell.plus and cell.minus".into(),
        });
    }
}

fn shorted(prop: &Prop, supply: &Supply, out: &mut Vec<Finding>) {
    for (i, part) in prop.parts.iter().enumerate() {
        if !matches!(part.kind, PartKind::Cell(_)) {
            continue;
        }
        let (plus, minus) = (
            supply.conductor((i, Pin::Plus)),
            supply.conductor((i, Pin::Minus)),
        );
        if let (Some(p), Some(m)) = (plus, minus) {
            if p == m {
                let message = format!(
                    "cell \"{}\" is shorted: plus and minus are joined through {}",
                    part.name,
                    path(prop, i)
                );
                out.push(finding(prop, i, "cell-shorted", Severity::Fault, message,
                    "a shorted lithium cell delivers tens of amperes at once: wires glow, the cell can vent or burn",
                    "take out the wire that joins the two sides; test with a meter before the cell goes in".into()));
            }
        }
        if plus.is_none() || minus.is_none() {
            let side = if plus.is_none() { "plus" } else { "minus" };
            let message = format!("cell \"{}\" has no wire on its {side}", part.name);
            out.push(finding(
                prop,
                i,
                "loop-open",
                Severity::Fault,
                message,
                "without a closed loop nothing carries current",
                format!("wire {}.{side}", part.name),
            ));
        }
    }
}

/// The parts and wires that join a cell's plus to its minus, shortest way.
fn path(prop: &Prop, cell: usize) -> String {
    let start: Spot = (cell, Pin::Plus);
    let goal: Spot = (cell, Pin::Minus);
    let edges = crate::build::supply::edges(prop);
    let mut queue = std::collections::VecDeque::from([(start, Vec::<String>::new())]);
    let mut seen = std::collections::HashSet::from([start]);
    while let Some((at, names)) = queue.pop_front() {
        if at == goal {
            return names.join(", ");
        }
        for (a, b, name) in &edges {
            for (here, there) in [(a, b), (b, a)] {
                if *here == at && seen.insert(*there) {
                    let mut names = names.clone();
                    names.push(name.clone());
                    queue.push_back((*there, names));
                }
            }
        }
    }
    "a joint".to_owned()
}

/// The two supply pins of a load.
fn load_pins(supply: &Supply, part: usize, kind: &PartKind) -> Option<(Vec<Spot>, Vec<Spot>)> {
    match kind {
        PartKind::Board(_) => Some((vec![(part, Pin::Supply)], vec![(part, Pin::Ground)])),
        PartKind::Capacitor(_) => Some((vec![(part, Pin::Plus)], vec![(part, Pin::Minus)])),
        PartKind::Strip(_) => {
            let (plus, minus) = supply.feeds(part);
            Some((plus, minus))
        }
        _ => None,
    }
}

fn fed(prop: &Prop, supply: &Supply, out: &mut Vec<Finding>) {
    for (i, part) in prop.parts.iter().enumerate() {
        let Some((plus, minus)) = load_pins(supply, i, &part.kind) else {
            continue;
        };
        let word = part.kind.word();
        let name = &part.name;
        let (Some(p), Some(m)) = (plus.first(), minus.first()) else {
            let side = if plus.is_empty() { "plus" } else { "minus" };
            out.push(unfed(
                prop,
                i,
                format!("{word} \"{name}\" has no wire on its {side}"),
            ));
            continue;
        };
        match supply.fed(*p, *m) {
            Fed::Forward => {}
            Fed::Unfed => {
                let side = if supply.is_live(*p) { "minus" } else { "plus" };
                out.push(unfed(
                    prop,
                    i,
                    format!("{word} \"{name}\" is not fed: its {side} reaches no cell"),
                ));
            }
            Fed::Bridged => out.push(finding(
                prop,
                i,
                "load-bridged",
                Severity::Fault,
                format!("{word} \"{name}\" has both its ends on the same conductor"),
                "it sees no voltage and stays dark",
                "move one end to the other side of the supply".into(),
            )),
            Fed::Reversed => out.push(finding(
                prop,
                i,
                "part-reversed",
                Severity::Fault,
                format!("{word} \"{name}\" is reversed: its plus lies on the minus side"),
                "reversed polarity destroys pixels and boards within seconds",
                "swap its two supply wires; check polarity with a meter before the cell goes in"
                    .into(),
            )),
        }
    }
}

fn unfed(prop: &Prop, part: usize, message: String) -> Finding {
    let mend = format!(
        "wire it to both sides of the supply ({})",
        prop.parts.get(part).map_or("", |p| p.name.as_str())
    );
    finding(
        prop,
        part,
        "load-unfed",
        Severity::Fault,
        message,
        "a load without a closed loop stays dark",
        mend,
    )
}

fn data(prop: &Prop, supply: &Supply, out: &mut Vec<Finding>) {
    for (i, part) in prop.parts.iter().enumerate() {
        if !matches!(part.kind, PartKind::Strip(_)) {
            continue;
        }
        let driven = supply.conductor((i, Pin::DataIn)).is_some_and(|c| {
            let reached = supply.together_through_signals(prop, c);
            reached
                .iter()
                .any(|(_, pin)| matches!(pin, Pin::Data(_) | Pin::DataOut))
        });
        if !driven {
            out.push(finding(prop, i, "data-missing", Severity::Advice,
                format!("strip \"{}\" gets no data: nothing drives its data-in", part.name),
                "without data the pixels stay as they power up; the data-level check cannot be made",
                format!("wire {}.data-in to a data output of the board, or to data-out of the strip before it", part.name)));
        }
    }
}
