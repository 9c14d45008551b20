//! One record of a CSV table as pieces of a text, and the lines of a text cut into such records.

use memchr::{memchr, memchr2};

/// The text of a record and where each of its cells lies in it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line<'a> {
    pub(super) text: &'a str,
    /// First byte of each cell, and the one behind its last.
    pub(super) cells: &'a [(usize, usize)],
    /// No cell has a quote sign in front of it or a decimal comma in it.
    pub(super) is_plain: bool,
    /// The byte of the file at which the record begins, or the line ends before it.
    pub(super) at: u64,
}

impl<'a> Line<'a> {
    pub(super) fn len(&self) -> usize {
        self.cells.len()
    }

    pub(super) fn cell(&self, place: usize) -> &'a str {
        let (from, to) = self.cells[place];
        &self.text[from..to]
    }

    pub(super) fn cells(&self) -> impl Iterator<Item = &'a str> + Clone + use<'a> {
        let Line { text, cells, .. } = *self;
        cells.iter().map(|&(from, to)| &text[from..to])
    }
}

/// Room for the pieces of a record, used again and again.
#[derive(Debug, Default)]
pub(super) struct Room {
    cells: Vec<(usize, usize)>,
    /// The text of a line that has quotes, without them.
    text: String,
}

impl Room {
    /// The pieces of a record, as a CSV reader took them from a text that begins at byte `from` of the file.
    pub(super) fn of_record<'a>(
        &'a mut self,
        record: &'a csv::StringRecord,
        from: u64,
    ) -> Line<'a> {
        let text = record.as_slice();
        let cells = (0..record.len()).filter_map(|place| record.range(place));
        self.cells.clear();
        self.cells.extend(cells.map(|cell| (cell.start, cell.end)));
        Line {
            text,
            cells: &self.cells,
            is_plain: memchr2(b'\'', b',', text.as_bytes()).is_none(),
            at: from + record.position().map_or(0, csv::Position::byte),
        }
    }

    /// The pieces of a line; `None` where a quoted cell goes on behind its end.
    pub(super) fn of_line<'a>(
        &'a mut self,
        line: &'a str,
        separator: u8,
        at: u64,
    ) -> Option<Line<'a>> {
        self.cells.clear();
        let bytes = line.as_bytes();
        if memchr(b'"', bytes).is_some() {
            self.unquote(line, separator)?;
            let text = self.text.as_str();
            return Some(Line {
                text,
                cells: &self.cells,
                is_plain: memchr2(b'\'', b',', text.as_bytes()).is_none(),
                at,
            });
        }
        let mut from = 0;
        each(separator, bytes, |end| {
            self.cells.push((from, end));
            from = end + 1;
        });
        self.cells.push((from, line.len()));
        let guarded = memchr(b'\'', bytes).is_some();
        let comma = separator != b',' && memchr(b',', bytes).is_some();
        Some(Line {
            text: line,
            cells: &self.cells,
            is_plain: !guarded && !comma,
            at,
        })
    }

    /// Takes the quotes off the cells that begin with one; two of them in such a cell are one (RFC 4180, and what spreadsheets
    /// make of text behind the closing one). `None` where the last is not closed.
    fn unquote(&mut self, line: &str, separator: u8) -> Option<()> {
        self.text.clear();
        let mut rest = line;
        loop {
            let from = self.text.len();
            if let Some(quoted) = rest.strip_prefix('"') {
                rest = quoted;
                loop {
                    let (before, behind) = rest.split_once('"')?;
                    self.text.push_str(before);
                    rest = behind;
                    match rest.strip_prefix('"') {
                        Some(behind) => {
                            self.text.push('"');
                            rest = behind;
                        }
                        None => break,
                    }
                }
            }
            let end = memchr(separator, rest.as_bytes());
            self.text.push_str(&rest[..end.unwrap_or(rest.len())]);
            self.cells.push((from, self.text.len()));
            match end {
                Some(end) => rest = &rest[end + 1..],
                None => return Some(()),
            }
        }
    }
}

/// Tells the place of every separator, eight bytes at a time: of cells that are mostly empty a search for the next one is slow.
fn each(separator: u8, bytes: &[u8], mut found: impl FnMut(usize)) {
    const LOW: u64 = u64::from_le_bytes([0x7f; 8]);
    let pattern = u64::from_le_bytes([separator; 8]);
    let (words, rest) = bytes.as_chunks::<8>();
    for (k, word) in words.iter().enumerate() {
        let differs = u64::from_le_bytes(*word) ^ pattern;
        // The highest bit of each byte that does not differ, and no other.
        let mut equal = !(((differs & LOW) + LOW) | differs | LOW);
        while equal != 0 {
            found(8 * k + (equal.trailing_zeros() / 8) as usize);
            equal &= equal - 1;
        }
    }
    let first = bytes.len() - rest.len();
    for (k, byte) in rest.iter().enumerate() {
        if *byte == separator {
            found(first + k);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cells(line: &str, separator: u8) -> Option<Vec<String>> {
        let mut room = Room::default();
        let line = room.of_line(line, separator, 0)?;
        Some(line.cells().map(str::to_owned).collect())
    }

    proptest! {
        #[test]
        fn a_line_is_cut_as_the_csv_crate_cuts_it(line in "[ab '\",;é]{1,24}", semicolons: bool) {
            let separator = if semicolons { b';' } else { b',' };
            let mut reader = csv::ReaderBuilder::new()
                .has_headers(false)
                .delimiter(separator)
                .from_reader(line.as_bytes());
            let record = reader.records().next().unwrap().unwrap();
            let theirs: Vec<String> = record.iter().map(str::to_owned).collect();
            match cells(&line, separator) {
                Some(ours) => prop_assert_eq!(ours, theirs),
                // The library takes what is open at the end of the text for closed.
                None => prop_assert!(line.contains('"')),
            }
        }
    }

    #[test]
    fn a_cell_that_goes_on_in_the_next_line_is_not_cut() {
        assert_eq!(cells("a,\"b", b','), None);
        assert_eq!(
            cells("a,\"b,\"\"\",", b','),
            Some(vec!["a".into(), "b,\"".into(), "".into()])
        );
    }
}
