//! The declarations at the head of a dump.

use super::text::Text;
use crate::build::diag::{near_miss, InputErrors};
use std::ops::Range;

/// Most variables that are kept.
const MOST_VARIABLES: usize = 1 << 20;
/// The keywords of the head.
const KEYWORDS: [&str; 8] = [
    "$comment",
    "$date",
    "$version",
    "$timescale",
    "$scope",
    "$upscope",
    "$var",
    "$enddefinitions",
];
/// Units of a time scale and what they are in femtoseconds.
const UNITS: [(&str, u64); 6] = [
    ("s", 1_000_000_000_000_000),
    ("ms", 1_000_000_000_000),
    ("us", 1_000_000_000),
    ("ns", 1_000_000),
    ("ps", 1_000),
    ("fs", 1),
];
const SCALE_HELP: &str = "write 1, 10 or 100 and s, ms, us, ns, ps or fs: $timescale 1 ns $end";
const VAR_HELP: &str = "write type, width, identifier and name: $var wire 1 ! data $end";

/// How long one step of time is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timescale {
    /// Femtoseconds a step.
    pub step_fs: u64,
}

impl Timescale {
    /// A number of steps in femtoseconds; exact.
    pub fn fs(self, steps: u64) -> u128 {
        u128::from(steps) * u128::from(self.step_fs)
    }

    /// A number of steps in seconds.
    pub fn seconds(self, steps: u64) -> f64 {
        self.fs(steps) as f64 / 1e15
    }

    /// A number of steps in nanoseconds.
    pub fn nanoseconds(self, steps: u64) -> f64 {
        self.fs(steps) as f64 / 1e6
    }

    /// The fewest whole steps that last at least so long.
    pub fn steps_up(self, fs: u128) -> u64 {
        u64::try_from(fs.div_ceil(u128::from(self.step_fs.max(1)))).unwrap_or(u64::MAX)
    }

    /// The most whole steps that last at most so long.
    pub fn steps_down(self, fs: u128) -> u64 {
        u64::try_from(fs / u128::from(self.step_fs.max(1))).unwrap_or(u64::MAX)
    }

    /// The step in words: `10 ns`.
    pub fn words(self) -> String {
        let unit = UNITS.iter().find(|(_, fs)| self.step_fs >= *fs);
        let (name, fs) = unit.copied().unwrap_or(("fs", 1));
        format!("{} {name}", self.step_fs / fs)
    }
}

/// A variable of the dump.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Variable {
    /// Names of the scopes it lies in, outermost first.
    pub scope: Vec<String>,
    /// Its name, with an index of its own such as `data[3]`.
    pub name: String,
    /// The identifier that its values carry.
    pub(super) id: Vec<u8>,
    /// Bits.
    pub width: u32,
    /// Index of its first and of its last bit, where it has several.
    pub range: Option<(i64, i64)>,
    /// Whether its values are numbers or words in place of bits.
    pub not_digital: bool,
}

impl Variable {
    /// The name with its scopes: `board.data`.
    pub fn path(&self) -> String {
        let mut parts = self.scope.clone();
        parts.push(self.name.clone());
        parts.join(".")
    }
}

/// What the head says.
pub(super) struct Header {
    pub(super) timescale: Timescale,
    pub(super) variables: Vec<Variable>,
}

/// Reads up to and with `$enddefinitions $end`.
pub(super) fn read(text: &mut Text) -> Result<Header, InputErrors> {
    let mut timescale = None;
    let mut scope = Vec::new();
    let mut variables: Vec<Variable> = Vec::new();
    let mut first = true;
    loop {
        let Some(word) = text.word()? else {
            return Err(if first {
                text.whole("there is nothing in it", "give a value change dump (VCD)")
            } else {
                text.ends(
                    "the head does not end",
                    "it must end with $enddefinitions $end, and value changes follow; is the file cut off?",
                )
            });
        };
        let keyword = text.show(&word);
        if first && !keyword.starts_with('$') {
            return Err(text.fault(
                word,
                "this is no value change dump (VCD): it must start with a keyword",
                "expected $date, $version, $comment, $timescale, ...",
                "export the capture as VCD (IEEE 1364)",
            ));
        }
        first = false;
        match keyword.as_str() {
            "$comment" | "$date" | "$version" => skip(text, &keyword)?,
            "$timescale" => {
                let scale = scale(text)?;
                if timescale.is_some_and(|t| t != scale) {
                    return Err(text.fault(
                        word_before(text),
                        "a second, different $timescale",
                        "ends here",
                        "keep one of them: times cannot have two scales",
                    ));
                }
                timescale = Some(scale);
            }
            "$scope" => {
                let words = words(text, &keyword)?;
                scope.push(words.last().map(|(w, _)| w.clone()).unwrap_or_default());
            }
            "$upscope" => {
                words(text, &keyword)?;
                if scope.pop().is_none() {
                    return Err(text.fault(
                        word_before(text),
                        "$upscope without a $scope to leave",
                        "no scope is open",
                        "take it out, or add the $scope before it",
                    ));
                }
            }
            "$var" => {
                let variable = variable(text, &scope)?;
                if variables.len() >= MOST_VARIABLES {
                    return Err(text.whole("more than a million variables", "export fewer signals"));
                }
                variables.push(variable);
            }
            "$enddefinitions" => {
                words(text, &keyword)?;
                break;
            }
            _ => return Err(unknown(text, word, &keyword)),
        }
    }
    let Some(timescale) = timescale else {
        return Err(text.whole("the head has no $timescale", SCALE_HELP));
    };
    if variables.is_empty() {
        return Err(text.whole("the head declares no variable", VAR_HELP));
    }
    Ok(Header {
        timescale,
        variables,
    })
}

