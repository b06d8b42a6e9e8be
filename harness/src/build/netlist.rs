//! Terminals: the named points that wires join.

use super::diag::{near_miss, InputError, Place};
use super::prop::{Part, PartKind};
use std::collections::BTreeSet;
use std::fmt;

/// A place on a part where a wire can be soldered or plugged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Pin {
    /// Positive end of a cell or capacitor.
    Plus,
    /// Negative end of a cell or capacitor.
    Minus,
    /// First end of a two-ended part, or of pole `n` of a connector.
    A(u16),
    /// Second end of a two-ended part, or of pole `n` of a connector.
    B(u16),
    /// Supply input of a board.
    Supply,
    /// Ground of a board.
    Ground,
    /// Logic rail that a board gives out.
    Rail,
    /// Button input of a board.
    Input,
    /// Data output of a board, counted from 1.
    Data(u8),
    /// Clock output of a board that belongs to a data output, counted from 1.
    Clock(u8),
    /// Positive rail of a strip at a pixel, counted from 0.
    RailPlus(u32),
    /// Negative rail of a strip at a pixel, counted from 0.
    RailMinus(u32),
    /// Data input of a strip.
    DataIn,
    /// Data output of a strip.
    DataOut,
    /// Clock input of a strip.
    ClockIn,
    /// Clock output of a strip.
    ClockOut,
    /// A splice itself.
    Joint,
}

impl Pin {
    /// Whether the pin carries data or a button signal rather than supply current.
    pub fn is_signal(self) -> bool {
        matches!(
            self,
            Self::Input
                | Self::Data(_)
                | Self::Clock(_)
                | Self::DataIn
                | Self::DataOut
                | Self::ClockIn
                | Self::ClockOut
        )
    }
}

/// A pin of a part.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Terminal {
    /// Index into the prop's parts.
    pub part: usize,
    /// Which pin.
    pub pin: Pin,
    /// As the builder wrote it.
    pub text: String,
}

impl fmt::Display for Terminal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

/// Finds the terminal that a text such as `column.plus@end` names. `unread` are the names of further parts
/// whose terminals are not known; they may be meant by a misspelt name.
///
/// # Errors
/// The fault with its place, the terminals the part has and the nearest name.
pub fn terminal(
    text: &str,
    place: &Place,
    parts: &[Part],
    unread: &BTreeSet<String>,
) -> Result<Terminal, Box<InputError>> {
    let (name, rest) = text.trim().split_once('.').unwrap_or((text.trim(), ""));
    let Some(part) = parts.iter().position(|p| p.name == name) else {
        let read = parts.iter().map(|p| p.name.as_str());
        let names: Vec<&str> = read.chain(unread.iter().map(String::as_str)).collect();
        let help = match near_miss(name, names.iter().copied()) {
            Some(near) => format!("did you mean \"{near}\"? Parts: {}", names.join(", ")),
            None if names.is_empty() => format!("define it under [parts.{name}]"),
            None => format!("parts in this build: {}", names.join(", ")),
        };
        let message = format!("no part is called \"{name}\"");
        return Err(Box::new(
            InputError::at(place.clone(), message, "unknown part").help(help),
        ));
    };
    match pin(rest, &parts[part].kind) {
        Ok(pin) => Ok(Terminal {
            part,
            pin,
            text: text.trim().to_owned(),
        }),
        Err(why) => {
            let known = pin_names(&parts[part].kind);
            let bare = rest.split('@').next().unwrap_or_default();
            let near = near_miss(bare, known.iter().map(String::as_str));
            let mut help = format!("terminals of \"{name}\": {}", known.join(", "));
            if let Some(near) = near.filter(|n| *n != bare) {
                help = format!("did you mean \"{name}.{near}\"? {help}");
            }
            let message = format!("\"{text}\" is not a terminal: {why}");
            Err(Box::new(
                InputError::at(place.clone(), message, "unknown terminal").help(help),
            ))
        }
    }
}

/// The names of a part's terminals, as a builder may write them.
pub fn pin_names(kind: &PartKind) -> Vec<String> {
    let fixed = |names: &[&str]| names.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>();
    match kind {
        PartKind::Cell(_) | PartKind::Capacitor(_) | PartKind::Supply(_) => {
            fixed(&["plus", "minus"])
        }
        PartKind::Switch(_)
        | PartKind::Contact(_)
        | PartKind::Button
        | PartKind::Fuse(_)
        | PartKind::Protection(_)
        | PartKind::Resistor(_) => fixed(&["a", "b"]),
        PartKind::Diode(_) => fixed(&["anode", "cathode"]),
        PartKind::Connector { poles, .. } => poles
            .iter()
            .flat_map(|p| [format!("{p}.a"), format!("{p}.b")])
            .collect(),
        PartKind::Splice => fixed(&["(the bare name)"]),
        PartKind::Board(board) => {
            let mut names = fixed(&["supply", "ground", "rail", "button"]);
            names.extend((1..=board.outputs).map(|n| format!("data{n}")));
            names.extend((1..=board.outputs).map(|n| format!("clock{n}")));
            names
        }
        PartKind::Strip(_) => fixed(&[
            "plus",
            "minus",
            "plus@end",
            "minus@end",
            "plus@0",
            "data-in",
            "data-out",
            "clock-in",
            "clock-out",
        ]),
    }
}

