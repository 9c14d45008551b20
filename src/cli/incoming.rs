//! The bytes of a recording that is still being written: a growing file, or what comes in on stdin.

use std::fs::{File, Metadata};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::bytes::Identity;
use crate::error::{Error, ErrorKind, Result};

/// Bytes per read.
pub const PIECE: usize = 1 << 16;
/// Time between reads of a file that does not grow.
pub const WAIT: Duration = Duration::from_millis(50);

/// What a read gave.
#[derive(Debug)]
pub enum Piece {
    /// This many bytes.
    Bytes(usize),
    /// Nothing new: read again after [`WAIT`].
    Nothing,
    /// The recording is over.
    End,
    /// The file will not grow on: what happened to it.
    Lost(&'static str),
}

/// A recording that is being written.
#[derive(Debug)]
pub struct Incoming {
    /// Its name, as given.
    pub name: PathBuf,
    /// `None`: stdin.
    file: Option<File>,
    /// Go on past the end of the file.
    follow: bool,
    read: u64,
}

impl Incoming {
    /// Opens a file, or stdin for `-`.
    ///
    /// # Errors
    /// A file that cannot be read, or a folder.
    pub fn open(input: &Path, follow: bool) -> Result<Incoming> {
        let stdin = input == Path::new("-");
        let name = match stdin {
            true => PathBuf::from("stdin"),
            false => input.to_path_buf(),
        };
        let file = if stdin { None } else { Some(growing(&name)?) };
        Ok(Incoming {
            name,
            file,
            follow,
            read: 0,
        })
    }

    /// Reads what is there.
    ///
    /// # Errors
    /// The operating system refused.
    pub fn next(&mut self, piece: &mut [u8]) -> Result<Piece> {
        let read = match &mut self.file {
            Some(file) => file.read(piece),
            None => io::stdin().lock().read(piece),
        };
        match (read, &self.file) {
            (Ok(0), Some(file)) if self.follow => Ok(match lost(&self.name, file, self.read) {
                None => Piece::Nothing,
                Some(lost) => Piece::Lost(lost),
            }),
            (Ok(0), _) => Ok(Piece::End),
            (Ok(count), _) => {
                self.read += count as u64;
                Ok(Piece::Bytes(count))
            }
            (Err(e), _) if e.kind() == io::ErrorKind::Interrupted => self.next(piece),
            (Err(e), _) => Err(Error::io(&self.name, "read", e)),
        }
    }
}

/// What happened to a file that will not grow on.
fn lost(path: &Path, file: &File, read: u64) -> Option<&'static str> {
    let own = file.metadata().ok().filter(Metadata::is_file)?;
    let inode = |about: &Metadata| Identity::from(about).and_then(|identity| identity.inode());
    match path.metadata() {
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            Some("was deleted while it was followed. The starts up to there were reported")
        }
        Ok(named) if inode(&named) != inode(&own) => Some(
            "was replaced by another file while it was followed. Start again to follow the new one",
        ),
        _ if own.len() < read => {
            Some("was cut while it was followed. Start again to follow it from its beginning")
        }
        _ => None,
    }
}

fn growing(path: &Path) -> Result<File> {
    let file = File::open(path).map_err(|e| Error::io(path, "read", e))?;
    match file.metadata().is_ok_and(|about| about.is_dir()) {
        true => Err(Error::new(
            ErrorKind::NotAFile,
            path.display().to_string(),
            "is a folder",
        )
        .hint("Name the recording that is being written")),
        false => Ok(file),
    }
}
