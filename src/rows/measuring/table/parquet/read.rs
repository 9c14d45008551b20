//! A Parquet file becomes rows: only the columns that are wanted are read, some rows at a time.

use std::borrow::Cow;
use std::fs::File;
use std::path::Path;
use std::sync::Arc;

use ::parquet::basic::{ConvertedType, LogicalType};
use ::parquet::column::reader::{ColumnReader, ColumnReaderImpl};
use ::parquet::data_type::{ByteArray, DataType};
use ::parquet::errors::{ParquetError, Result as Taken};
use ::parquet::file::metadata::ColumnChunkMetaData;
use ::parquet::file::reader::{FileReader, RowGroupReader, SerializedFileReader};
use ::parquet::file::statistics::Statistics;
use ::parquet::schema::types::ColumnDescriptor;

use super::caught::caught;
use super::refused;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::measuring::table::cell::{Draft, TableCell, empty_row, words};
use crate::measuring::table::columns::{Column, Fixed, REQUIRED, Wanted};
use crate::measuring::table::room;
use crate::measuring::table::sheet_cells::SheetCells;
use crate::score::StartRow;
use crate::texts::Texts;

/// Rows that are read at a time.
const ROWS: usize = 1024;

/// Reads a file; `keys` are the columns that the names of its folders tell, and stand for those that it lacks.
///
/// # Errors
/// A file that is no starts table, or a value that cannot be right, with its row.
pub(in crate::measuring::table) fn read(
    path: &Path,
    keys: &[(String, String)],
    wanted: Wanted,
) -> Result<Vec<StartRow>> {
    // The library answers some damage by a panic.
    let rows = caught(|| read_whole(path, keys, wanted));
    rows.unwrap_or_else(|| Err(refused(path, &ParquetError::General("damaged".to_owned()))))
}

fn read_whole(path: &Path, keys: &[(String, String)], wanted: Wanted) -> Result<Vec<StartRow>> {
    let file = File::open(path).map_err(|e| Error::io(path, "read", e))?;
    let file = SerializedFileReader::new(file).map_err(|e| refused(path, &e))?;
    let schema = file.metadata().file_metadata().schema_descr_ptr();
    let has = |name: &str| {
        schema
            .columns()
            .iter()
            .any(|column| name_of(column) == name)
    };
    let told = |name: &str| keys.iter().any(|(key, _)| key == name);
    if let Some(name) = REQUIRED.into_iter().find(|name| !has(name) && !told(name)) {
        let problem = format!("column \"{name}\" is missing");
        return Err(
            Error::new(ErrorKind::StartsTable, Place::file(path), problem).hint(format!(
                "A starts table has at least {}",
                REQUIRED.join(", ")
            )),
        );
    }
    let lacking = keys.iter().filter(|(key, _)| !has(key));
    let told = lacking.map(|(key, value)| (Column::named(key), value.as_str()));
    let mut reading = Reading {
        path,
        told: told.collect(),
        rows: Vec::new(),
    };
    let mut texts = Texts::default();
    for k in 0..file.num_row_groups() {
        let group = file.get_row_group(k).map_err(|e| refused(path, &e))?;
        reading.group(&*group, wanted, &mut texts)?;
    }
    Ok(reading.rows)
}

/// The name that a column has in the table, be it a list's.
fn name_of(column: &ColumnDescriptor) -> &str {
    &column.path().parts()[0]
}

struct Reading<'a> {
    path: &'a Path,
    /// Columns that the file lacks and its folders tell.
    told: Vec<(Column, &'a str)>,
    rows: Vec<StartRow>,
}

