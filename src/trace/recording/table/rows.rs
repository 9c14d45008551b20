//! Parses a chunk of complete lines into columns of numbers; anything else becomes an event before the next row.

use crate::recording::table::field::{Field, clock, field, number, short_number};
use crate::recording::table::layout::{Layout, fields, is_passed_over};

/// Number of columns in use: time, current, voltage, trigger.
pub(crate) const SLOTS: usize = 4;
/// Slot of the time.
pub(crate) const TIME: usize = 0;

/// Which columns to read, and how.
#[derive(Debug, Clone)]
pub(crate) struct Reading {
    pub delimiter: u8,
    pub decimal: u8,
    /// Column of each slot, counted from 0.
    pub slots: [Option<usize>; SLOTS],
    /// The header line, which may be repeated.
    pub header: Option<Vec<u8>>,
    /// Slots in the order of their columns.
    order: Vec<(usize, usize)>,
}

/// Why two rows do not follow each other.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Why {
    /// A column in use has no value.
    Missing,
    /// A value is over the logger's range.
    Over,
    /// The header again, because the logger was switched on anew.
    Header,
    /// Not a row of this table; the field and its column, counted from 1.
    Unreadable(String, usize),
    /// A number with thousands separators.
    Thousands,
}

/// An event between rows.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RowEvent {
    /// Number of rows of the chunk before it.
    pub row: usize,
    /// Line within the chunk, counted from 0.
    pub line: u64,
    pub why: Why,
}

/// The rows of a chunk.
#[derive(Debug, Clone, Default)]
pub(crate) struct Rows {
    /// One column per slot; empty slots have none.
    pub columns: [Vec<f64>; SLOTS],
    /// Offset of each row in the chunk.
    pub places: Vec<u32>,
    pub events: Vec<RowEvent>,
    /// Number of lines in the chunk.
    pub lines: u64,
}

impl Reading {
    /// Reads the given columns of a layout.
    pub fn new(layout: &Layout, slots: [Option<usize>; SLOTS]) -> Reading {
        let mut order: Vec<(usize, usize)> = slots
            .iter()
            .enumerate()
            .filter_map(|(s, c)| Some(((*c)?, s)))
            .collect();
        order.sort_unstable();
        Reading {
            delimiter: layout.delimiter,
            decimal: layout.decimal,
            slots,
            header: layout.header.clone(),
            order,
        }
    }

    /// Parses every line of a chunk and replaces the contents of `rows`.
    pub fn rows(&self, chunk: &[u8], rows: &mut Rows) {
        rows.clear();
        let (mut at, mut values) = (0, [0.0; SLOTS]);
        while at < chunk.len() {
            let rest = &chunk[at..];
            let length = match self.plain(rest, &mut values) {
                Some(length) => {
                    rows.push(at, self, &values);
                    length
                }
                None => {
                    let end = memchr::memchr(b'\n', rest).unwrap_or(rest.len());
                    if !is_passed_over(&rest[..end]) {
                        self.other(&rest[..end], at, rows);
                    }
                    end + 1
                }
            };
            rows.lines += 1;
            at += length;
        }
    }

    /// Parses a line of numbers (and a time of day) in the columns in use; returns its length including the line end.
    /// Nearly every line is like this, so numbers are parsed in place without searching for delimiters first.
    #[inline]
    fn plain(&self, text: &[u8], values: &mut [f64; SLOTS]) -> Option<usize> {
        if matches!(text[0], b'#' | b'%' | b'!' | b'/') {
            return None;
        }
        let (mut at, mut column) = (0, 0);
        for &(wanted, slot) in &self.order {
            while column < wanted {
                if text.get(at) != Some(&self.delimiter) {
                    at += memchr::memchr3(self.delimiter, b'\n', b'"', &text[at..])?;
                    if text[at] != self.delimiter {
                        return None;
                    }
                }
                at += 1;
                column += 1;
            }
            let length;
            (values[slot], length) = self.value(&text[at..], slot)?;
            at += length;
        }
        let end = match text[at..] {
            [] => at,
            [b'\n', ..] => at + 1,
            _ => memchr::memchr(b'\n', &text[at..]).map_or(text.len(), |k| at + k + 1),
        };
        Some(end)
    }

    /// Parses the field at the start of a text; returns its value and length.
    #[inline]
    fn value(&self, text: &[u8], slot: usize) -> Option<(f64, usize)> {
        if self.decimal == b'.'
            && let Some((value, length)) = short_number(text)
            && (matches!(text.get(length), None | Some(b'\r' | b'\n'))
                || text[length] == self.delimiter)
        {
            return Some((value, length));
        }
        let length = memchr::memchr2(self.delimiter, b'\n', text).unwrap_or(text.len());
        let field = text[..length].trim_ascii();
        let value = number(field, self.decimal).or_else(|| match slot {
            TIME => clock(std::str::from_utf8(field).ok()?),
            _ => None,
        });
        Some((value?, length))
    }

