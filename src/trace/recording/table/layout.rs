//! Detects the layout of a table from its first lines: delimiter, decimal sign, header, units, first row.

use std::cmp::Reverse;

use crate::error::{Error, ErrorKind, Result};
use crate::recording::table::field::{Field, Written, field};
use crate::recording::table::units::{split_unit, unit_of};

/// Number of leading bytes used for detection.
pub(crate) const HEAD: usize = 1 << 16;
/// Number of leading lines used for detection.
const LINES: usize = 400;
/// Combinations of delimiter and decimal sign, in the order they are tried.
const STYLES: [(u8, u8); 5] = [
    (b'\t', b'.'),
    (b';', b'.'),
    (b',', b'.'),
    (b'\t', b','),
    (b';', b','),
];

/// Content of a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Content {
    Number,
    Clock,
    Text,
    /// No value in any of the lines used for detection.
    Nothing,
}

/// One column.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Column {
    /// Title in the header, or `column 3` if there is none.
    pub title: String,
    /// Title without its unit, in lower case.
    pub name: String,
    /// Unit from the title or the units row, in lower case.
    pub unit: Option<String>,
    pub content: Content,
    /// Number format, the finest among the lines used for detection.
    pub written: Written,
}

/// The layout of a table.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Layout {
    pub delimiter: u8,
    pub decimal: u8,
    pub columns: Vec<Column>,
    /// Offset of the first row of values in the text.
    pub rows_at: u64,
    /// Line of the first row of values, counted from 1.
    pub first_line: u64,
    /// The header line, if there is one; a logger repeats it after a power cut.
    pub header: Option<Vec<u8>>,
    /// The first row of values.
    pub first_row: Vec<u8>,
    /// The second row of values, if there is one.
    second_row: Option<Vec<u8>>,
}

/// One of the first lines.
struct HeadLine<'a> {
    at: usize,
    number: u64,
    bytes: &'a [u8],
}

impl Layout {
    /// Detects the layout.
    ///
    /// # Errors
    /// No rows of numbers, or numbers with thousands separators.
    pub fn of(head: &[u8], at: &str) -> Result<Layout> {
        let lines = lines(head);
        let best = STYLES
            .iter()
            .enumerate()
            .filter_map(|(k, &style)| Some((longest_run(&lines, style)?, style, k)))
            // With the wrong delimiter numbers turn into text.
            .max_by_key(|(run, _, k)| (run.weight, Reverse(run.texts()), STYLES.len() - k));
        let Some((run, (delimiter, decimal), _)) = best else {
            return Err(no_rows(&lines, at));
        };
        // Rows before a broken line or a repeated header count too.
        let is_row = |line: &HeadLine<'_>| {
            let contents = contents(line.bytes, (delimiter, decimal));
            contents.contains(&Content::Number) && fits(&run.columns, &contents)
        };
        let row = lines
            .iter()
            .position(is_row)
            .map_or(run.first, |k| k.min(run.first));
        let first = &lines[row];
        if fields(first.bytes, delimiter)
            .iter()
            .any(|f| field(f, decimal) == Field::Thousands)
        {
            return Err(thousands(at, first.number));
        }
        let (titles, units, header) = titles(&lines[..row], delimiter, run.columns.len());
        let written = |k: usize| {
            let rows = lines[row..].iter().filter(|line| is_row(line));
            let finest =
                |row: &HeadLine<'_>| Written::of(fields(row.bytes, delimiter).get(k)?, decimal);
            rows.filter_map(finest).max_by_key(|w| w.decimals)
        };
        let columns = (0..run.columns.len())
            .map(|k| Column {
                written: written(k).unwrap_or_default(),
                ..column(k, titles.get(k), units.get(k), run.columns[k])
            })
            .collect();
        Ok(Layout {
            delimiter,
            decimal,
            columns,
            rows_at: first.at as u64,
            first_line: first.number,
            header,
            first_row: first.bytes.to_vec(),
            second_row: lines.get(row + 1).map(|l| l.bytes.to_vec()),
        })
    }
}

