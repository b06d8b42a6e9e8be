//! What the page was made from, so that anyone can make it again.

use super::markup::{e, section};
use std::fmt::Write as _;

/// A file that went in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InputText {
    /// Its name within the prop's folder.
    pub name: String,
    /// What it says.
    pub text: String,
}

pub(super) fn write(out: &mut String, inputs: &[InputText], command: &str) {
    section(out, "inputs", "Inputs, to make this again", |out| {
        let _ = writeln!(
            out,
            "<p>Lampwright {}. Put the files below into a folder and run</p>\n<pre class=\"command\" tabindex=\"0\">{}</pre>",
            env!("CARGO_PKG_VERSION"),
            e(command)
        );
        for input in inputs {
            let lines: Vec<String> = input.text.lines().map(e).collect();
            let _ = writeln!(
                out,
                "<details><summary>{} <span class=\"note\">{} lines</span></summary><pre tabindex=\"0\">{}</pre></details>",
                e(&input.name),
                lines.len(),
                lines.join("\n")
            );
        }
    });
}
