//! Rows become the bytes of one Parquet file; equal rows give equal bytes.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use ::parquet::basic::{Compression, ConvertedType, LogicalType, Repetition, Type as Physical};
use ::parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use ::parquet::errors::Result as Written;
use ::parquet::file::properties::WriterProperties;
use ::parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use ::parquet::schema::types::{Type, TypePtr};

use crate::error::{Error, Result};
use crate::measure::Kind;
use crate::measuring::table::cell::{TableCell, take};
use crate::measuring::table::columns::{Column, FIXED, Fixed, PARTED_BY, sheet_column};
use crate::score::StartRow;

/// A column of the file, with its name there.
type Named = (String, Column);

fn holds(column: &Column) -> Holds {
    let Column::Fixed(fixed) = column else {
        return Holds::Text;
    };
    match fixed {
        Fixed::Run | Fixed::Start => Holds::Count,
        Fixed::Lit => Holds::Bool,
        Fixed::Flags => Holds::List,
        Fixed::Measure(measure) if measure.kind() == Kind::Count => Holds::Count,
        Fixed::Measure(_) | Fixed::Score => Holds::Real,
        Fixed::OpenS | Fixed::FirstS | Fixed::LitS | Fixed::SettledS | Fixed::OutS => Holds::Real,
        _ => Holds::Text,
    }
}

/// Types of columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Holds {
    Text,
    Count,
    Real,
    Bool,
    List,
}

fn cell<'a>(row: &'a StartRow, column: &Column) -> TableCell<'a> {
    match column {
        Column::Fixed(column) => take(row, *column),
        Column::Sheet(key) => row
            .sheet
            .get(key)
            .map_or(TableCell::Empty, |text| TableCell::text(text)),
    }
}

/// The file of the rows of one partition. What the names of its folders say does not stand in it.
///
/// # Errors
/// Rows that the format cannot hold, such as a billion.
pub(in crate::measuring::table) fn file_of(rows: &[&StartRow], folder: &Path) -> Result<Vec<u8>> {
    let keys: BTreeSet<&String> = rows.iter().flat_map(|row| row.sheet.keys()).collect();
    let fixed = FIXED
        .iter()
        .map(|(name, column)| ((*name).to_owned(), Column::Fixed(*column)));
    let sheet = keys
        .into_iter()
        .map(|key| (sheet_column(key), Column::Sheet(key.clone())));
    let in_file = |(name, _): &Named| !PARTED_BY.contains(&name.as_str());
    let columns: Vec<Named> = fixed.chain(sheet).filter(in_file).collect();
    written(rows, &columns).map_err(|e| Error::io(folder, "write", std::io::Error::other(e)))
}

fn written(rows: &[&StartRow], columns: &[Named]) -> Written<Vec<u8>> {
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_created_by("tipstrike".to_owned());
    let schema = schema(columns)?;
    let mut file = SerializedFileWriter::new(Vec::new(), schema, Arc::new(properties.build()))?;
    let mut group = file.next_row_group()?;
    for (_, column) in columns {
        let cells = rows.iter().map(|row| cell(row, column));
        let mut to = group
            .next_column()?
            .expect("the schema has a leaf a column");
        put(&mut to, holds(column), cells)?;
        to.close()?;
    }
    group.close()?;
    file.into_inner()
}

fn schema(columns: &[Named]) -> Written<TypePtr> {
    let fields = columns.iter().map(|(name, column)| {
        let leaf = |physical| Type::primitive_type_builder(name, physical);
        let field = match holds(column) {
            Holds::Text => text(name, Repetition::OPTIONAL),
            Holds::Count => leaf(Physical::INT64).build(),
            Holds::Real => leaf(Physical::DOUBLE).build(),
            Holds::Bool => leaf(Physical::BOOLEAN).build(),
            Holds::List => list(name),
        };
        field.map(Arc::new)
    });
    let fields = fields.collect::<Written<Vec<TypePtr>>>()?;
    let root = Type::group_type_builder("starts").with_fields(fields);
    root.build().map(Arc::new)
}

fn text(name: &str, repetition: Repetition) -> Written<Type> {
    Type::primitive_type_builder(name, Physical::BYTE_ARRAY)
        .with_repetition(repetition)
        .with_logical_type(Some(LogicalType::String))
        .with_converted_type(ConvertedType::UTF8)
        .build()
}

/// A list as the format's own rules have it (LogicalTypes.md, "Lists": three levels).
fn list(name: &str) -> Written<Type> {
    let element = Arc::new(text("element", Repetition::REQUIRED)?);
    let repeated = Type::group_type_builder("list")
        .with_repetition(Repetition::REPEATED)
        .with_fields(vec![element])
        .build()?;
    Type::group_type_builder(name)
        .with_repetition(Repetition::REQUIRED)
        .with_logical_type(Some(LogicalType::List))
        .with_converted_type(ConvertedType::LIST)
        .with_fields(vec![Arc::new(repeated)])
        .build()
}

fn put<'a>(
    to: &mut SerializedColumnWriter,
    holds: Holds,
    cells: impl Iterator<Item = TableCell<'a>>,
) -> Written<()> {
    match holds {
        Holds::Text => flat::<ByteArrayType>(to, cells.map(as_text)),
        Holds::Count => flat::<Int64Type>(to, cells.map(as_count)),
        Holds::Real => flat::<DoubleType>(to, cells.map(as_real)),
        Holds::Bool => {
            let known =
                |cell| matches!(cell, TableCell::Bool(_)).then_some(cell == TableCell::Bool(true));
            flat::<BoolType>(to, cells.map(known))
        }
        Holds::List => lists(to, cells),
    }
}

fn as_text(cell: TableCell) -> Option<ByteArray> {
    match cell {
        TableCell::Text(text) => Some(ByteArray::from(text.into_owned().into_bytes())),
        _ => None,
    }
}

fn as_count(cell: TableCell) -> Option<i64> {
    match cell {
        TableCell::Count(number) => i64::try_from(number).ok(),
        TableCell::Real(number) => Some(number as i64),
        _ => None,
    }
}

fn as_real(cell: TableCell) -> Option<f64> {
    match cell {
        TableCell::Real(number) => Some(number),
        TableCell::Count(number) => Some(number as f64),
        _ => None,
    }
}

fn flat<T: DataType>(
    to: &mut SerializedColumnWriter,
    cells: impl Iterator<Item = Option<T::T>>,
) -> Written<()> {
    let (mut known, mut levels) = (Vec::new(), Vec::new());
    for cell in cells {
        levels.push(i16::from(cell.is_some()));
        known.extend(cell);
    }
    to.typed::<T>().write_batch(&known, Some(&levels), None)?;
    Ok(())
}

/// Definition level 1: a name; 0: no name in this row. Repetition level 0: a row begins; 1: it goes on.
fn lists<'a>(
    to: &mut SerializedColumnWriter,
    cells: impl Iterator<Item = TableCell<'a>>,
) -> Written<()> {
    let (mut names, mut defined, mut repeated) = (Vec::new(), Vec::new(), Vec::new());
    for cell in cells {
        let TableCell::List(list) = cell else {
            continue;
        };
        repeated.push(0);
        defined.push(i16::from(!list.is_empty()));
        for _ in 1..list.len() {
            repeated.push(1);
            defined.push(1);
        }
        names.extend(
            list.into_iter()
                .map(|name| ByteArray::from(name.into_owned().into_bytes())),
        );
    }
    to.typed::<ByteArrayType>()
        .write_batch(&names, Some(&defined), Some(&repeated))?;
    Ok(())
}
