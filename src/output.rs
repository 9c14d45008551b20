//! Writes output files atomically: a reader sees the old file or the new one, never a part.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::Path;

use crate::error::{Error, Result};

/// Writes a file atomically: fills a temporary file beside it and renames it.
///
/// Pipes and devices (`/dev/null`) are written to directly, since a rename would replace them.
///
/// # Errors
/// The operating system refused; nothing half-written is left behind.
pub fn whole(path: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<()> {
    let special = path
        .metadata()
        .is_ok_and(|data| !data.is_file() && !data.is_dir());
    let done = if special {
        File::options()
            .write(true)
            .open(path)
            .and_then(|file| buffered(file, fill).map(drop))
    } else {
        replace(path, fill)
    };
    done.map_err(|source| Error::io(path, "write", source))
}

fn replace(path: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<()> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        // Temporary files are private by default; outputs are readable like other new files.
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    // Keep the kind only: the original error names the temporary file, which means nothing to the user.
    let temporary = builder.tempfile_in(folder).map_err(|e| match e.kind() {
        io::ErrorKind::NotFound => io::Error::new(e.kind(), "there is no such folder"),
        kind => kind.into(),
    })?;
    let file = buffered(temporary, fill)?;
    file.persist(path)?;
    Ok(())
}

fn buffered<W: Write>(to: W, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<W> {
    let mut buffer = BufWriter::new(to);
    fill(&mut buffer)?;
    buffer.into_inner().map_err(io::IntoInnerError::into_error)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_leaves_the_old_file_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page.html");
        whole(&path, |out| out.write_all(b"old")).unwrap();
        let failed = whole(&path, |out| {
            out.write_all(b"half")?;
            Err(io::Error::other("disk full"))
        });
        assert!(
            failed
                .unwrap_err()
                .to_string()
                .ends_with("cannot write: disk full")
        );
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(folder.path().read_dir().unwrap().count(), 1);
    }

    #[test]
    fn a_missing_folder_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("none").join("page.html");
        let error = whole(&path, |_| Ok(())).unwrap_err().to_string();
        assert!(error.contains("page.html: cannot write"), "{error}");
        assert!(error.ends_with("there is no such folder"), "{error}");
    }

    #[cfg(unix)]
    #[test]
    fn a_device_is_written_to_and_not_replaced() {
        let null = Path::new("/dev/null");
        whole(null, |out| out.write_all(b"x")).unwrap();
        assert!(!null.metadata().unwrap().is_file());
    }
}
