//! Writes output files atomically, and only over files of the same form: a reader sees the old file or the new one, never
//! a part, and nothing that was not written by this tool is lost.

use std::fs::{File, Metadata, Permissions};
use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use crate::error;
use crate::error::{Error, ErrorKind, Result};

/// A form of output, told by how its files begin.
#[derive(Debug, Clone, Copy)]
pub struct Form {
    /// What a file of this form is, such as "a starts table".
    pub name: &'static str,
    /// Whether a file that begins with these bytes was written in this form.
    pub is_own: fn(&[u8]) -> bool,
}

/// Bytes by which a form is recognised: a starts table may have a long first line.
const HEAD: u64 = 1 << 16;
/// Maximum number of symbolic links from a name to its file, as in Linux.
const MOST_LINKS: usize = 40;

/// Where an output goes.
#[derive(Debug)]
enum Place {
    /// A pipe or a device such as `/dev/null`: written to directly, since a rename would replace it.
    Direct,
    /// A file that is created or replaced, with the permissions of the one there is.
    File(PathBuf, Option<Permissions>),
}

/// Checks that an output replaces nothing but a file of its own form.
///
/// # Errors
/// Another file is there, a folder, or one that is write-protected.
pub fn check(path: &Path, form: &Form) -> Result<()> {
    place(path, form).map(drop)
}

/// Writes a file atomically. Where there is one already, it must be empty or of the same form; its permissions stay,
/// and a symbolic link's target is what is replaced.
///
/// # Errors
/// As [`check`], or the operating system refused; nothing half-written is left behind.
pub fn whole(
    path: &Path,
    form: &Form,
    fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<()> {
    let done = match place(path, form)? {
        Place::Direct => {
            let file = File::options().write(true).open(path);
            file.and_then(|file| buffered(file, fill).map(drop))
        }
        Place::File(file, permissions) => replace(&file, permissions, fill),
    };
    done.map_err(|source| Error::io(path, "write", source))
}

fn place(path: &Path, form: &Form) -> Result<Place> {
    let Ok(about) = path.metadata() else {
        let file = target(path).map_err(|e| Error::io(path, "write", e))?;
        return Ok(Place::File(file, None));
    };
    if about.is_dir() {
        let problem = "is a folder, not a file";
        return Err(Error::new(
            ErrorKind::NotAFile,
            error::Place::file(path),
            problem,
        ));
    }
    if !about.is_file() {
        return special(path, &about).map(|()| Place::Direct);
    }
    let kept = |problem: String| {
        Err(
            Error::new(ErrorKind::OutputExists, error::Place::file(path), problem)
                .hint("Name another file"),
        )
    };
    // A browser's files have no permissions.
    let permissions = Some(about.permissions()).filter(|_| !cfg!(target_family = "wasm"));
    if permissions.as_ref().is_some_and(Permissions::readonly) {
        return kept("is write-protected".to_owned());
    }
    let mut head = Vec::new();
    File::open(path)
        .and_then(|file| file.take(HEAD).read_to_end(&mut head))
        .map_err(|e| Error::io(path, "read", e))?;
    // An empty file holds nothing that could be lost.
    if !head.is_empty() && !(form.is_own)(&head) {
        return kept(format!("already exists and is not {}", form.name));
    }
    let file = target(path).map_err(|e| Error::io(path, "write", e))?;
    Ok(Place::File(file, permissions))
}

/// Pipes and character devices take what is written to them; a disk would lose what is on it.
fn special(path: &Path, about: &Metadata) -> Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        let kind = about.file_type();
        if !(kind.is_char_device() || kind.is_fifo()) {
            let problem = "is a disk or a socket; a file is needed";
            return Err(Error::new(
                ErrorKind::NotAFile,
                error::Place::file(path),
                problem,
            ));
        }
    }
    let _ = (path, about);
    Ok(())
}

