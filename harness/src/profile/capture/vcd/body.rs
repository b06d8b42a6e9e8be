//! The value changes of a dump.

use super::header::{self, Timescale, Variable};
use super::select::{find, Slot, Slots, Tap};
use super::text::Text;
use super::value::{bit, level};
use super::{Change, Level};
use crate::build::diag::{near_miss, InputError, InputErrors};
use std::fs::File;
use std::io::Read;
use std::ops::Range;
use std::path::Path;

/// Bytes that a plain time or change takes at most; with less at hand more is read first.
const PLAIN: usize = 64;
/// Digits of a time that cannot overflow.
const SAFE_DIGITS: usize = 19;
/// Keywords among the value changes.
const KEYWORDS: [&str; 6] = [
    "$dumpvars",
    "$dumpall",
    "$dumpon",
    "$dumpoff",
    "$comment",
    "$end",
];

/// Reads the changes of selected lines, in the order of the file.
pub struct VcdReader {
    name: String,
    text: Text,
    timescale: Timescale,
    variables: Vec<Variable>,
    slots: Slots,
    taps: Vec<Tap>,
    /// What is on each line.
    levels: Vec<Option<Level>>,
    time: u64,
    start: Option<u64>,
    /// Changes of one value of several bits that are still to be handed over, the last one first.
    waiting: Vec<Change>,
}

impl std::fmt::Debug for VcdReader {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("VcdReader")
            .field("name", &self.name)
            .field("timescale", &self.timescale)
            .field("time", &self.time)
            .finish_non_exhaustive()
    }
}

/// What a look at the bytes at hand found.
enum Found {
    Change(Change),
    /// More bytes, or a closer look, are needed.
    Nothing,
}

impl VcdReader {
    /// Opens a file, `-` for the standard input, and reads its head.
    ///
    /// # Errors
    /// It cannot be read, or its head is not that of a value change dump.
    pub fn open(path: &Path) -> Result<Self, InputErrors> {
        if path.as_os_str() == "-" {
            return Self::new("standard input", Box::new(std::io::stdin()));
        }
        let name = path.display().to_string();
        let file = match File::open(path) {
            Ok(file) if !path.is_dir() => file,
            Ok(_) => {
                let error = InputError::whole(format!("{name} is a folder, not a capture"));
                return Err(error.help("name a value change dump (.vcd)").into());
            }
            Err(e) => {
                let error = InputError::whole(format!("{name} cannot be read: {e}"));
                return Err(error.help("check the path and its permissions").into());
            }
        };
        Self::new(&name, Box::new(file))
    }

