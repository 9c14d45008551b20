//! When a recording was made: by the run sheet, by the file itself, or by the time of the file; and which of them says so.

use std::path::Path;
use std::time::UNIX_EPOCH;

use crate::bytes::Bytes;
use crate::job::Run;

/// Sheet column that says where a date comes from.
pub(crate) const DATE_FROM: &str = "date_from";

/// Chunks that are looked at.
const MOST_CHUNKS: usize = 1000;
/// Offset of date and time in a broadcast extension chunk, and their lengths (EBU Tech 3285, 2.3).
const BEXT: (usize, usize, usize) = (320, 10, 8);
/// Bytes of a chunk that are read.
const MOST_BYTES: usize = 1 << 16;

/// Dates a run where the sheet does not, and notes what the date comes from.
pub(super) fn date(run: &mut Run) {
    let from = match run.date {
        Some(_) => Some((run.date.clone(), "sheet")),
        None => in_file(&run.path).or_else(|| Some((Some(of_file(&run.path)?), "file time"))),
    };
    if let Some((date, from)) = from {
        run.date = date;
        run.other.insert(DATE_FROM.to_owned(), from.to_owned());
    }
}

/// What a WAV file says itself: its broadcast extension, or the creation date in its list of information (RIFF MCI, ICRD).
fn in_file(path: &Path) -> Option<(Option<String>, &'static str)> {
    let bytes = Bytes::file(path).ok()?;
    let mut head = [0; 12];
    bytes.read_at(0, &mut head).ok()?;
    let is_riff = [b"RIFF", b"RF64", b"BW64"]
        .iter()
        .any(|id| head.starts_with(*id));
    let mut at = 12;
    let mut listed = None;
    for _ in 0..MOST_CHUNKS {
        let mut head = [0; 8];
        if !is_riff || bytes.read_at(at, &mut head).is_err() {
            break;
        }
        let [id @ .., a, b, c, d] = head;
        let size = u64::from(u32::from_le_bytes([a, b, c, d]));
        if &id == b"bext" || &id == b"LIST" {
            let there = bytes.length().saturating_sub(at + 8).min(size);
            let mut body = vec![0; MOST_BYTES.min(there as usize)];
            bytes.read_at(at + 8, &mut body).ok()?;
            if let Some(date) = of_bext(&body).filter(|_| &id == b"bext") {
                return Some((Some(date), "bext"));
            }
            listed = listed.or_else(|| of_list(&body).filter(|_| &id == b"LIST"));
        }
        at += 8 + size + size % 2;
    }
    Some((Some(listed?), "ICRD"))
}

/// Date and time of a broadcast extension; any character may part the numbers.
fn of_bext(body: &[u8]) -> Option<String> {
    let (at, date, time) = BEXT;
    let day = numbers(body.get(at..at + date)?)?;
    let clock = numbers(body.get(at + date..at + date + time)?);
    match (day, clock) {
        ([y, m, d], Some([h, min, s])) if h < 24 && min < 60 && s < 60 => {
            Some(format!("{}T{h:02}:{min:02}:{s:02}", is_day(y, m, d)?))
        }
        ([y, m, d], _) => is_day(y, m, d),
    }
}

/// The creation date of a list of information.
fn of_list(body: &[u8]) -> Option<String> {
    let body = body.strip_prefix(b"INFO")?;
    let at = memchr::memmem::find(body, b"ICRD")?;
    let [y, m, d] = numbers(body.get(at + 8..at + 18)?)?;
    is_day(y, m, d)
}

/// Three numbers with a character between them.
fn numbers(text: &[u8]) -> Option<[u32; 3]> {
    let text = std::str::from_utf8(text).ok()?;
    let mut parts = text
        .split(|c: char| !c.is_ascii_digit())
        .map(|part| part.parse().ok());
    Some([parts.next()??, parts.next()??, parts.next()??])
}

fn is_day(year: u32, month: u32, day: u32) -> Option<String> {
    let plausible =
        (1970..=9999).contains(&year) && (1..=12).contains(&month) && (1..=31).contains(&day);
    plausible.then(|| format!("{year:04}-{month:02}-{day:02}"))
}

/// When a file was last written to, in coordinated universal time.
fn of_file(path: &Path) -> Option<String> {
    let modified = path.metadata().ok()?.modified().ok()?;
    let seconds = modified.duration_since(UNIX_EPOCH).ok()?.as_secs();
    let (mut year, mut days) = (1970, seconds / 86_400);
    let leap =
        |year: u32| year.is_multiple_of(4) && !year.is_multiple_of(100) || year.is_multiple_of(400);
    while days >= 365 + u64::from(leap(year)) {
        days -= 365 + u64::from(leap(year));
        year += 1;
    }
    let february = 28 + u64::from(leap(year));
    let mut month = 1;
    for length in [31, february, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31] {
        if days < length {
            break;
        }
        days -= length;
        month += 1;
    }
    let (h, m, s) = (seconds / 3600 % 24, seconds / 60 % 60, seconds % 60);
    Some(format!(
        "{year:04}-{month:02}-{:02}T{h:02}:{m:02}:{s:02}Z",
        days + 1
    ))
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    fn chunk(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
        let size = (body.len() as u32).to_le_bytes();
        [id, &size[..], body, &vec![0; body.len() % 2]].concat()
    }

    fn dated(chunks: &[Vec<u8>]) -> Option<(String, String)> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.wav");
        let body = [b"WAVE".to_vec(), chunks.concat()].concat();
        std::fs::write(&path, chunk(b"RIFF", &body)).unwrap();
        // 2024-02-29T23:59:58Z (from memory: GNU date -u -d @1709251198).
        let file = std::fs::File::options().append(true).open(&path).unwrap();
        file.set_modified(UNIX_EPOCH + Duration::from_secs(1_709_251_198))
            .unwrap();
        let mut run = Run::bare(1, &path);
        date(&mut run);
        Some((run.date?, run.other.remove(DATE_FROM)?))
    }

    fn bext(moment: &[u8]) -> Vec<u8> {
        let mut body = vec![0; 602];
        body[320..320 + moment.len()].copy_from_slice(moment);
        chunk(b"bext", &body)
    }

    #[test]
    fn a_file_dates_itself_or_is_dated_by_its_time_and_the_source_is_said() {
        let data = chunk(b"data", &[1, 2, 3]);
        let info = chunk(
            b"LIST",
            b"INFOISFT\x04\0\0\0log\0ICRD\x0b\0\0\x002026-03-09\0",
        );
        let told = |date: &str, from: &str| Some((date.to_owned(), from.to_owned()));
        let by_bext = told("2026-03-10T22:05:01", "bext");
        assert_eq!(
            dated(&[data.clone(), info.clone(), bext(b"2026-03-1022:05:01")]),
            by_bext
        );
        assert_eq!(dated(&[bext(b"2026:03:1022-05-01"), data.clone()]), by_bext);
        assert_eq!(dated(&[data.clone(), info]), told("2026-03-09", "ICRD"));
        for nothing in [vec![data.clone()], vec![bext(b"\0\0\0"), data], vec![]] {
            assert_eq!(dated(&nothing), told("2024-02-29T23:59:58Z", "file time"));
        }
    }

    #[test]
    fn the_sheet_says_it_first() {
        let mut run = Run {
            date: Some("2026-01-02".to_owned()),
            ..Run::bare(1, Path::new("none"))
        };
        date(&mut run);
        assert_eq!(
            (run.date.as_deref(), &*run.other[DATE_FROM]),
            (Some("2026-01-02"), "sheet")
        );
    }
}
