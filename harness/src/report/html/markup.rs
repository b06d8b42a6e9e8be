//! Pieces of markup.

use std::fmt::Write as _;

/// Text made safe for elements and attributes.
pub(super) fn e(text: &str) -> String {
    crate::report::picture::escape_markup(text)
}

/// A part of the page with its heading.
pub(super) fn section(out: &mut String, id: &str, title: &str, fill: impl FnOnce(&mut String)) {
    let _ = writeln!(
        out,
        "<section id=\"{id}\" aria-labelledby=\"{id}-title\"><h2 id=\"{id}-title\">{}</h2>",
        e(title)
    );
    fill(out);
    out.push_str("</section>\n");
}

/// A plain list.
pub(super) fn list<S: AsRef<str>>(out: &mut String, lines: &[S]) {
    out.push_str("<ul>");
    for line in lines {
        let _ = write!(out, "<li>{}</li>", e(line.as_ref()));
    }
    out.push_str("</ul>\n");
}

/// A list of things to tick off.
pub(super) fn ticks(out: &mut String, title: &str, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    let _ = write!(out, "<h3>{}</h3>\n<ul class=\"ticks\">", e(title));
    for line in lines {
        let _ = write!(out, "<li>{}</li>", e(line));
    }
    out.push_str("</ul>\n");
}

/// A table whose columns named in `numbers` are set to the right; cells are text.
pub(super) fn table(
    out: &mut String,
    caption: &str,
    head: &[&str],
    numbers: &[usize],
    rows: &[Vec<String>],
) {
    let class = |k: usize| {
        if numbers.contains(&k) {
            " class=\"n\""
        } else {
            ""
        }
    };
    let _ = write!(
        out,
        "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"{0}\"><table><caption>{0}</caption><thead><tr>",
        e(caption)
    );
    for (k, name) in head.iter().enumerate() {
        let _ = write!(out, "<th scope=\"col\"{}>{}</th>", class(k), e(name));
    }
    out.push_str("</tr></thead><tbody>\n");
    for row in rows {
        out.push_str("<tr>");
        for (k, cell) in row.iter().enumerate() {
            let _ = write!(out, "<td{}>{}</td>", class(k), e(cell));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody></table></div>\n");
}
