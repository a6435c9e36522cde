//! The results as Parquet: columns with their types, for programs that read tables of millions of lines.
//!
//! It is made from the journal when the study ends or is stopped, as a whole file, rows by their number; so the same rows
//! give the same bytes, whichever was done first. An empty cell is null. Parts are files of their own, and any reader takes
//! several files of one folder as one table.

use std::sync::Arc;

use parquet::basic::{LogicalType, Repetition, Type as Stored};
use parquet::column::writer::ColumnWriter;
use parquet::data_type::ByteArray;
use parquet::errors::{ParquetError, Result};
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::Type;

use crate::advise::Cell;

use super::journal::Row;

/// Rows of a group: what a reader takes into memory at a time.
const GROUP: usize = 65_536;

/// The rows as the bytes of a Parquet file.
///
/// # Errors
/// A cell of numbers that is none.
pub(super) fn bytes(columns: &[(String, Cell)], rows: &[Row]) -> Result<Vec<u8>> {
    let fields: Result<Vec<_>> = columns
        .iter()
        .map(|(name, cell)| field(name, *cell))
        .collect();
    let schema = Type::group_type_builder("study")
        .with_fields(fields?)
        .build()?;
    let properties = WriterProperties::builder()
        .set_created_by(format!("neckloom {}", env!("CARGO_PKG_VERSION")))
        .build();
    let mut writer = SerializedFileWriter::new(Vec::new(), Arc::new(schema), Arc::new(properties))?;
    for some in rows.chunks(GROUP) {
        let mut group = writer.next_row_group()?;
        for nth in 0..columns.len() {
            let cells = some.iter().map(|(_, record)| record.get(nth).unwrap_or(""));
            let levels: Vec<i16> = cells
                .clone()
                .map(|cell| i16::from(!cell.is_empty()))
                .collect();
            let given = cells.filter(|cell| !cell.is_empty());
            let Some(mut column) = group.next_column()? else {
                return Err(ParquetError::General(format!("there is no column {nth}")));
            };
            match column.untyped() {
                ColumnWriter::Int64ColumnWriter(column) => {
                    column.write_batch(&numbers::<i64>(given)?, Some(&levels), None)?
                }
                ColumnWriter::DoubleColumnWriter(column) => {
                    column.write_batch(&numbers::<f64>(given)?, Some(&levels), None)?
                }
                ColumnWriter::ByteArrayColumnWriter(column) => {
                    let texts: Vec<ByteArray> = given.map(ByteArray::from).collect();
                    column.write_batch(&texts, Some(&levels), None)?
                }
                _ => return Err(ParquetError::General("a column of another type".to_owned())),
            };
            column.close()?;
        }
        group.close()?;
    }
    writer.into_inner()
}

fn field(name: &str, cell: Cell) -> Result<Arc<Type>> {
    let (stored, means) = match cell {
        Cell::Text => (Stored::BYTE_ARRAY, Some(LogicalType::String)),
        Cell::Count => (Stored::INT64, None),
        Cell::Number => (Stored::DOUBLE, None),
    };
    let field = Type::primitive_type_builder(name, stored)
        .with_logical_type(means)
        .with_repetition(Repetition::OPTIONAL);
    Ok(Arc::new(field.build()?))
}

fn numbers<'c, T: std::str::FromStr>(cells: impl Iterator<Item = &'c str>) -> Result<Vec<T>> {
    let number = |cell: &str| {
        let wrong = || ParquetError::General(format!("\"{cell}\" is no number"));
        cell.parse().map_err(|_| wrong())
    };
    cells.map(number).collect()
}