impl Reading<'_> {
    fn group(
        &mut self,
        group: &dyn RowGroupReader,
        wanted: Wanted,
        texts: &mut Texts,
    ) -> Result<()> {
        let about = group.metadata();
        let (mut fixed, mut sheet, mut headings) = (Vec::new(), Vec::new(), Vec::new());
        for (k, own) in about.columns().iter().enumerate() {
            let column = Column::named(name_of(own.column_descr()));
            if !wanted.takes(&column) || (is_empty(own) && !column.is_required()) {
                continue;
            }
            let reader = group
                .get_column_reader(k)
                .map_err(|e| refused(self.path, &e))?;
            let leaf = Leaf {
                about: own.column_descr_ptr(),
                reader,
            };
            match column {
                Column::Fixed(column) => fixed.push((column, leaf)),
                Column::Sheet(heading) => {
                    sheet.push((leaf, Texts::default()));
                    headings.push(heading);
                }
            }
        }
        let told = self.told.iter().filter_map(|(column, _)| match column {
            Column::Sheet(heading) => Some(heading.clone()),
            Column::Fixed(_) => None,
        });
        headings.extend(told);
        let mut cells = SheetCells::new(headings);
        let empty = empty_row();
        let mut left = usize::try_from(about.num_rows()).unwrap_or(0);
        while left > 0 {
            let some = left.min(ROWS);
            let mut drafts: Vec<Draft> = (0..some).map(|_| Draft::like(&empty)).collect();
            self.fixed(&mut drafts, &mut fixed, texts)?;
            self.sheet(&mut drafts, &mut sheet, &mut cells)?;
            self.finish(drafts)?;
            left -= some;
        }
        Ok(())
    }

    fn fixed(
        &self,
        drafts: &mut [Draft],
        columns: &mut [(Fixed, Leaf)],
        texts: &mut Texts,
    ) -> Result<()> {
        for (column, leaf) in columns {
            self.cells(leaf, drafts.len(), |k, cell| {
                drafts[k].put(*column, cell, texts)
            })?;
        }
        for (column, value) in &self.told {
            if let Column::Fixed(column) = column {
                for (k, draft) in drafts.iter_mut().enumerate() {
                    let done = draft.put(*column, TableCell::text(value), texts);
                    done.map_err(|problem| self.wrong(k, format!("its folder {problem}")))?;
                }
            }
        }
        Ok(())
    }

    fn sheet(
        &self,
        drafts: &mut [Draft],
        leaves: &mut [(Leaf, Texts)],
        cells: &mut SheetCells,
    ) -> Result<()> {
        let mut columns: Vec<Vec<Arc<str>>> = Vec::new();
        for (leaf, texts) in leaves {
            let mut own = Vec::with_capacity(drafts.len());
            self.cells(leaf, drafts.len(), |_, cell| {
                let text = words(cell)?;
                own.push(texts.shared(text.as_deref().unwrap_or_default()));
                Ok(())
            })?;
            columns.push(own);
        }
        let told = self
            .told
            .iter()
            .filter(|(column, _)| matches!(column, Column::Sheet(_)));
        let told = told.map(|(_, value)| *value);
        for (k, draft) in drafts.iter_mut().enumerate() {
            let own = columns.iter().map(|texts| &*texts[k]);
            draft.row.sheet = cells.shared(own.chain(told.clone()), str::to_owned);
        }
        Ok(())
    }

    fn finish(&mut self, drafts: Vec<Draft>) -> Result<()> {
        for draft in drafts {
            let row = draft.finish().map_err(|problem| self.wrong(0, problem))?;
            room::add(&mut self.rows, row, self.path)?;
        }
        Ok(())
    }

    /// Takes the cells of a column in the next rows, each with the place of its row.
    fn cells(
        &self,
        leaf: &mut Leaf,
        rows: usize,
        mut take: impl FnMut(usize, TableCell) -> Result<(), String>,
    ) -> Result<()> {
        let (mut taken, mut wrong) = (0, None);
        let read = leaf.cells(rows, |cell| {
            if wrong.is_none() {
                wrong = take(taken, cell).err().map(|problem| (taken, problem));
            }
            taken += 1;
        });
        read.map_err(|e| refused(self.path, &e))?;
        if let Some((k, problem)) = wrong {
            return Err(self.wrong(k, leaf.named(&problem)));
        }
        match taken == rows {
            true => Ok(()),
            false => Err(Error::new(
                ErrorKind::StartsTable,
                Place::file(self.path),
                leaf.named("ends early"),
            )),
        }
    }

    /// A fault in the row `ahead` of those that are whole.
    fn wrong(&self, ahead: usize, problem: String) -> Error {
        let row = (self.rows.len() + ahead) as u64 + 1;
        Error::new(
            ErrorKind::StartsValue,
            Place::file(self.path).row(row),
            problem,
        )
    }
}

/// Whether a column has no value in a group of rows, by what its head says: most measures of most tables.
fn is_empty(column: &ColumnChunkMetaData) -> bool {
    let nulls = column.statistics().and_then(Statistics::null_count_opt);
    let is_list = column.column_descr().max_rep_level() > 0;
    !is_list && nulls.is_some_and(|nulls| i64::try_from(nulls) == Ok(column.num_values()))
}