fn pin(rest: &str, kind: &PartKind) -> Result<Pin, String> {
    let (name, at) = match rest.split_once('@') {
        Some((name, at)) => (name, Some(at)),
        None => (rest, None),
    };
    if at.is_some() && !matches!(kind, PartKind::Strip(_)) {
        return Err("only a strip has places along it (`@`)".to_owned());
    }
    let unknown = || {
        if name.is_empty() {
            "it needs a terminal name after a dot".to_owned()
        } else {
            format!("there is no \"{name}\"")
        }
    };
    match kind {
        PartKind::Diode(_) => match name {
            "anode" => Ok(Pin::A(0)),
            "cathode" => Ok(Pin::B(0)),
            _ => Err(unknown()),
        },
        PartKind::Cell(_) | PartKind::Capacitor(_) | PartKind::Supply(_) => match name {
            "plus" => Ok(Pin::Plus),
            "minus" => Ok(Pin::Minus),
            _ => Err(unknown()),
        },
        PartKind::Switch(_)
        | PartKind::Contact(_)
        | PartKind::Button
        | PartKind::Fuse(_)
        | PartKind::Protection(_)
        | PartKind::Resistor(_) => side(name, 0).ok_or_else(unknown),
        PartKind::Connector { poles, .. } => {
            let (pole, end) = name.rsplit_once('.').unwrap_or((name, ""));
            let index = poles.iter().position(|p| p == pole).ok_or_else(unknown)?;
            let index = u16::try_from(index).map_err(|_| unknown())?;
            side(end, index).ok_or_else(|| format!("pole \"{pole}\" has the ends a and b"))
        }
        PartKind::Splice if name.is_empty() => Ok(Pin::Joint),
        PartKind::Splice => {
            Err("a splice has no terminals of its own; write its bare name".to_owned())
        }
        PartKind::Board(board) => board_pin(name, board.outputs).ok_or_else(unknown),
        PartKind::Strip(strip) => strip_pin(name, at, strip.pixels),
    }
}

fn side(name: &str, pole: u16) -> Option<Pin> {
    match name {
        "a" => Some(Pin::A(pole)),
        "b" => Some(Pin::B(pole)),
        _ => None,
    }
}

fn board_pin(name: &str, outputs: u8) -> Option<Pin> {
    let numbered = |prefix: &str| {
        let n: u8 = name.strip_prefix(prefix)?.parse().ok()?;
        (1..=outputs).contains(&n).then_some(n)
    };
    match name {
        "supply" => Some(Pin::Supply),
        "ground" => Some(Pin::Ground),
        "rail" => Some(Pin::Rail),
        "button" => Some(Pin::Input),
        "data" if outputs == 1 => Some(Pin::Data(1)),
        _ => numbered("data")
            .map(Pin::Data)
            .or_else(|| numbered("clock").map(Pin::Clock)),
    }
}

fn strip_pin(name: &str, at: Option<&str>, pixels: u32) -> Result<Pin, String> {
    let last = pixels.saturating_sub(1);
    let pixel = match at {
        None | Some("start") => 0,
        Some("end") => last,
        Some(text) => match text.parse::<u32>() {
            Ok(n) if n <= last => n,
            _ => {
                return Err(format!(
                    "`@{text}` is not a pixel of the strip; write @start, @end or @0 to @{last}"
                ))
            }
        },
    };
    match (name, at.is_some()) {
        ("plus", _) => Ok(Pin::RailPlus(pixel)),
        ("minus", _) => Ok(Pin::RailMinus(pixel)),
        ("data-in", false) => Ok(Pin::DataIn),
        ("data-out", false) => Ok(Pin::DataOut),
        ("clock-in", false) => Ok(Pin::ClockIn),
        ("clock-out", false) => Ok(Pin::ClockOut),
        ("data-in" | "data-out" | "clock-in" | "clock-out", true) => {
            Err(format!("{name} has no place along the strip"))
        }
        ("", _) => Err("it needs a terminal name after a dot".to_owned()),
        _ => Err(format!("there is no \"{name}\"")),
    }
}