    /// Parses any other line.
    #[cold]
    fn other(&self, line: &[u8], at: usize, rows: &mut Rows) {
        let mut values = [0.0; SLOTS];
        let parts = fields(line.strip_suffix(b"\r").unwrap_or(line), self.delimiter);
        let mut why = None;
        for &(column, slot) in &self.order {
            let bytes = parts
                .get(column)
                .map_or(&b"(end of line)"[..], Vec::as_slice);
            let found = match field(bytes, self.decimal) {
                Field::Number(value) => Ok(value),
                Field::Clock(value) if slot == TIME => Ok(value),
                Field::Missing => Err(Why::Missing),
                Field::Over => Err(Why::Over),
                Field::Thousands => Err(Why::Thousands),
                Field::Clock(_) | Field::Text => Err(Why::Unreadable(
                    String::from_utf8_lossy(bytes).chars().take(40).collect(),
                    column + 1,
                )),
            };
            match found {
                Ok(value) => values[slot] = value,
                Err(new) => _ = why.get_or_insert(new),
            }
        }
        match why {
            None => rows.push(at, self, &values),
            Some(_) if self.is_header(line) => rows.event(Why::Header),
            Some(why) => rows.event(why),
        }
    }

    fn is_header(&self, line: &[u8]) -> bool {
        self.header
            .as_ref()
            .is_some_and(|header| header.trim_ascii() == line.trim_ascii())
    }
}

impl Rows {
    /// Number of rows.
    pub fn len(&self) -> usize {
        self.places.len()
    }

    /// Clears the rows but keeps the memory.
    pub fn clear(&mut self) {
        self.columns.iter_mut().for_each(Vec::clear);
        self.places.clear();
        self.events.clear();
        self.lines = 0;
    }

    #[inline]
    fn push(&mut self, at: usize, reading: &Reading, values: &[f64; SLOTS]) {
        for &(_, slot) in &reading.order {
            self.columns[slot].push(values[slot]);
        }
        self.places.push(at as u32);
    }

    fn event(&mut self, why: Why) {
        let (row, line) = (self.len(), self.lines);
        self.events.push(RowEvent { row, line, why });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &str) -> Rows {
        let layout = Layout::of(b"t,i,u\n0,1,2\n1,2,3\n", "x").unwrap();
        let mut rows = Rows::default();
        Reading::new(&layout, [Some(0), Some(1), None, None]).rows(text.as_bytes(), &mut rows);
        rows
    }

    #[test]
    fn rows_are_read_whatever_the_line_end_and_the_quotes() {
        let rows = rows("0,1,2\r\n\n# a\n\"1\",\"2\",3\n 2 , 3 ,x,y");
        assert_eq!(rows.columns[TIME], [0.0, 1.0, 2.0]);
        assert_eq!(rows.columns[1], [1.0, 2.0, 3.0]);
        assert_eq!((rows.lines, rows.events.len()), (5, 0));
    }

    #[test]
    fn what_stands_before_the_columns_that_are_read_is_passed_over() {
        let layout = Layout::of(b"name,i\na,2\nb,3\n", "x").unwrap();
        let reading = Reading::new(&layout, [None, Some(1), None, None]);
        let mut rows = Rows::default();
        let text = "a,1\n# b,2\n\"c,3\",4\nd;5\n , 6 \r\n";
        reading.rows(text.as_bytes(), &mut rows);
        assert_eq!(rows.columns[1], [1.0, 4.0, 6.0]);
        assert_eq!((rows.lines, rows.events.len()), (5, 1));
    }

    #[test]
    fn times_of_day_and_decimal_commas_are_read_where_they_stand() {
        let layout = Layout::of(b"t;i\n00:00:01,5;2,5\n00:00:02,5;3,5\n", "x").unwrap();
        let reading = Reading::new(&layout, [Some(0), Some(1), None, None]);
        let mut rows = Rows::default();
        reading.rows(b"00:00:01,5;2,5\r\n00:00:02,5;-3,25;x\n", &mut rows);
        assert_eq!(rows.columns[TIME], [1.5, 2.5]);
        assert_eq!(rows.columns[1], [2.5, -3.25]);
    }

    #[test]
    fn what_is_no_row_is_an_event_with_its_line() {
        let rows = rows("0,1\n1,OL\n2,\nt,i,u\n3,junk\n4\n5,1\n");
        let whys: Vec<(usize, u64, &Why)> = rows
            .events
            .iter()
            .map(|e| (e.row, e.line, &e.why))
            .collect();
        let junk = Why::Unreadable("junk".into(), 2);
        let end = Why::Unreadable("(end of line)".into(), 2);
        let expected = [
            (1, 1, &Why::Over),
            (1, 2, &Why::Missing),
            (1, 3, &Why::Header),
            (1, 4, &junk),
            (1, 5, &end),
        ];
        assert_eq!(whys, expected);
        assert_eq!(rows.columns[1], [1.0, 1.0]);
    }
}
