//! `no-fuse`: a way from the cell's plus to its minus without fuse or protection.

use super::{fed_loads, join, Facts, Finding, Severity};
use crate::build::prop::PartKind;
use crate::build::supply::Supply;

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    let guards = |i: usize| {
        matches!(
            facts.prop.parts.get(i).map(|p| &p.kind),
            Some(PartKind::Fuse(_) | PartKind::Protection(_))
        )
    };
    let open = Supply::trace_without(facts.prop, guards);
    let bare = fed_loads(facts.prop, &open);
    let Some((cell, _)) = facts.prop.cell() else {
        return;
    };
    if bare.is_empty() {
        return;
    }
    let names: Vec<String> = bare
        .iter()
        .map(|i| format!("\"{}\"", facts.name(*i)))
        .collect();
    out.push(facts.about(
        cell,
        "no-fuse",
        Severity::Risk,
        format!("no fuse and no protection lies between the cell and {}", join(&names)),
        "a chafed wire behind an unprotected lithium cell carries tens of amperes until something burns",
        "put a fuse into the plus leg right at the cell, or take a cell with a protection circuit and draw it",
    ));
}
