//! The page as a report carries it: its own scripts as one, with the engine in the place of the server.

use super::describe::describe;
use super::engine::Texts;
use super::reading::Shown;
use crate::report::html::{Data, TryOut};
use base64::Engine as _;
use serde_json::{json, Value};
use std::fmt::Write as _;

/// Model and solver as WebAssembly, compressed; `harness/wasm/build.sh` makes it.
const ENGINE: &[u8] = include_bytes!("page/engine.wasm.gz");

/// The modules, each after those that it imports. `engine` answers to the name of the server.
const MODULES: [(&str, &str); 11] = [
    ("sheet", include_str!("page/sheet.js")),
    ("server", include_str!("page/engine.js")),
    ("place", include_str!("page/place.js")),
    ("light", include_str!("page/light.js")),
    ("charts", include_str!("page/charts.js")),
    ("wish", include_str!("page/wish.js")),
    ("live", include_str!("page/live.js")),
    ("readout", include_str!("page/readout.js")),
    ("margins", include_str!("page/margins.js")),
    ("words", include_str!("page/words.js")),
    ("app", include_str!("page/app.js")),
];

const PAGE: &str = include_str!("page/index.html");
const STYLE: &str = include_str!("page/page.css");
/// Puts the page into its place, where the engine can run.
const BEGIN: &str = include_str!("page/begin.js");

/// The page for a prop, with the texts that its engine reads.
pub fn carried(shown: &Shown, texts: &Texts) -> TryOut {
    let mut prop = describe(shown);
    if let Some(prop) = prop.as_object_mut() {
        prop.insert("variants".into(), json!([]));
        prop.insert("generation".into(), json!(1));
        prop.insert("faults".into(), json!([]));
    }
    let data = |id, kind, text| Data { id, kind, text };
    let engine = base64::engine::general_purpose::STANDARD.encode(ENGINE);
    TryOut {
        markup: format!(
            "<style>{}</style><div class=\"page\">{}</div>",
            STYLE.replace(":root", ":host"),
            body(PAGE)
        ),
        data: vec![
            data("try-prop", "application/json", embedded(&prop)),
            data("try-texts", "application/json", embedded(&json!(texts))),
            data("try-engine", "application/octet-stream", engine),
        ],
        script: BEGIN.replace("/* modules */", &bundle(&MODULES)),
    }
}

/// JSON that no element of a page can end.
fn embedded(value: &Value) -> String {
    value.to_string().replace('<', "\\u003c")
}

/// What stands in the body, without the element that may be in a page but once.
fn body(page: &str) -> String {
    let from = page.find("<body>").map_or(0, |at| at + "<body>".len());
    let to = page.find("</body>").unwrap_or(page.len());
    let inner = page.get(from..to).unwrap_or_default();
    inner
        .replace("<main ", "<div ")
        .replace("</main>", "</div>")
}

/// Modules as functions that give what they export.
fn bundle(modules: &[(&str, &str)]) -> String {
    let mut out = String::new();
    for (name, text) in modules {
        let _ = writeln!(out, "const from_{name} = (() => {{");
        let mut exported: Vec<&str> = Vec::new();
        for line in text.lines() {
            if let Some((names, from)) = imported(line) {
                let _ = writeln!(out, "const {{ {names} }} = from_{from};");
            } else if let Some(names) = line.strip_prefix("export { ") {
                exported.push(names.trim_end_matches(" };"));
            } else if let Some(rest) = line.strip_prefix("export ") {
                exported.extend(declared(rest));
                let _ = writeln!(out, "{rest}");
            } else {
                let _ = writeln!(out, "{line}");
            }
        }
        let _ = writeln!(out, "return {{ {} }};\n}})();", exported.join(", "));
    }
    out
}

/// The names and the module of an import.
fn imported(line: &str) -> Option<(&str, &str)> {
    let (names, from) = line.strip_prefix("import { ")?.split_once(" } from './")?;
    Some((names, from.strip_suffix(".js';")?))
}

/// The name that a declaration gives.
fn declared(declaration: &str) -> Option<&str> {
    let words = ["async function ", "function ", "class ", "const "];
    let rest = words.iter().find_map(|w| declaration.strip_prefix(w))?;
    rest.split(|c: char| !c.is_alphanumeric() && c != '_')
        .next()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn modules_become_functions_that_give_what_they_export() {
        let one =
            "export const A = 1;\nconst hidden = 2;\nexport function f() {}\nexport { hidden };";
        let two =
            "import { A, f } from './one.js';\nexport class B {}\nexport async function g() {}";
        let expected = "const from_one = (() => {\nconst A = 1;\nconst hidden = 2;\nfunction f() {}\n\
                        return { A, f, hidden };\n})();\n\
                        const from_two = (() => {\nconst { A, f } = from_one;\nclass B {}\nasync function g() {}\n\
                        return { B, g };\n})();\n";
        assert_eq!(bundle(&[("one", one), ("two", two)]), expected);
    }

    #[test]
    fn every_module_imports_from_those_before_it_and_nothing_of_the_form_is_left() {
        let mut before: Vec<&str> = Vec::new();
        for (name, text) in MODULES {
            for line in text.lines().filter(|l| l.starts_with("import")) {
                let (_, from) = imported(line).unwrap_or_default();
                assert!(before.contains(&from), "{name}: {line}");
            }
            before.push(name);
        }
        let whole = bundle(&MODULES);
        for line in whole.lines() {
            assert!(
                !line.starts_with("import") && !line.starts_with("export"),
                "{line}"
            );
        }
        assert!(!whole.contains("</script"));
    }

    #[test]
    fn no_text_of_a_prop_ends_the_element_it_stands_in() {
        let text = embedded(&json!("</script><script>"));
        assert!(!text.contains('<'), "{text}");
        let back: Value = serde_json::from_str(&text).unwrap_or_default();
        assert_eq!(back, json!("</script><script>"));
    }
}