fn unknown(text: &mut Text, word: Range<usize>, keyword: &str) -> InputErrors {
    if keyword.starts_with('$') {
        let help = match near_miss(keyword, KEYWORDS) {
            Some(near) => format!("did you mean {near}?"),
            None => format!("the head knows {}", KEYWORDS.join(", ")),
        };
        let message = format!("\"{keyword}\" is no keyword of a head");
        return text.fault(word, message, "unknown keyword", help);
    }
    text.fault(
        word,
        format!("\"{keyword}\" stands in the head, outside of any declaration"),
        "expected a keyword",
        "a head is made of $keyword ... $end and ends with $enddefinitions $end; value changes come after it",
    )
}

/// Where the last word read ends.
fn word_before(text: &Text) -> Range<usize> {
    text.at.saturating_sub(4)..text.at
}

/// Reads over everything up to `$end`.
fn skip(text: &mut Text, keyword: &str) -> Result<(), InputErrors> {
    while let Some(word) = text.word()? {
        if text.get(&word) == b"$end" {
            return Ok(());
        }
    }
    Err(open_end(text, keyword))
}

fn open_end(text: &mut Text, keyword: &str) -> InputErrors {
    text.ends(
        format!("{keyword} has no $end"),
        "close every declaration with $end",
    )
}

/// The words of a declaration, each with its place in the whole text.
fn words(text: &mut Text, keyword: &str) -> Result<Vec<(String, Range<u64>)>, InputErrors> {
    let mut out = Vec::new();
    while let Some(word) = text.word()? {
        let shown = text.show(&word);
        if shown == "$end" {
            return Ok(out);
        }
        if KEYWORDS.contains(&shown.as_str()) {
            return Err(text.fault(
                word,
                format!("{keyword} has no $end before {shown}"),
                "expected $end",
                "close every declaration with $end",
            ));
        }
        if out.len() < 64 {
            let place = text.whole_place(&word);
            out.push((shown, place));
        }
    }
    Err(open_end(text, keyword))
}

fn scale(text: &mut Text) -> Result<Timescale, InputErrors> {
    let words = words(text, "$timescale")?;
    let joined: String = words.iter().map(|(w, _)| w.as_str()).collect();
    let digits = joined.chars().take_while(char::is_ascii_digit).count();
    let (number, unit) = joined.split_at(digits);
    let number = number.parse::<u64>().ok();
    let known = UNITS.iter().find(|(name, _)| *name == unit);
    match (number, known) {
        (Some(n @ (1 | 10 | 100)), Some((_, fs))) => Ok(Timescale { step_fs: n * fs }),
        _ => {
            let (start, end) = (words.first(), words.last());
            let span = match (start, end) {
                (Some((_, a)), Some((_, b))) => a.start..b.end,
                _ => text.whole_place(&word_before(text)),
            };
            let wrong = match (known, number) {
                (None, _) => format!("\"{unit}\" is no unit of a time scale"),
                (_, Some(n)) => format!("a time scale of {n} {unit}"),
                (_, None) => "a time scale without a number".to_owned(),
            };
            Err(text.fault_at(span, wrong, "not a time scale", SCALE_HELP))
        }
    }
}

fn variable(text: &mut Text, scope: &[String]) -> Result<Variable, InputErrors> {
    let words = words(text, "$var")?;
    let [(kind, _), (width, width_at), (id, _), (name, _), more @ ..] = words.as_slice() else {
        let span = match (words.first(), words.last()) {
            (Some((_, a)), Some((_, b))) => a.start..b.end,
            _ => text.whole_place(&word_before(text)),
        };
        let message = format!("a $var of {} words, but it needs at least 4", words.len());
        return Err(text.fault_at(span, message, "too short", VAR_HELP));
    };
    let Some(bits) = width
        .parse::<u32>()
        .ok()
        .filter(|w| (1..=1 << 20).contains(w))
    else {
        let message = format!("the width of \"{name}\" is \"{width}\"");
        let label = "not a number of bits";
        return Err(text.fault_at(width_at.clone(), message, label, VAR_HELP));
    };
    let index: String = more.iter().map(|(w, _)| w.as_str()).collect();
    let not_digital = matches!(kind.as_str(), "real" | "realtime" | "event" | "string");
    let (name, range) = named(name, &index, bits);
    Ok(Variable {
        scope: scope.to_vec(),
        name,
        id: id.as_bytes().to_vec(),
        width: bits,
        range,
        not_digital,
    })
}

/// Name and range of bits: the index may be a word of its own or stand right after the name.
fn named(name: &str, index: &str, width: u32) -> (String, Option<(i64, i64)>) {
    let (base, index) = match name.find('[').filter(|at| *at > 0 && index.is_empty()) {
        Some(at) => name.split_at(at),
        None => (name, index),
    };
    if width == 1 {
        return (format!("{base}{index}"), None);
    }
    let inner = index.trim_start_matches('[').trim_end_matches(']');
    let range = inner
        .split_once(':')
        .and_then(|(a, b)| Some((a.trim().parse().ok()?, b.trim().parse().ok()?)));
    (
        base.to_owned(),
        Some(range.unwrap_or((i64::from(width) - 1, 0))),
    )
}