/// The file that a name stands for, through all symbolic links, whether it is there or not.
fn target(path: &Path) -> io::Result<PathBuf> {
    if let Ok(file) = path.canonicalize() {
        return Ok(file);
    }
    let mut path = path.to_path_buf();
    for _ in 0..MOST_LINKS {
        let Ok(to) = path.read_link() else {
            return Ok(path);
        };
        path = folder_of(&path).join(to);
    }
    Err(io::Error::other("too many symbolic links"))
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

fn replace(
    path: &Path,
    permissions: Option<Permissions>,
    fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> io::Result<()> {
    let folder = folder_of(path);
    let fresh = Fresh::create_in(folder).map_err(plain)?;
    let fresh = fresh.filled(fill)?;
    if let Some(permissions) = permissions {
        fresh.file().set_permissions(permissions)?;
    }
    fresh.persist(path).map_err(plain)
}

/// An error without the name of a temporary file, which means nothing to the user.
fn plain(error: io::Error) -> io::Error {
    match error.kind() {
        io::ErrorKind::NotFound => io::Error::new(error.kind(), "there is no such folder"),
        kind => error
            .raw_os_error()
            .map_or(kind.into(), io::Error::from_raw_os_error),
    }
}

/// A new file in a folder: without a name where the system has such files, so that nothing is left of it whatever ends
/// the program.
enum Fresh {
    #[cfg(target_os = "linux")]
    Nameless(File),
    Named(tempfile::NamedTempFile),
}

impl Fresh {
    fn create_in(folder: &Path) -> io::Result<Fresh> {
        #[cfg(target_os = "linux")]
        if let Ok(file) = nameless(folder) {
            return Ok(Fresh::Nameless(file));
        }
        #[cfg_attr(not(unix), allow(unused_mut))]
        let mut builder = tempfile::Builder::new();
        #[cfg(unix)]
        {
            // Temporary files are private by default; outputs are readable like other new files.
            use std::os::unix::fs::PermissionsExt;
            builder.permissions(Permissions::from_mode(0o666));
        }
        builder.tempfile_in(folder).map(Fresh::Named)
    }

    fn file(&self) -> &File {
        match self {
            #[cfg(target_os = "linux")]
            Fresh::Nameless(file) => file,
            Fresh::Named(file) => file.as_file(),
        }
    }

    fn filled(self, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<Fresh> {
        buffered(self.file(), fill)?;
        Ok(self)
    }

    fn persist(self, path: &Path) -> io::Result<()> {
        match self {
            #[cfg(target_os = "linux")]
            Fresh::Nameless(file) => {
                let link = |name: &Path| link(&file, name);
                // A name that is free is given at once; only where a file must be replaced is there another for a moment.
                if link(path).is_err() {
                    let named = tempfile::Builder::new().make_in(folder_of(path), link)?;
                    named.persist(path)?;
                }
            }
            Fresh::Named(file) => {
                file.persist(path)?;
            }
        }
        Ok(())
    }
}

#[cfg(target_os = "linux")]
fn nameless(folder: &Path) -> io::Result<File> {
    use rustix::fs::{Mode, OFlags, open};
    let flags = OFlags::WRONLY | OFlags::TMPFILE | OFlags::CLOEXEC;
    // The name that it gets in the end comes from here.
    if !Path::new("/proc/self/fd").is_dir() {
        return Err(io::ErrorKind::Unsupported.into());
    }
    Ok(open(folder, flags, Mode::from_raw_mode(0o666))?.into())
}

/// Gives a file without a name one.
#[cfg(target_os = "linux")]
fn link(file: &File, name: &Path) -> io::Result<()> {
    use rustix::fs::{AtFlags, CWD, linkat};
    use std::os::fd::AsRawFd;
    let own = format!("/proc/self/fd/{}", file.as_raw_fd());
    Ok(linkat(CWD, own, CWD, name, AtFlags::SYMLINK_FOLLOW)?)
}

fn buffered<W: Write>(to: W, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<W> {
    let mut buffer = BufWriter::new(to);
    fill(&mut buffer)?;
    buffer.into_inner().map_err(io::IntoInnerError::into_error)
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: Form = Form {
        name: "a page",
        is_own: |head| head.starts_with(b"page"),
    };

    fn write(path: &Path, bytes: &[u8]) -> Result<()> {
        whole(path, &PAGE, |out| out.write_all(bytes))
    }

    fn refused(path: &Path) -> String {
        write(path, b"page new").unwrap_err().to_string()
    }

    #[test]
    fn a_failed_write_leaves_the_old_file_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page.html");
        write(&path, b"page old").unwrap();
        let failed = whole(&path, &PAGE, |out| {
            out.write_all(b"page half")?;
            Err(io::Error::other("disk full"))
        });
        assert!(
            failed
                .unwrap_err()
                .to_string()
                .ends_with("cannot write: disk full")
        );
        assert_eq!(std::fs::read(&path).unwrap(), b"page old");
        assert_eq!(folder.path().read_dir().unwrap().count(), 1);
    }

    #[test]
    fn a_file_of_another_form_is_kept_and_an_empty_one_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page.html");
        for other in [&b"RIFF"[..], b"{}", b"Page"] {
            std::fs::write(&path, other).unwrap();
            assert!(refused(&path).contains("already exists and is not a page"));
            assert_eq!(std::fs::read(&path).unwrap(), other);
        }
        std::fs::write(&path, b"").unwrap();
        write(&path, b"page new").unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"page new");
        assert!(refused(folder.path()).contains("is a folder"));
    }

    #[test]
    fn a_missing_folder_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("none").join("page.html");
        let error = refused(&path);
        assert!(error.contains("page.html: cannot write"), "{error}");
        assert!(error.ends_with("there is no such folder"), "{error}");
    }

    #[cfg(unix)]
    #[test]
    fn permissions_stay_and_a_link_goes_on_to_point_at_the_file() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = tempfile::tempdir().unwrap();
        let [file, link, to_none] = ["file", "link", "to none"].map(|n| folder.path().join(n));
        let mode = |path: &Path| path.metadata().unwrap().permissions().mode() & 0o777;
        std::fs::write(&file, b"page old").unwrap();
        std::fs::set_permissions(&file, Permissions::from_mode(0o640)).unwrap();
        symlink("file", &link).unwrap();
        write(&link, b"page new").unwrap();
        assert_eq!(std::fs::read(&file).unwrap(), b"page new");
        assert_eq!(
            (mode(&file), link.read_link().unwrap()),
            (0o640, "file".into())
        );
        symlink("made", &to_none).unwrap();
        write(&to_none, b"page").unwrap();
        assert!(to_none.is_symlink() && folder.path().join("made").is_file());
        std::fs::set_permissions(&file, Permissions::from_mode(0o440)).unwrap();
        assert!(refused(&link).contains("is write-protected"));
        symlink("loop", folder.path().join("loop")).unwrap();
        assert!(refused(&folder.path().join("loop")).contains("too many symbolic links"));
    }

    #[cfg(unix)]
    #[test]
    fn a_device_is_written_to_and_not_replaced() {
        let null = Path::new("/dev/null");
        write(null, b"x").unwrap();
        assert!(!null.metadata().unwrap().is_file());
    }
}
