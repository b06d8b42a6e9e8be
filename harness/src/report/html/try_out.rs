//! The part of the page that computes anew: the light, currents and margins at another setting.

use super::markup::{e, section};
use std::fmt::Write as _;

/// Something that a script reads from the page.
#[derive(Debug)]
pub struct Data {
    /// Its id.
    pub id: &'static str,
    /// Its media type; not one that a browser would run.
    pub kind: &'static str,
    /// What it says; must not hold the end of its element.
    pub text: String,
}

/// What can be tried out.
#[derive(Debug)]
pub struct TryOut {
    /// Style and elements, apart from the rest of the page.
    pub markup: String,
    /// What the script reads.
    pub data: Vec<Data>,
    /// The script.
    pub script: String,
}

pub(super) fn write(out: &mut String, try_out: &TryOut) {
    section(
        out,
        "try",
        "Try it out: another cap, charge, temperature",
        |out| {
            out.push_str("<p class=\"note\" id=\"try-note\">Computed in this browser by the code that made this report, from the inputs at its end; nothing is sent anywhere. Nothing plays by itself.</p>\n");
            out.push_str("<noscript><p>This part needs scripts. The films below need them too; verdicts, plots and lists do not.</p></noscript>\n");
            let _ = writeln!(
                out,
                "<div id=\"try-page\"></div>\n<template id=\"try-template\">{}</template>",
                try_out.markup
            );
            for data in &try_out.data {
                let _ = writeln!(
                    out,
                    "<script type=\"{}\" id=\"{}\">{}</script>",
                    e(data.kind),
                    e(data.id),
                    data.text
                );
            }
        },
    );
}
