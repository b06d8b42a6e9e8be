//! A check as one page that needs nothing but itself: it opens from disk, prints, and asks for nothing outside.
//!
//! Its content security policy lets its own scripts run, by their hashes, and lets nothing be fetched.

mod inputs;
mod markup;
mod players;
mod try_out;
mod verdicts;
mod workshop;

pub use inputs::InputText;
pub use players::{flash_words, Played};
pub use try_out::{Data, TryOut};

use super::cautions::CAUTIONS;
use super::text::CheckReport;
use crate::study::bench_sheet::BenchSheet;
use crate::study::workshop::cut_list::CutList;
use crate::study::workshop::joints::JointPlan;
use base64::Engine as _;
use markup::{e, section};
use sha2::{Digest as _, Sha256};
use std::fmt::Write as _;

const STYLE: &str = include_str!("page.css");
const SCRIPT: &str = include_str!("page.js");

/// A script as a policy names it.
fn hash_of(script: &str) -> String {
    let hash = base64::engine::general_purpose::STANDARD.encode(Sha256::digest(script));
    format!("'sha256-{hash}'")
}

/// Everything that the page shows.
#[derive(Debug)]
pub struct ReportPage {
    /// Verdicts and findings.
    pub report: CheckReport,
    /// What was played, each with its film and its plots.
    pub played: Vec<Played>,
    /// The wiring diagram as SVG, with what its currents are.
    pub diagram: Option<(String, String)>,
    /// The cut list.
    pub cuts: CutList,
    /// The joint plan, or why there is none.
    pub joints: Result<JointPlan, String>,
    /// The bench sheet; `None` without a cell.
    pub bench: Option<BenchSheet>,
    /// The files that it was made from.
    pub inputs: Vec<InputText>,
    /// The command that makes it again.
    pub command: String,
    /// The page that computes anew; `None` where what was played cannot be played again.
    pub try_out: Option<TryOut>,
}

/// What the model does not know, as the page says it.
const UNKNOWN: [&str; 4] = [
    "Inductance and transmission-line effects: leads are short and slow.",
    "The real behaviour of LED drivers below the supply that their data sheets describe: the fall-off of each channel is a straight line between two voltages.",
    "Whether the wires are as long as drawn. The cautious conditions take them longer by the stated tolerance.",
    "The colours of this page are the screen's own primaries, not the LED's; light beyond what a screen gives is scaled back.",
];

impl ReportPage {
    /// The page.
    pub fn to_html(&self) -> String {
        let prop = &self.report.prop;
        let mut allowed = vec![hash_of(SCRIPT)];
        allowed.extend(self.try_out.iter().map(|t| hash_of(&t.script)));
        let mut policy = format!("script-src {}", allowed.join(" "));
        if self.try_out.is_some() {
            // The engine is compiled from bytes of this page and runs in workers made of its script.
            policy.push_str(" 'wasm-unsafe-eval'; worker-src blob:");
        }
        let mut out = String::with_capacity(1 << 20);
        let _ = write!(
            out,
            "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; \
             style-src 'unsafe-inline'; {policy}; base-uri 'none'; form-action 'none'\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <meta name=\"color-scheme\" content=\"light dark\">\n<meta name=\"referrer\" content=\"no-referrer\">\n\
             <title>{} · check</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n\
             <a class=\"skip\" href=\"#verdicts\">To the verdicts</a>\n",
            e(prop)
        );
        self.head(&mut out);
        out.push_str("<main>\n");
        verdicts::write(&mut out, &self.report);
        if let Some(try_out) = &self.try_out {
            try_out::write(&mut out, try_out);
        }
        players::write(&mut out, &self.played);
        self.diagram(&mut out);
        workshop::write(&mut out, self);
        inputs::write(&mut out, &self.inputs, &self.command);
        section(&mut out, "unknown", "What this does not know", |out| {
            markup::list(out, &UNKNOWN);
        });
        out.push_str("</main>\n");
        let _ = write!(
            out,
            "<footer>Made by Lampwright {}. Nothing on this page was measured.</footer>\n\
             <script>{SCRIPT}</script>\n",
            env!("CARGO_PKG_VERSION")
        );
        if let Some(try_out) = &self.try_out {
            let _ = writeln!(out, "<script>{}</script>", try_out.script);
        }
        out.push_str("</body>\n</html>\n");
        out
    }

    fn head(&self, out: &mut String) {
        let _ = write!(
            out,
            "<header><p class=\"kind\"><span class=\"lamp\" aria-hidden=\"true\"></span>Lampwright check</p>\n\
             <h1>{}</h1>\n<p class=\"played\">{} · brightness cap {} of 255</p>\n",
            e(&self.report.prop),
            e(&self.report.played),
            self.report.cap
        );
        verdicts::summary(out, &self.report);
        out.push_str("<nav aria-label=\"Parts of this page\"><ul>");
        for (id, name) in [
            ("verdicts", "Verdicts"),
            ("try", "Try it out"),
            ("presets", "Presets"),
            ("diagram", "Wiring"),
            ("cut", "Cut list"),
            ("joints", "Joints"),
            ("bench", "Bench sheet"),
            ("inputs", "Inputs"),
        ] {
            if id != "try" || self.try_out.is_some() {
                let _ = write!(out, "<li><a href=\"#{id}\">{name}</a></li>");
            }
        }
        out.push_str("</ul></nav>\n<aside class=\"cautions\" aria-labelledby=\"cautions\"><h2 id=\"cautions\">Cautions</h2>\n");
        markup::list(out, &CAUTIONS);
        out.push_str("</aside>\n</header>\n");
    }

    fn diagram(&self, out: &mut String) {
        section(out, "diagram", "Wiring diagram", |out| {
            match &self.diagram {
                Some((svg, words)) => {
                    let _ = write!(
                    out,
                    "<figure class=\"paper\" tabindex=\"0\" aria-label=\"Wiring diagram\">{svg}</figure>\n<p class=\"note\">{}</p>\n",
                    e(words)
                );
                }
                None => out.push_str("<p>The drawing cannot be laid out.</p>\n"),
            }
        });
    }
}