impl Layout {
    /// Increase of a column's number from the first row to the second.
    pub fn step(&self, column: usize) -> Option<f64> {
        let number =
            |row: &[u8]| match field(fields(row, self.delimiter).get(column)?, self.decimal) {
                Field::Number(x) => Some(x),
                _ => None,
            };
        Some(number(self.second_row.as_ref()?)? - number(&self.first_row)?)
    }
}

fn lines(head: &[u8]) -> Vec<HeadLine<'_>> {
    let start = if head.starts_with(b"\xef\xbb\xbf") {
        3
    } else {
        0
    };
    let mut at = start;
    head[start..]
        .split(|&b| b == b'\n')
        .take(LINES)
        .zip(1..)
        .map(|(bytes, number)| {
            let line = HeadLine {
                at,
                number,
                bytes: bytes.strip_suffix(b"\r").unwrap_or(bytes),
            };
            at += bytes.len() + 1;
            line
        })
        .collect()
}

/// Whether a line is blank or a comment.
pub(crate) fn is_passed_over(line: &[u8]) -> bool {
    let line = line.trim_ascii();
    line.is_empty() || matches!(line[0], b'#' | b'%' | b'!') || line.starts_with(b"//")
}

/// Splits a line into fields; quotes are removed and protect delimiters.
pub(crate) fn fields(line: &[u8], delimiter: u8) -> Vec<Vec<u8>> {
    if !line.contains(&b'"') {
        return line
            .split(|&b| b == delimiter)
            .map(<[u8]>::to_vec)
            .collect();
    }
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .from_reader(line);
    let mut record = csv::ByteRecord::new();
    match reader.read_byte_record(&mut record) {
        Ok(true) => record.iter().map(<[u8]>::to_vec).collect(),
        _ => Vec::new(),
    }
}

/// Consecutive lines whose columns hold the same kinds of content.
struct LineRun {
    first: usize,
    columns: Vec<Content>,
    /// Lines × columns of numbers.
    weight: usize,
}

impl LineRun {
    fn texts(&self) -> usize {
        self.columns.iter().filter(|c| **c == Content::Text).count()
    }
}

