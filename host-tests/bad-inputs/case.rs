//! One broken input, as a table describes it.

use serde::Deserialize;
use std::fs;
use std::path::Path;

/// A table: what its cases have in common, and the cases.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Area {
    /// The file that is broken, within the lamp's folder.
    #[serde(default = "build_file")]
    file: String,
    /// How the program is called.
    #[serde(default = "check")]
    args: Vec<String>,
    /// The cases.
    #[serde(rename = "case")]
    pub(crate) cases: Vec<Case>,
}

fn build_file() -> String {
    "build.toml".to_owned()
}

fn check() -> Vec<String> {
    ["check", "lamp"].map(str::to_owned).to_vec()
}

/// Text that is appended again and again.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Repeat {
    text: String,
    times: usize,
}

/// One case: one of the ways to break a file, or none of them where only the arguments are wrong.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(crate) struct Case {
    /// What is broken.
    pub(crate) name: String,
    file: Option<String>,
    args: Option<Vec<String>>,
    /// The whole file.
    text: Option<String>,
    /// The whole file in hexadecimal.
    bytes: Option<String>,
    /// The first place where this stands …
    find: Option<String>,
    /// … is given this.
    put: Option<String>,
    repeat: Option<Repeat>,
    /// So many nested lists.
    nest: Option<usize>,
    /// A value of so many letters.
    long_line: Option<usize>,
    /// A recording of the lamp's 24 pixels whose second row begins with this level.
    row: Option<String>,
}

impl Area {
    /// Reads a table.
    pub(crate) fn read(text: &str) -> Self {
        toml::from_str(text).unwrap()
    }
}

impl Case {
    /// How the program is called.
    pub(crate) fn args(&self, area: &Area) -> Vec<String> {
        self.args.clone().unwrap_or_else(|| area.args.clone())
    }

    /// Breaks the lamp's file.
    pub(crate) fn break_it(&self, area: &Area, lamp: &Path) {
        let path = lamp.join(self.file.as_ref().unwrap_or(&area.file));
        if let Some(bytes) = self.whole() {
            fs::write(path, bytes).unwrap();
        } else if let (Some(find), Some(put)) = (&self.find, &self.put) {
            let text = fs::read_to_string(&path).unwrap();
            assert!(
                text.contains(find),
                "{}: {find:?} stands in the file",
                self.name
            );
            fs::write(path, text.replacen(find, put, 1)).unwrap();
        } else if let Some(repeat) = &self.repeat {
            let text = fs::read_to_string(&path).unwrap();
            fs::write(path, text + &repeat.text.repeat(repeat.times)).unwrap();
        }
    }

    fn whole(&self) -> Option<Vec<u8>> {
        let from_hex = |hex: &String| {
            let pairs = hex.as_bytes().chunks(2);
            let byte = |p: &[u8]| u8::from_str_radix(std::str::from_utf8(p).unwrap(), 16).unwrap();
            pairs.map(byte).collect()
        };
        let text = |t: &String| t.clone().into_bytes();
        self.text
            .as_ref()
            .map(text)
            .or_else(|| self.bytes.as_ref().map(from_hex))
            .or_else(|| {
                let depth = self.nest?;
                Some(format!("x = {}{}\n", "[".repeat(depth), "]".repeat(depth)).into_bytes())
            })
            .or_else(|| {
                let value = "x".repeat(self.long_line?);
                Some(format!("[prop]\nname = \"x\"\ncolour = \"{value}\"\n").into_bytes())
            })
            .or_else(|| Some(recording(self.row.as_ref()?).into_bytes()))
    }
}

fn recording(level: &str) -> String {
    let heading: Vec<String> = (0..24).map(|p| format!("r{p},g{p},b{p}")).collect();
    let rest = "0,".repeat(24 * 3 - 2) + "0";
    format!("{}\n0,{rest}\n{level},{rest}\n", heading.join(","))
}