/// A column of the file.
struct Leaf {
    about: Arc<ColumnDescriptor>,
    reader: ColumnReader,
}

impl Leaf {
    fn named(&self, problem: &str) -> String {
        format!(
            "column \"{}\" {problem}",
            name_of(&self.about).escape_debug()
        )
    }

    /// Takes the cells of the next rows.
    fn cells(&mut self, rows: usize, take: impl FnMut(TableCell)) -> Taken<()> {
        let about = &self.about;
        if !is_plain(about) {
            let kind = about.converted_type();
            let problem =
                format!("is of type {kind:?}; text, numbers, true or false were expected");
            return Err(ParquetError::General(self.named(&problem)));
        }
        match &mut self.reader {
            ColumnReader::BoolColumnReader(r) => {
                each(r, about, rows, |b| TableCell::Bool(*b), take)
            }
            ColumnReader::Int32ColumnReader(r) => {
                each(r, about, rows, |n| whole((*n).into()), take)
            }
            ColumnReader::Int64ColumnReader(r) => each(r, about, rows, |n| whole(*n), take),
            ColumnReader::FloatColumnReader(r) => {
                each(r, about, rows, |n| TableCell::Real((*n).into()), take)
            }
            ColumnReader::DoubleColumnReader(r) => {
                each(r, about, rows, |n| TableCell::Real(*n), take)
            }
            ColumnReader::ByteArrayColumnReader(r) => each(r, about, rows, text_of, take),
            _ => Err(ParquetError::General(
                self.named("holds bytes of fixed length"),
            )),
        }
    }
}

/// Whether the numbers or bytes of a column mean what they are: no days since 1970, no hundredths.
fn is_plain(column: &ColumnDescriptor) -> bool {
    use ConvertedType::{
        ENUM, INT_8, INT_16, INT_32, INT_64, JSON, NONE, UINT_8, UINT_16, UINT_32, UTF8,
    };
    let logical = column.logical_type_ref();
    matches!(
        logical,
        None | Some(
            LogicalType::String
                | LogicalType::Enum
                | LogicalType::Json
                | LogicalType::Integer { .. }
        )
    ) && matches!(
        column.converted_type(),
        NONE | UTF8 | ENUM | JSON | INT_8 | INT_16 | INT_32 | INT_64 | UINT_8 | UINT_16 | UINT_32
    )
}

fn whole(number: i64) -> TableCell<'static> {
    u64::try_from(number).map_or(TableCell::Real(number as f64), TableCell::Count)
}

fn text_of(bytes: &ByteArray) -> TableCell<'_> {
    TableCell::Text(String::from_utf8_lossy(bytes.data()))
}

/// Values and levels become cells: a value at the full definition level, nothing below it; in a list, a row at repetition
/// level 0.
fn each<T: DataType>(
    reader: &mut ColumnReaderImpl<T>,
    about: &ColumnDescriptor,
    rows: usize,
    cell: impl for<'v> Fn(&'v T::T) -> TableCell<'v>,
    mut take: impl FnMut(TableCell),
) -> Taken<()> {
    let (mut defined, mut repeated, mut values) = (Vec::new(), Vec::new(), Vec::new());
    reader.read_records(rows, Some(&mut defined), Some(&mut repeated), &mut values)?;
    let full = about.max_def_level();
    let mut given = values.iter();
    if full == 0 {
        given.for_each(|value| take(cell(value)));
        return Ok(());
    }
    let mut next = |level: i16| (level == full).then(|| given.next()).flatten();
    if about.max_rep_level() == 0 {
        for level in defined {
            take(next(level).map_or(TableCell::Empty, &cell));
        }
        return Ok(());
    }
    let mut list: Vec<Cow<str>> = Vec::new();
    let mut levels = defined.into_iter().zip(repeated).peekable();
    while let Some((level, _)) = levels.next() {
        if let Some(TableCell::Text(name)) = next(level).map(&cell) {
            list.push(name);
        }
        if levels.peek().is_none_or(|(_, repeated)| *repeated == 0) {
            take(TableCell::List(std::mem::take(&mut list)));
        }
    }
    Ok(())
}
