//! The samples of a sweep as an Apache Parquet file, with the columns of the CSV form.

use super::samples::Head;
use crate::study::sweep::engine::Sample;
use parquet::basic::{ConvertedType, Repetition, Type as Physical};
use parquet::data_type::{ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::Type;
use std::io::Write;
use std::sync::Arc;

/// Rows in a row group.
const GROUP: usize = 100_000;
/// Under which key the head line of the CSV form is kept.
pub const HEAD_KEY: &str = "lampwright";

/// Writes samples and gives the writer back.
///
/// # Errors
/// Writing failed.
pub fn write<W: Write + Send>(out: W, head: &Head, samples: &[Sample]) -> Result<W, ParquetError> {
    let json = serde_json::to_string(head).map_err(|e| ParquetError::External(Box::new(e)))?;
    let properties = WriterProperties::builder()
        .set_key_value_metadata(Some(vec![KeyValue::new(HEAD_KEY.to_owned(), json)]))
        .build();
    let mut file = SerializedFileWriter::new(out, Arc::new(schema(head)?), Arc::new(properties))?;
    for rows in samples.chunks(GROUP) {
        group(&mut file, head, rows)?;
    }
    file.into_inner()
}

fn schema(head: &Head) -> Result<Type, ParquetError> {
    let field = |name: &str, physical, converted| {
        let built = Type::primitive_type_builder(name, physical)
            .with_repetition(Repetition::REQUIRED)
            .with_converted_type(converted)
            .build();
        built.map(Arc::new)
    };
    let number = |name: &str| field(name, Physical::DOUBLE, ConvertedType::NONE);
    let mut fields = vec![
        field("sample", Physical::INT64, ConvertedType::NONE)?,
        field("played", Physical::BYTE_ARRAY, ConvertedType::UTF8)?,
        number("soc")?,
        number("temperature_k")?,
    ];
    for check in &head.checks {
        fields.push(number(&format!("margin_share:{check}"))?);
    }
    for name in &head.tolerances {
        fields.push(number(&format!("draw:{name}"))?);
    }
    Type::group_type_builder("samples")
        .with_fields(fields)
        .build()
}

fn group<W: Write + Send>(
    file: &mut SerializedFileWriter<W>,
    head: &Head,
    rows: &[Sample],
) -> Result<(), ParquetError> {
    let mut group = file.next_row_group()?;
    let indices: Vec<i64> = rows
        .iter()
        .map(|s| i64::try_from(s.index).unwrap_or(i64::MAX))
        .collect();
    if let Some(mut column) = group.next_column()? {
        column
            .typed::<Int64Type>()
            .write_batch(&indices, None, None)?;
        column.close()?;
    }
    let played = |s: &Sample| ByteArray::from(if s.full { "whole" } else { "digest" });
    if let Some(mut column) = group.next_column()? {
        let played: Vec<ByteArray> = rows.iter().map(played).collect();
        column
            .typed::<ByteArrayType>()
            .write_batch(&played, None, None)?;
        column.close()?;
    }
    let (checks, tolerances) = (head.checks.len(), head.tolerances.len());
    for number in 0..2 + checks + tolerances {
        let value = |s: &Sample| match number {
            0 => s.soc,
            1 => s.temperature_k,
            n if n < 2 + checks => s.margins.get(n - 2).copied().unwrap_or(f64::NAN),
            n => s.shares.get(n - 2 - checks).copied().unwrap_or(f64::NAN),
        };
        let values: Vec<f64> = rows.iter().map(value).collect();
        if let Some(mut column) = group.next_column()? {
            column
                .typed::<DoubleType>()
                .write_batch(&values, None, None)?;
            column.close()?;
        }
    }
    group.close()?;
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use parquet::file::reader::{FileReader, SerializedFileReader};
    use parquet::record::RowAccessor;

    #[test]
    fn every_value_reads_back() {
        let head = Head {
            schema: "lampwright/samples/1".to_owned(),
            prop: "p".to_owned(),
            preset: "glow".to_owned(),
            cues: "walk".to_owned(),
            fingerprint: "1".to_owned(),
            seed: 1,
            samples: 10,
            shard: 1,
            shards: 1,
            cap: 255,
            checks: vec!["cell-pulse".to_owned(), "board-supply".to_owned()],
            tolerances: vec!["wire P1, length".to_owned()],
        };
        let sample = |index| Sample {
            index,
            soc: 0.1 * index as f64,
            temperature_k: 273.15,
            shares: vec![1.0 / 3.0],
            margins: vec![-0.25, f64::INFINITY],
            full: index == 2,
        };
        let bytes = write(Vec::new(), &head, &[sample(1), sample(2)]).unwrap();
        let path = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(path.path(), bytes).unwrap();
        let reader = SerializedFileReader::new(path.reopen().unwrap()).unwrap();
        let meta = reader.metadata().file_metadata();
        assert_eq!(meta.num_rows(), 2);
        assert_eq!(meta.schema_descr().column(6).name(), "draw:wire P1, length");
        assert_eq!(meta.key_value_metadata().unwrap()[0].key, HEAD_KEY);
        let rows: Vec<_> = reader
            .get_row_iter(None)
            .unwrap()
            .map(Result::unwrap)
            .collect();
        assert_eq!(rows[1].get_long(0).unwrap(), 2);
        assert_eq!(rows[1].get_string(1).unwrap(), "whole");
        assert_eq!(rows[0].get_double(4).unwrap(), -0.25);
        assert_eq!(rows[0].get_double(5).unwrap(), f64::INFINITY);
        assert_eq!(rows[0].get_double(6).unwrap(), 1.0 / 3.0);
    }
}
