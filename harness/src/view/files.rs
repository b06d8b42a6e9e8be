//! The page's own files. Nothing else is served.

/// Name, type and text of each; the first is the page itself.
pub(super) const FILES: [(&str, &str, &str); 13] = [
    ("", HTML, include_str!("page/index.html")),
    ("page.css", CSS, include_str!("page/page.css")),
    ("app.js", JS, include_str!("page/app.js")),
    ("wish.js", JS, include_str!("page/wish.js")),
    ("place.js", JS, include_str!("page/place.js")),
    ("sheet.js", JS, include_str!("page/sheet.js")),
    ("server.js", JS, include_str!("page/server.js")),
    ("light.js", JS, include_str!("page/light.js")),
    ("charts.js", JS, include_str!("page/charts.js")),
    ("margins.js", JS, include_str!("page/margins.js")),
    ("readout.js", JS, include_str!("page/readout.js")),
    ("words.js", JS, include_str!("page/words.js")),
    ("live.js", JS, include_str!("page/live.js")),
];

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

/// Type and text of a file.
pub(super) fn file(name: &str) -> Option<(&'static str, &'static str)> {
    let found = FILES.iter().find(|(n, _, _)| *n == name);
    found.map(|(_, kind, text)| (*kind, *text))
}
