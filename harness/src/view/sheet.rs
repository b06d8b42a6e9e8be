//! Answers that carry many numbers: a JSON head, then columns of 32-bit floats, then drive levels.
//!
//! ```text
//! u32     length of the head, little endian
//! head    JSON, padded with spaces to a multiple of 4 bytes; has "frames", "columns" (names) and "frame_len"
//! f32     each column, all its frames, little endian; a value that does not exist is NaN
//! u8      drive levels, frame after frame, `frame_len` bytes each; none where `frame_len` is 0
//! ```

use serde_json::{json, Value};

/// Version of the form. 1: first form.
pub(super) const SHEET_SCHEMA: &str = "lampwright/view-sheet/1";

/// Columns and levels being gathered.
#[derive(Debug, Default)]
pub(super) struct Sheet {
    names: Vec<String>,
    columns: Vec<Vec<f32>>,
    /// Drive levels, frame after frame.
    pub(super) levels: Vec<u8>,
    /// Bytes in a frame.
    pub(super) frame_len: usize,
}

impl Sheet {
    /// With columns of these names.
    pub(super) fn new(names: Vec<String>) -> Self {
        Self {
            columns: vec![Vec::new(); names.len()],
            names,
            ..Self::default()
        }
    }

    /// Adds a row.
    pub(super) fn push(&mut self, row: impl IntoIterator<Item = f64>) {
        for (column, value) in self.columns.iter_mut().zip(row) {
            column.push(value as f32);
        }
    }

    /// Number of rows.
    pub(super) fn len(&self) -> usize {
        self.columns.first().map_or(0, Vec::len)
    }

    /// The bytes; `head` must be an object.
    pub(super) fn bytes(&self, mut head: Value) -> Vec<u8> {
        if let Some(head) = head.as_object_mut() {
            head.insert("schema".into(), json!(SHEET_SCHEMA));
            head.insert("frames".into(), json!(self.len()));
            head.insert("columns".into(), json!(self.names));
            head.insert("frame_len".into(), json!(self.frame_len));
        }
        let mut text = head.to_string().into_bytes();
        text.resize(text.len().next_multiple_of(4), b' ');
        let floats = self.len() * self.columns.len() * 4;
        let mut out = Vec::with_capacity(4 + text.len() + floats + self.levels.len());
        out.extend(u32::try_from(text.len()).unwrap_or(u32::MAX).to_le_bytes());
        out.extend(text);
        for value in self.columns.iter().flatten() {
            // What is no number has many forms; one goes out, the same from every machine.
            let value = if value.is_nan() { f32::NAN } else { *value };
            out.extend(value.to_le_bytes());
        }
        out.extend(&self.levels);
        out
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_sheet_can_be_read_back() {
        let mut sheet = Sheet::new(vec!["a".into(), "b".into()]);
        sheet.frame_len = 3;
        sheet.push([1.0, f64::NAN]);
        sheet.push([2.5, -3.0]);
        sheet.levels.extend([1, 2, 3, 4, 5, 6]);
        let bytes = sheet.bytes(json!({ "more": "µ" }));
        let head = u32::from_le_bytes(bytes[..4].try_into().unwrap()) as usize;
        assert_eq!(head % 4, 0);
        let read: Value = serde_json::from_slice(&bytes[4..4 + head]).unwrap();
        assert_eq!(
            (&read["frames"], &read["frame_len"]),
            (&json!(2), &json!(3))
        );
        let floats: Vec<f32> = bytes[4 + head..bytes.len() - 6]
            .chunks_exact(4)
            .map(|c| f32::from_le_bytes(c.try_into().unwrap()))
            .collect();
        assert!(floats[2].is_nan());
        assert_eq!((floats[0], floats[1], floats[3]), (1.0, 2.5, -3.0));
        assert_eq!(bytes[bytes.len() - 6..], [1, 2, 3, 4, 5, 6]);
    }
}