    /// Reads a dump from anywhere; `name` stands for it in messages. Nothing is selected yet.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn new(name: &str, input: Box<dyn Read>) -> Result<Self, InputErrors> {
        let mut text = Text::new(name, input);
        let head = header::read(&mut text)?;
        let slots = Slots::new(&head.variables, &[]);
        Ok(Self {
            name: name.to_owned(),
            text,
            timescale: head.timescale,
            variables: head.variables,
            slots,
            taps: Vec::new(),
            levels: Vec::new(),
            time: 0,
            start: None,
            waiting: Vec::new(),
        })
    }

    /// The file's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// How long a step of time is.
    pub fn timescale(&self) -> Timescale {
        self.timescale
    }

    /// Every variable that the head declares.
    pub fn variables(&self) -> &[Variable] {
        &self.variables
    }

    /// The time reached, in steps; at the end the last time of the file.
    pub fn time(&self) -> u64 {
        self.time
    }

    /// The first time of the file, in steps; 0 until it is read.
    pub fn start(&self) -> u64 {
        self.start.unwrap_or(0)
    }

    /// Bytes read so far.
    pub fn bytes(&self) -> u64 {
        self.text.bytes()
    }

    /// Listens to signals: by name, by name with scopes (`board.data`), or a bit of a wider one
    /// (`bus[3]`). Gives the number of the line each is on; two names of one line give one number.
    ///
    /// # Errors
    /// No such signal, several of that name, or one that is not digital.
    pub fn select(&mut self, signals: &[&str]) -> Result<Vec<usize>, InputErrors> {
        let mut lines = Vec::new();
        for signal in signals {
            let tap = find(&self.name, &self.variables, signal)?;
            let known = self.taps.iter().position(|t| *t == tap);
            lines.push(known.unwrap_or(self.taps.len()));
            if known.is_none() {
                self.taps.push(tap);
            }
        }
        self.slots = Slots::new(&self.variables, &self.taps);
        self.levels.resize(self.taps.len(), None);
        Ok(lines)
    }

    /// The next change of a selected line; `None` at the end. A value that says again what is there
    /// is passed over.
    ///
    /// # Errors
    /// What is not a value change dump, with its place.
    #[inline]
    pub fn next_change(&mut self) -> Result<Option<Change>, InputErrors> {
        if let Some(change) = self.waiting.pop() {
            return Ok(Some(change));
        }
        loop {
            if self.text.rest().len() < PLAIN && !self.text.over {
                self.text.refill()?;
                if self.text.rest().len() < PLAIN && !self.text.over {
                    continue;
                }
            }
            if let Found::Change(change) = self.plain() {
                return Ok(Some(change));
            }
            if self.text.rest().len() < PLAIN && !self.text.over {
                continue;
            }
            match self.careful()? {
                None => return Ok(None),
                Some(Found::Change(change)) => return Ok(Some(change)),
                Some(Found::Nothing) => {}
            }
        }
    }

    /// Goes through plain times and changes of one bit until a selected line changes.
    #[inline]
    fn plain(&mut self) -> Found {
        let bytes = self.text.rest();
        let mut at = 0;
        let mut time = self.time;
        let mut found = Found::Nothing;
        // With fewer bytes a word might be cut off at the end of what is at hand.
        while let Some(word) = bytes.get(at..).filter(|w| w.len() >= PLAIN) {
            match word {
                [b' ' | b'\n' | b'\r' | b'\t', ..] => at += 1,
                [b'#', digits @ ..] => {
                    let Some((value, count)) = number(digits) else {
                        break;
                    };
                    if value < time {
                        break;
                    }
                    time = value;
                    self.start.get_or_insert(value);
                    at += 1 + count;
                }
                [value @ (b'0' | b'1'), id, after, ..] if *after <= b' ' && *id > b' ' => {
                    match self.slots.short_slot(*id) {
                        Slot::Ignored => {}
                        Slot::Line(line) => {
                            let now = if *value == b'1' {
                                Level::High
                            } else {
                                Level::Low
                            };
                            let line = usize::from(line);
                            let Some(level) = self.levels.get_mut(line) else {
                                break;
                            };
                            if *level != Some(now) {
                                *level = Some(now);
                                at += 2;
                                found = Found::Change(Change {
                                    time,
                                    line,
                                    level: now,
                                });
                                break;
                            }
                        }
                        Slot::Undeclared | Slot::Wide(_) => break,
                    }
                    at += 2;
                }
                _ => break,
            }
        }
        self.time = time;
        self.text.at += at;
        found
    }

    /// Reads the next word whatever it is; `None` at the end.
    fn careful(&mut self) -> Result<Option<Found>, InputErrors> {
        let Some(word) = self.text.word()? else {
            return Ok(None);
        };
        let first = self.text.get(&word).first().copied().unwrap_or_default();
        match first {
            b'#' => self.at_time(word).map(|()| Some(Found::Nothing)),
            b'$' => self.keyword(word).map(|()| Some(Found::Nothing)),
            b'b' | b'B' => self.vector(word).map(Some),
            b'r' | b'R' | b's' | b'S' => self.number_value(word).map(|()| Some(Found::Nothing)),
            b'p' => Err(self.text.fault(
                word,
                "a port value: this is an extended dump",
                "not read",
                "export the capture as a four-state dump ($dumpvars, not $dumpports)",
            )),
            _ => self.scalar(word).map(Some),
        }
    }

    fn at_time(&mut self, word: Range<usize>) -> Result<(), InputErrors> {
        let shown = self.text.show(&word);
        let digits = shown.get(1..).unwrap_or_default();
        let time = digits.parse::<u64>().ok();
        let plain = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
        let cut = if self.text.last(&word) {
            "; the file ends here and may be cut off"
        } else {
            ""
        };
        let Some(time) = time.filter(|_| plain) else {
            let (label, help) = if plain {
                ("too large", "times go up to 18446744073709551615 steps")
            } else {
                (
                    "not a whole number",
                    "write # and a whole number of steps, such as #1250",
                )
            };
            let message = format!("\"{shown}\" is not a time{cut}");
            return Err(self.text.fault(word, message, label, help));
        };
        if time < self.time {
            let message = format!("time {time} comes after time {}{cut}", self.time);
            return Err(self.text.fault(
                word,
                message,
                "goes back",
                "times must not fall; sort the changes by their time",
            ));
        }
        self.time = time;
        self.start.get_or_insert(time);
        Ok(())
    }

    fn keyword(&mut self, word: Range<usize>) -> Result<(), InputErrors> {
        let shown = self.text.show(&word);
        match shown.as_str() {
            "$dumpvars" | "$dumpall" | "$dumpon" | "$dumpoff" | "$end" => Ok(()),
            "$comment" => {
                while let Some(word) = self.text.word()? {
                    if self.text.get(&word) == b"$end" {
                        return Ok(());
                    }
                }
                Err(self.text.ends("$comment has no $end", "close it with $end"))
            }
            _ => {
                let help = match near_miss(&shown, KEYWORDS) {
                    Some(near) => format!("did you mean {near}?"),
                    None => format!("among value changes there may be {}", KEYWORDS.join(", ")),
                };
                let message = format!("\"{shown}\" is no keyword among value changes");
                Err(self.text.fault(word, message, "unknown keyword", help))
            }
        }
    }

    /// A change of one bit: value and identifier without a space.
    fn scalar(&mut self, word: Range<usize>) -> Result<Found, InputErrors> {
        let bytes = self.text.get(&word);
        let value = bytes.first().copied().and_then(level);
        let Some(value) = value else {
            let message = format!("\"{}\" is no value change", self.text.show(&word));
            return Err(self.text.fault(
                word,
                message,
                "expected 0, 1, x or z, then an identifier",
                "write changes such as 1! or b0101 \"; times such as #1250",
            ));
        };
        let id = bytes.get(1..).unwrap_or_default().to_vec();
        if id.is_empty() {
            let message = format!("value \"{}\" has no identifier", self.text.show(&word));
            return Err(self.text.fault(
                word,
                message,
                "nothing after the value",
                "write value and identifier without a space, such as 1!",
            ));
        }
        let slot = self.slots.get(&id);
        self.set(slot, word, &id, |at| match at {
            0 => Some(value),
            _ if value == Level::Unknown => Some(value),
            _ => Some(Level::Low),
        })
    }

    /// A value of several bits, then its identifier.
    fn vector(&mut self, word: Range<usize>) -> Result<Found, InputErrors> {
        let digits = self.text.get(&word).get(1..).unwrap_or_default().to_vec();
        let sound = !digits.is_empty() && digits.iter().all(|d| level(*d).is_some());
        if !sound {
            let message = format!("\"{}\" is no value", self.text.show(&word));
            return Err(self.text.fault(
                word,
                message,
                "expected b and digits 0, 1, x, z",
                "write values of several bits such as b0101 !",
            ));
        }
        let (id, word) = self.identifier("the value")?;
        let slot = self.slots.get(&id);
        self.set(slot, word, &id, |at| bit(&digits, at))
    }

    /// A number, then its identifier: nobody can listen to it.
    fn number_value(&mut self, word: Range<usize>) -> Result<(), InputErrors> {
        let shown = self.text.show(&word);
        let number = shown.get(1..).unwrap_or_default();
        if shown.starts_with(['r', 'R']) && number.parse::<f64>().is_err() {
            let message = format!("\"{shown}\" is no number");
            let help = "write r and a decimal number, such as r1.25 !";
            return Err(self.text.fault(word, message, "not a number", help));
        }
        let (id, word) = self.identifier("the number")?;
        let slot = self.slots.get(&id);
        self.set(slot, word, &id, |_| None).map(|_| ())
    }

    fn identifier(&mut self, what: &str) -> Result<(Vec<u8>, Range<usize>), InputErrors> {
        match self.text.word()? {
            Some(word) => Ok((self.text.get(&word).to_vec(), word)),
            None => Err(self.text.ends(
                format!("{what} has no identifier"),
                "an identifier must follow; is the file cut off?",
            )),
        }
    }

    /// Takes a value to whoever listens.
    fn set(
        &mut self,
        slot: Slot,
        word: Range<usize>,
        id: &[u8],
        value: impl Fn(u32) -> Option<Level>,
    ) -> Result<Found, InputErrors> {
        match slot {
            Slot::Undeclared => {
                let id = String::from_utf8_lossy(id).into_owned();
                let cut = if self.text.last(&word) {
                    "; the file ends here and may be cut off"
                } else {
                    ""
                };
                let message = format!("no $var declares the identifier \"{id}\"{cut}");
                Err(self.text.fault(
                    word,
                    message,
                    "not declared",
                    format!("declare it in the head: $var wire 1 {id} name $end"),
                ))
            }
            Slot::Ignored => Ok(Found::Nothing),
            Slot::Line(line) => Ok(self.changed(usize::from(line), value(0))),
            Slot::Wide(wide) => {
                let bits = self.slots.wide.get(usize::from(wide)).cloned();
                for (at, line) in bits.unwrap_or_default() {
                    if let Found::Change(change) = self.changed(line, value(at)) {
                        self.waiting.push(change);
                    }
                }
                self.waiting.reverse();
                Ok(self.waiting.pop().map_or(Found::Nothing, Found::Change))
            }
        }
    }

    fn changed(&mut self, line: usize, now: Option<Level>) -> Found {
        let now = now.unwrap_or(Level::Unknown);
        match self.levels.get_mut(line) {
            Some(level) if *level != Some(now) => {
                *level = Some(now);
                Found::Change(Change {
                    time: self.time,
                    line,
                    level: now,
                })
            }
            _ => Found::Nothing,
        }
    }
}

/// A whole number that a space follows, and its digits; `None` where a closer look is needed.
#[inline]
fn number(bytes: &[u8]) -> Option<(u64, usize)> {
    let mut value: u64 = 0;
    for (count, byte) in bytes.iter().enumerate().take(SAFE_DIGITS + 1) {
        match byte {
            b'0'..=b'9' if count < SAFE_DIGITS => value = value * 10 + u64::from(byte - b'0'),
            0..=b' ' if count > 0 => return Some((value, count)),
            _ => return None,
        }
    }
    None
}
