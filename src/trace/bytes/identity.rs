//! What a file was when it was looked at, so that a later look tells whether anybody wrote to it.

use std::fs::Metadata;
use std::path::Path;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use serde::{Deserialize, Serialize};

/// Metadata of a file that stays the same as long as nobody writes to it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Identity {
    length: u64,
    modified: Duration,
    /// Device, inode and time of the last change, s and ns, which no program can set back.
    changed: Option<(u64, u64, i64, i64)>,
}

/// A file changed less than this long ago may change again without a new modification time.
const AT_REST: Duration = Duration::from_secs(2);

impl Identity {
    /// Identity of a file; `None` if the system does not provide it.
    pub fn of(path: &Path) -> Option<Identity> {
        Identity::from(&path.metadata().ok()?)
    }

    /// Identity by the metadata of a file.
    pub fn from(about: &Metadata) -> Option<Identity> {
        #[cfg(unix)]
        let changed = {
            use std::os::unix::fs::MetadataExt;
            Some((about.dev(), about.ino(), about.ctime(), about.ctime_nsec()))
        };
        #[cfg(not(unix))]
        let changed = None;
        Some(Identity {
            length: about.len(),
            modified: about.modified().ok()?.duration_since(UNIX_EPOCH).ok()?,
            changed,
        })
    }

    /// Length of the file, bytes.
    pub fn length(&self) -> u64 {
        self.length
    }

    /// Device and inode: the same for all names of one file.
    pub fn inode(&self) -> Option<(u64, u64)> {
        self.changed.map(|(device, inode, ..)| (device, inode))
    }

    /// Whether the last change is long enough ago for the next one to show.
    pub fn is_at_rest(&self) -> bool {
        let now = SystemTime::now()
            .duration_since(UNIX_EPOCH)
            .unwrap_or_default();
        // A browser refuses to read a file that changed since it was picked.
        cfg!(target_family = "wasm")
            || self.changed.is_some_and(|(_, _, seconds, _)| {
                u64::try_from(seconds).is_ok_and(|s| Duration::from_secs(s + 1) + AT_REST < now)
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A file changed within this second may change again without a new modification time.
    #[test]
    fn a_file_is_at_rest_two_whole_seconds_after_its_change() {
        let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap();
        let changed = |seconds_ago: i64| Identity {
            length: 1,
            modified: now,
            changed: Some((1, 1, now.as_secs() as i64 - seconds_ago, 0)),
        };
        let at_rest = [0, 1, 2, 4, 3600].map(|ago| changed(ago).is_at_rest());
        assert_eq!(at_rest, [false, false, false, true, true]);
        let untold = Identity {
            changed: None,
            ..changed(3600)
        };
        assert!(!untold.is_at_rest());
    }
}
