//! `second-supply` by way of the board's own USB socket, for programming or charging.

use super::{fed_loads, join, Facts, Finding, Severity};
use crate::build::netlist::Pin;
use crate::build::parts::UsbPath;
use crate::build::prop::PartKind;
use crate::build::supply::Supply;

pub(super) fn find(facts: &Facts<'_>, out: &mut Vec<Finding>) {
    for (i, part) in facts.prop.parts.iter().enumerate() {
        let PartKind::Board(board) = &part.kind else {
            continue;
        };
        let Some(path) = board.usb else { continue };
        let own = facts.off.conductor((i, Pin::Supply));
        // What hangs on the board's supply terminal while every switch is open is fed through the socket.
        let shares = |part: usize| reaches(&facts.off, facts, part, own);
        let loads: Vec<String> = fed_loads(facts.prop, &facts.supply)
            .into_iter()
            .filter(|l| *l != i && shares(*l))
            .map(|l| format!("\"{}\"", facts.name(l)))
            .collect();
        let cell = facts.prop.parts.iter().enumerate().any(|(c, p)| {
            matches!(p.kind, PartKind::Cell(_))
                && facts.supply.conductor((c, Pin::Plus))
                    == facts.supply.conductor((i, Pin::Supply))
        });
        let too = if loads.is_empty() {
            String::new()
        } else {
            format!(" and also {}", join(&loads))
        };
        let name = &part.name;
        match path {
            UsbPath::Direct if cell => out.push(facts.about(i, "second-supply", Severity::Risk,
                format!("a USB lead on \"{name}\" puts 5 V straight onto the cell's plus: it charges the cell without any control, feeds the board{too}"),
                "a lithium cell that is charged without a charger made for it can vent or burn",
                "take the cell out or switch it off before the lead goes in, or put a diode between cell and board")),
            UsbPath::Direct | UsbPath::Diode => out.push(facts.about(i, "second-supply", Severity::Advice,
                format!("a USB lead on \"{name}\" feeds the board{too}, with the cell in place and even with the switch off"),
                "a socket gives 0.5 A at most unless more was agreed: a bright strip pulls it down; and what you think is off is on",
                "keep the brightness low while the lead is in; unplug it before you solder")),
            UsbPath::Charger => out.push(facts.about(i, "second-supply", Severity::Advice,
                format!("a USB lead on \"{name}\" charges the cell through the board's charger and feeds the board{too}"),
                "a load that runs while the cell charges upsets the end of charge: the charger may never stop",
                "switch the prop off while it charges; charge only with the cell the charger was set for")),
        }
    }
}

fn reaches(supply: &Supply, facts: &Facts<'_>, part: usize, conductor: Option<usize>) -> bool {
    let plus = match facts.prop.parts.get(part).map(|p| &p.kind) {
        Some(PartKind::Strip(_)) => supply.feeds(part).0.first().copied(),
        _ => Some((part, Pin::Plus)),
    };
    plus.and_then(|s| supply.conductor(s))
        .is_some_and(|c| Some(c) == conductor)
}
