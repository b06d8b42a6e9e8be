//! Which variables are listened to.

use super::header::Variable;
use crate::build::diag::{near_miss, InputError, InputErrors};
use std::collections::HashMap;

/// Most names that a message lists.
const LISTED: usize = 24;

/// A line that is listened to: an identifier and, of a variable of several bits, which one, counted
/// from the last of its text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Tap {
    pub(super) id: Vec<u8>,
    pub(super) bit: u32,
}

/// Finds a variable, or a bit of one, by its name, with as many of its scopes before it as tell it.
pub(super) fn find(file: &str, variables: &[Variable], wanted: &str) -> Result<Tap, InputErrors> {
    let named = |v: &Variable, name: &str| {
        v.name == name || format!(".{}", v.path()).ends_with(&format!(".{name}"))
    };
    let mut hits: Vec<(&Variable, Option<i64>)> = Vec::new();
    hits.extend(
        variables
            .iter()
            .filter(|v| named(v, wanted))
            .map(|v| (v, None)),
    );
    if let Some((base, index)) = bit_of(wanted).filter(|_| hits.is_empty()) {
        let wide = variables.iter().filter(|v| v.width > 1 && named(v, base));
        hits.extend(wide.map(|v| (v, Some(index))));
    }
    let Some((first, index)) = hits.first().copied() else {
        return Err(unknown(file, variables, wanted));
    };
    // Several names of one line are one line.
    if let Some((other, _)) = hits.iter().find(|(v, _)| v.id != first.id) {
        let (a, b) = (first.path(), other.path());
        let message = format!("{file}: several signals are called \"{wanted}\": {a}, {b}");
        return Err(InputError::whole(message)
            .help("name it with its scopes")
            .into());
    }
    if first.not_digital {
        let message = format!("{file}: signal \"{wanted}\" has numbers for values, not levels");
        let help = "name a digital signal; an analogue trace has no bits to read";
        return Err(InputError::whole(message).help(help).into());
    }
    let (high, low) = first.range.unwrap_or((0, 0));
    let bit = match index {
        None if first.width == 1 => Some(0),
        None => {
            let message = format!("{file}: signal \"{wanted}\" has {} bits", first.width);
            let help = format!("name one of them, such as {wanted}[{low}]");
            return Err(InputError::whole(message).help(help).into());
        }
        Some(k) if high >= low => (low..=high).contains(&k).then(|| k - low),
        Some(k) => (high..=low).contains(&k).then(|| low - k),
    };
    let Some(bit) = bit.and_then(|b| u32::try_from(b).ok()) else {
        let message = format!("{file}: signal \"{wanted}\" does not exist");
        let help = format!("the bits of {} are {high} to {low}", first.path());
        return Err(InputError::whole(message).help(help).into());
    };
    Ok(Tap {
        id: first.id.clone(),
        bit,
    })
}

/// `data[3]` as name and index.
fn bit_of(name: &str) -> Option<(&str, i64)> {
    let (base, rest) = name.split_once('[')?;
    Some((base, rest.strip_suffix(']')?.parse().ok()?))
}

fn unknown(file: &str, variables: &[Variable], wanted: &str) -> InputErrors {
    let names: Vec<String> = variables.iter().map(Variable::path).collect();
    let plain = variables.iter().map(|v| v.name.as_str());
    let near = near_miss(wanted, plain).map(|n| format!("did you mean \"{n}\"? "));
    let more = names.len().saturating_sub(LISTED);
    let mut list = names
        .into_iter()
        .take(LISTED)
        .collect::<Vec<_>>()
        .join(", ");
    if more > 0 {
        list.push_str(&format!(" and {more} more"));
    }
    InputError::whole(format!("{file}: there is no signal \"{wanted}\""))
        .help(format!("{}the file has {list}", near.unwrap_or_default()))
        .into()
}

/// What a value change of an identifier means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Slot {
    /// Nothing declares it.
    Undeclared,
    /// Nobody listens.
    Ignored,
    /// One line of one bit.
    Line(u16),
    /// To be looked at with care: an entry of [`Slots::wide`].
    Wide(u16),
}

/// Identifiers and who listens.
#[derive(Debug)]
pub(super) struct Slots {
    /// Identifiers of one character.
    pub(super) short: [Slot; 256],
    /// Longer ones.
    long: HashMap<Vec<u8>, Slot>,
    /// Bits and the lines that listen to them.
    pub(super) wide: Vec<Vec<(u32, usize)>>,
}

impl Slots {
    pub(super) fn new(variables: &[Variable], taps: &[Tap]) -> Self {
        let mut slots = Self {
            short: [Slot::Undeclared; 256],
            long: HashMap::new(),
            wide: Vec::new(),
        };
        for variable in variables {
            slots.set(&variable.id, Slot::Ignored);
        }
        for variable in variables {
            let bits: Vec<(u32, usize)> = taps
                .iter()
                .enumerate()
                .filter(|(_, t)| t.id == variable.id)
                .map(|(line, t)| (t.bit, line))
                .collect();
            let slot = match bits.as_slice() {
                [] => continue,
                [(_, line)] if variable.width == 1 => {
                    u16::try_from(*line).map_or(Slot::Ignored, Slot::Line)
                }
                _ => {
                    slots.wide.push(bits);
                    u16::try_from(slots.wide.len() - 1).map_or(Slot::Ignored, Slot::Wide)
                }
            };
            slots.set(&variable.id, slot);
        }
        slots
    }

    fn set(&mut self, id: &[u8], slot: Slot) {
        if let [one] = id {
            if let Some(place) = self.short.get_mut(usize::from(*one)) {
                *place = slot;
            }
        } else {
            self.long.insert(id.to_vec(), slot);
        }
    }

    pub(super) fn get(&self, id: &[u8]) -> Slot {
        if let [one] = id {
            return self.short_slot(*one);
        }
        self.long.get(id).copied().unwrap_or(Slot::Undeclared)
    }

    #[inline]
    pub(super) fn short_slot(&self, id: u8) -> Slot {
        self.short
            .get(usize::from(id))
            .copied()
            .unwrap_or(Slot::Undeclared)
    }
}
