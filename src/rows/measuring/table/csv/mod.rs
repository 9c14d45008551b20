//! CSV becomes rows, block after block: the text is never held as a whole.

mod blocks;
mod line;
mod rows;

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::measuring::table::columns::Wanted;
use crate::measuring::table::room::{LONGEST_ROW, Lines};
use crate::parallel;
use crate::score::StartRow;
use line::Room;
use rows::{Reading, is_head};

pub(super) use rows::line_at;

/// Records that are taken out of the text at a time, while those before them become rows.
const AT_A_TIME: usize = 2048;

/// Separators a spreadsheet may have saved the table with.
const SEPARATORS: [u8; 3] = [b',', b';', b'\t'];

/// The separator with which a line is the head of a starts table.
pub(super) fn separator(line: &str) -> Option<u8> {
    SEPARATORS.into_iter().find(|separator| {
        let mut reader = ::csv::ReaderBuilder::new()
            .has_headers(false)
            .delimiter(*separator)
            .from_reader(line.as_bytes());
        let first = reader.records().next();
        first.is_some_and(|record| {
            record.is_ok_and(|record| is_head(&Room::default().of_record(&record, 0)))
        })
    })
}

/// Reads the rows, and where each begins in the file.
///
/// # Errors
/// File, line and column, what was found and what was expected.
pub(super) fn read(
    path: &Path,
    separator: u8,
    wanted: Wanted,
) -> Result<(Vec<StartRow>, Vec<u64>)> {
    let unread = |e: io::Error| Error::io(path, "read", e);
    let mut file = File::open(path).map_err(unread)?;
    let mut reading = Reading::new(path, separator, wanted);
    if let Some(rest) = blocks::read(&mut file, separator, &mut reading, unread)? {
        file.seek(SeekFrom::Start(rest)).map_err(unread)?;
        read_records(path, file, rest, separator, &mut reading)?;
    }
    reading.finish()
}

/// Reads the rows of any CSV from a byte on, with cells of several lines and further head lines.
fn read_records(
    path: &Path,
    file: File,
    from: u64,
    separator: u8,
    reading: &mut Reading,
) -> Result<()> {
    let mut reader = ::csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .buffer_capacity(1 << 18)
        .from_reader(Lines::new(file));
    let (mut now, mut next) = (Records::new(from), Records::new(from));
    now.fill(&mut reader);
    loop {
        // While these become rows, the next are taken out of the text.
        let ((), done) = parallel::both(|| next.fill(&mut reader), || now.make_rows(reading));
        done?;
        if let Some(stopped) = now.stopped.take() {
            return Err(refused(path, from, stopped));
        }
        if now.found().is_empty() {
            return Ok(());
        }
        std::mem::swap(&mut now, &mut next);
    }
}

/// Some records of the text, one after the other.
struct Records {
    /// Where in the file the reader began.
    from: u64,
    /// The room for them, used again and again; whether each is a head line.
    room: Vec<(::csv::StringRecord, bool)>,
    /// How many of it are taken; none at the end of the text.
    found: usize,
    /// What stopped the reader behind them.
    stopped: Option<::csv::Error>,
}

impl Records {
    fn new(from: u64) -> Records {
        Records {
            from,
            room: Vec::new(),
            found: 0,
            stopped: None,
        }
    }

    fn found(&self) -> &[(::csv::StringRecord, bool)] {
        &self.room[..self.found]
    }

    fn fill(&mut self, reader: &mut ::csv::Reader<impl Read>) {
        self.room.resize_with(AT_A_TIME, Default::default);
        self.found = 0;
        let mut pieces = Room::default();
        for (record, heads) in &mut self.room {
            match reader.read_record(record) {
                Ok(true) => {
                    *heads = is_head(&pieces.of_record(record, self.from));
                    self.found += 1;
                }
                Ok(false) => break,
                Err(error) => {
                    self.stopped = Some(error);
                    break;
                }
            }
        }
    }

    fn make_rows(&self, reading: &mut Reading) -> Result<()> {
        for mut under_one in self.found().chunk_by(|_, (_, heads)| !heads) {
            if let [(head, true), rows @ ..] = under_one {
                reading.begin(&Room::default().of_record(head, self.from))?;
                under_one = rows;
            }
            let each = under_one.len().div_ceil(Reading::lanes()).max(1);
            let shares: Vec<_> = under_one.chunks(each).collect();
            reading.take(&shares, |lane, about, records| {
                let mut room = std::mem::take(&mut lane.room);
                for (record, _) in *records {
                    lane.add(about, &room.of_record(record, self.from))?;
                }
                lane.room = room;
                Ok(None)
            })?;
        }
        Ok(())
    }
}

/// What stops the reader: the system, or letters that are not UTF-8.
fn refused(path: &Path, from: u64, error: ::csv::Error) -> Error {
    let at = from + error.position().map_or(0, ::csv::Position::byte);
    match error.into_kind() {
        ::csv::ErrorKind::Io(refused) if refused.kind() == io::ErrorKind::InvalidData => {
            too_long(path)
        }
        ::csv::ErrorKind::Io(refused) => Error::io(path, "read", refused),
        _ => not_utf8(path, line_at(path, at)),
    }
}

/// Letters that cannot be read, in a line.
pub(super) fn not_utf8(path: &Path, line: u64) -> Error {
    let problem = "has letters that are not UTF-8";
    Error::new(ErrorKind::NotUtf8, Place::file(path).line(line), problem)
        .hint("Save the table as CSV UTF-8")
}

/// A text without line ends is no table.
pub(super) fn too_long(path: &Path) -> Error {
    let most = LONGEST_ROW >> 20;
    let problem = format!("has a row of more than {most} MiB");
    Error::new(ErrorKind::StartsTable, Place::file(path), problem).hint("Is it the right file?")
}