fn longest_run(lines: &[HeadLine<'_>], style: (u8, u8)) -> Option<LineRun> {
    let mut best: Option<LineRun> = None;
    let mut open: Option<(LineRun, usize)> = None;
    let mut close = |open: &mut Option<(LineRun, usize)>| {
        if let Some((mut run, count)) = open.take() {
            run.weight = count
                * run
                    .columns
                    .iter()
                    .filter(|c| matches!(c, Content::Number | Content::Clock))
                    .count();
            if run.weight > best.as_ref().map_or(0, |b| b.weight) {
                best = Some(run);
            }
        }
    };
    for (k, line) in lines
        .iter()
        .enumerate()
        .filter(|(_, l)| !is_passed_over(l.bytes))
    {
        let contents = contents(line.bytes, style);
        let joins = open
            .as_ref()
            .is_some_and(|(run, _)| fits(&run.columns, &contents));
        if !joins {
            close(&mut open);
            open = Some((
                LineRun {
                    first: k,
                    columns: contents,
                    weight: 0,
                },
                1,
            ));
        } else if let Some((run, count)) = &mut open {
            let filled = run
                .columns
                .iter_mut()
                .zip(contents)
                .filter(|(c, _)| **c == Content::Nothing);
            filled.for_each(|(known, new)| *known = new);
            *count += 1;
        }
    }
    close(&mut open);
    best
}

fn contents(line: &[u8], (delimiter, decimal): (u8, u8)) -> Vec<Content> {
    fields(line, delimiter)
        .iter()
        .map(|f| content(f, decimal))
        .collect()
}

fn content(bytes: &[u8], decimal: u8) -> Content {
    match field(bytes, decimal) {
        Field::Number(_) => Content::Number,
        Field::Clock(_) => Content::Clock,
        Field::Missing | Field::Over => Content::Nothing,
        Field::Thousands | Field::Text => Content::Text,
    }
}

fn fits(columns: &[Content], line: &[Content]) -> bool {
    let same =
        |(a, b): (&Content, &Content)| a == b || *a == Content::Nothing || *b == Content::Nothing;
    columns.len() == line.len() && columns.iter().zip(line).all(same)
}

fn no_rows(lines: &[HeadLine<'_>], at: &str) -> Error {
    let grouped = |line: &&HeadLine<'_>| {
        let by = |d: u8, p: u8| {
            fields(line.bytes, d)
                .iter()
                .any(|f| field(f, p) == Field::Thousands)
        };
        by(b';', b'.') || by(b'\t', b'.') || by(b';', b',')
    };
    if let Some(line) = lines.iter().find(grouped) {
        return thousands(at, line.number);
    }
    Error::new(
        ErrorKind::NotARecording,
        at,
        "it is neither a WAV file nor a table with rows of numbers",
    )
    .hint("A table has one row per sample, with columns separated by commas, semicolons or tabs")
}

/// Error for numbers such as 1,234.5.
pub(crate) fn thousands(at: &str, line: u64) -> Error {
    Error::new(
        ErrorKind::ThousandsSeparator,
        format!("{at}, line {line}"),
        "a number with thousands separators can be read in two ways",
    )
    .hint("Export without thousands separators")
}

/// Returns titles and units above the rows, and the header line as written.
fn titles(
    above: &[HeadLine<'_>],
    delimiter: u8,
    count: usize,
) -> (Vec<String>, Vec<String>, Option<Vec<u8>>) {
    let mut found = above
        .iter()
        .rev()
        .filter(|l| !l.bytes.trim_ascii().is_empty())
        .map_while(|line| {
            let texts = texts(line.bytes, delimiter);
            (texts.len() == count || texts.len() + 1 == count || texts.len() == count + 1)
                .then_some((line.bytes, texts))
        });
    let Some((line, below)) = found.next() else {
        return (Vec::new(), Vec::new(), None);
    };
    let all_units = below
        .iter()
        .all(|t| t.is_empty() || unit_of(t.trim_matches(['(', ')', '[', ']'])).is_some());
    match found.next().filter(|_| all_units) {
        Some((line, titles)) => (titles, below, Some(line.to_vec())),
        None => (below, Vec::new(), Some(line.to_vec())),
    }
}

fn texts(line: &[u8], delimiter: u8) -> Vec<String> {
    let text = |bytes: &Vec<u8>| {
        let (text, _, broken) = encoding_rs::UTF_8.decode(bytes);
        let text = if broken {
            encoding_rs::WINDOWS_1252.decode(bytes).0
        } else {
            text
        };
        text.trim_matches(|c: char| c.is_whitespace() || c == '"')
            .to_owned()
    };
    let line = line.strip_prefix(b"\xef\xbb\xbf").unwrap_or(line);
    let marks = line
        .iter()
        .take_while(|b| matches!(b, b'#' | b'%' | b'!' | b' '))
        .count();
    fields(&line[marks..], delimiter).iter().map(text).collect()
}

fn column(k: usize, title: Option<&String>, unit: Option<&String>, content: Content) -> Column {
    let title = title
        .filter(|t| !t.is_empty())
        .cloned()
        .unwrap_or_else(|| format!("column {}", k + 1));
    let (name, own) = split_unit(&title);
    let below = unit.and_then(|u| unit_of(u.trim_matches(['(', ')', '[', ']'])));
    Column {
        title,
        name,
        unit: below.or(own).map(str::to_owned),
        content,
        written: Written::default(),
    }
}

#[cfg(test)]
mod tests;
