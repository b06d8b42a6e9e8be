//! What the builder sees: whole reports, as drawn on a terminal without colour. A person has read each snapshot.

use super::read;
use lampwright::build::diag::{InputError, InputErrors};
use miette::{GraphicalReportHandler, GraphicalTheme};

/// The report of one fault.
pub(super) fn draw(error: &InputError) -> String {
    let mut out = String::new();
    GraphicalReportHandler::new_themed(GraphicalTheme::unicode_nocolor())
        .with_width(100)
        .render_report(&mut out, error)
        .expect("a report can be drawn");
    out
}

fn report(text: &str) -> String {
    let InputErrors(errors) = read(text).expect_err("a bad file");
    errors.iter().map(draw).collect::<Vec<_>>().join("\n")
}

#[test]
fn several_faults_in_one_go() {
    insta::assert_snapshot!(report(
        r#"[prop]
name = "Broken lantern"

[parts.cell]
kind = "cell"
from = "21700-nmc811-5a"

[parts.master]
kind = "switch"
resistance = "20 mV"

[parts.column]
kind = "strip"
from = "strip-ws2812b-144"
pixels = "96"

[[wires]]
name = "P1"
from = "cell.plus"
to = "mast.a"
gauge = "22"
lenght = "180 mm"
"#
    ));
}

#[test]
fn text_that_is_not_toml() {
    insta::assert_snapshot!(report(
        "[prop]\nname = \"x\"\n[parts.cell\nkind = \"cell\"\n[parts.é]\nkind = splice\n"
    ));
}

#[test]
fn an_empty_file() {
    insta::assert_snapshot!(report(""));
}

#[test]
fn a_value_that_comes_from_the_catalogue_and_an_override_that_clashes_with_it() {
    insta::assert_snapshot!(report(
        "[prop]\nname = \"x\"\n[parts.s]\nkind = \"strip\"\npixel = \"own\"\npixels = 1\n\
         [pixels.own]\nfrom = \"ws2812b\"\nred = { off = \"2.4 V\" }\n"
    ));
}

#[test]
fn more_faults_than_anyone_reads_are_cut() {
    let keys: String = (0..500).map(|i| format!("k{i} = 1\n")).collect();
    let text = format!("[prop]\nname = \"x\"\n{keys}[parts.a]\nkind = \"splice\"\n");
    let InputErrors(errors) = read(&text).expect_err("a bad file");
    assert_eq!(errors.len(), 101);
    assert_eq!(errors[100].message, "400 more faults are not shown");
}
