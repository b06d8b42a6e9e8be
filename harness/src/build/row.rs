//! One line of comma-separated values, with the place of every field.

use std::ops::Range;

/// The lines of a text that hold data, each with the byte at which it starts and without its line end: a byte order
/// mark, blank lines and remarks (`#`) are left out.
pub(crate) fn data_lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let body = text.trim_start_matches('\u{feff}');
    let mut next = text.len() - body.len();
    let placed = body.split_inclusive('\n').map(move |line| {
        let start = next;
        next += line.len();
        (start, line.trim_end_matches(['\n', '\r']))
    });
    placed.filter(|(_, line)| !line.trim().is_empty() && !line.trim_start().starts_with('#'))
}

/// A field: where it stands in the line, and what it says without quotes and outer spaces.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Cell {
    /// Bytes of the line, without outer spaces.
    pub span: Range<usize>,
    /// The value.
    pub text: String,
}

/// Splits a line (RFC 4180 quoting) into its fields. A quote left open ends with the line, and a
/// lone carriage return parts fields as a comma does, so that nothing after it is lost unseen.
pub(crate) fn cells(line: &str) -> Vec<Cell> {
    let mut reader = csv_core::Reader::new();
    let mut input = line.as_bytes();
    // A field is never longer than its line.
    let mut buffer = vec![0; line.len() + 1];
    let mut cells = Vec::new();
    let mut start = 0;
    loop {
        let (result, read, written) = reader.read_field(input, &mut buffer);
        input = input.get(read..).unwrap_or_default();
        match result {
            csv_core::ReadFieldResult::Field { .. } => {}
            csv_core::ReadFieldResult::End => break,
            // The input is all there is: the next call, with none, ends the field.
            _ => {
                let (_, _, rest) =
                    reader.read_field(&[], buffer.get_mut(written..).unwrap_or_default());
                push(&mut cells, line, start..line.len(), &buffer, written + rest);
                break;
            }
        }
        push(&mut cells, line, start..start + read, &buffer, written);
        start += read;
    }
    cells
}

fn push(cells: &mut Vec<Cell>, line: &str, span: Range<usize>, buffer: &[u8], written: usize) {
    let raw = line.get(span.clone()).unwrap_or_default();
    let raw = raw.strip_suffix(',').unwrap_or(raw);
    let lead = raw.len() - raw.trim_start().len();
    let start = span.start + lead;
    let text = buffer.get(..written).map(String::from_utf8_lossy);
    let text = text.unwrap_or_default();
    let text = text.trim();
    // Quotes after a space are no quotes to RFC 4180, but people write them.
    let quoted = text.strip_prefix('"').and_then(|t| t.strip_suffix('"'));
    cells.push(Cell {
        span: start..start + raw.trim().len(),
        text: quoted.unwrap_or(text).trim().to_owned(),
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(line: &str) -> Vec<(usize, String)> {
        cells(line)
            .into_iter()
            .map(|c| (c.span.start, c.text))
            .collect()
    }

    #[test]
    fn data_lines_keep_their_places() {
        let text = "\u{feff}# a remark\r\na,b\r\n\n  # another\n1,2";
        let found: Vec<_> = data_lines(text).collect();
        assert_eq!(found, [(15, "a,b"), (33, "1,2")]);
        assert!(text[15..].starts_with("a,b") && text[33..].starts_with("1,2"));
    }

    #[test]
    fn fields_keep_their_places() {
        let found = texts("0.5, knock ,\"80 %\"");
        let wanted = [(0, "0.5"), (5, "knock"), (12, "80 %")];
        assert_eq!(found, wanted.map(|(i, t)| (i, t.to_owned())));
    }

    #[test]
    fn empty_fields_count() {
        assert_eq!(texts("1,,").len(), 3);
        assert_eq!(texts("1,").len(), 2);
        assert_eq!(texts("a").len(), 1);
        assert_eq!(texts("").len(), 0);
        assert_eq!(texts("a,b\rc").len(), 3);
    }

    #[test]
    fn a_quoted_comma_does_not_split_and_an_open_quote_ends_with_the_line() {
        assert_eq!(texts("\"a,b\",c").len(), 2);
        assert_eq!(texts("x,\"a,b").len(), 2);
        assert_eq!(texts("é,\"ü\"")[1], (3, "ü".to_owned()));
    }
}
