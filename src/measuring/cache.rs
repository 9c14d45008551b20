//! A cache of measured starts: screening a folder that has grown measures new recordings only.
//!
//! An entry is valid for one content of a file, one set of rules and one build of the tool. Invalid or unreadable
//! entries are measured again, so the folder can be deleted at any time.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
use crate::recording::Finding;
use crate::start::Start;
use crate::{bytes, output};

/// Entries unused for this long are evicted.
const KEPT: Duration = Duration::from_secs(90 * 86_400);
/// Entries in use are marked at most once in this time.
const MARKED: Duration = Duration::from_secs(86_400);
/// A file changed less than this long ago may change again without a new modification time.
const AT_REST: Duration = Duration::from_secs(2);
/// Maximum size of a cache entry, bytes; larger files are not ours.
const LONGEST: u64 = 1 << 28;

/// Result of measuring a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Found {
    /// Its starts, without previews.
    pub starts: Vec<Start>,
    /// Findings about the recording.
    pub findings: Vec<Finding>,
    /// Length of the recording, s.
    pub length_s: f64,
}

/// A cache in a folder.
#[derive(Debug)]
pub struct Cache {
    folder: PathBuf,
    tool: String,
}

#[derive(Serialize, Deserialize)]
struct CacheEntry {
    tool: String,
    rules: String,
    /// Identity of the file, if it was at rest.
    identity: Option<Identity>,
    /// SHA-256 of the content.
    content: String,
    found: Found,
}

impl Cache {
    /// Opens the cache of one build of the tool, since another build may measure differently, and evicts old entries.
    ///
    /// # Errors
    /// The operating system refused.
    pub fn open(folder: &Path, tool: &str) -> Result<Cache> {
        fs::create_dir_all(folder).map_err(|e| Error::io(folder, "create", e))?;
        let entries = fs::read_dir(folder).map_err(|e| Error::io(folder, "read", e))?;
        for entry in entries.flatten().map(|e| e.path()) {
            if unused_for(&entry).is_some_and(|age| age > KEPT) {
                // An entry that cannot be evicted does no harm.
                let _ = fs::remove_file(entry);
            }
        }
        Ok(Cache {
            folder: folder.to_path_buf(),
            tool: tool.to_owned(),
        })
    }

    /// Returns the entry of a recording under these rules, or measures it and stores the result.
    ///
    /// # Errors
    /// Errors of measuring. A cache that cannot be read or written causes none.
    pub fn found(
        &self,
        path: &Path,
        rules: &str,
        measure: impl FnOnce() -> Result<Found>,
    ) -> Result<Found> {
        let place = self.place(path, rules);
        let identity = Identity::of(path);
        let kept = self.read(&place, rules);
        if let Some(entry) = kept {
            let same =
                identity.as_ref().is_some_and(Identity::is_sure) && entry.identity == identity;
            if same || bytes::sha256(path)? == entry.content {
                mark(&place);
                return Ok(entry.found);
            }
        }
        let found = measure()?;
        let entry = CacheEntry {
            tool: self.tool.clone(),
            rules: rules.to_owned(),
            content: bytes::sha256(path)?,
            identity: identity.clone().filter(Identity::is_at_rest),
            found,
        };
        // A file that changed in the meantime is not stored.
        if Identity::of(path) == identity {
            let _ = output::whole(&place, |out| Ok(serde_json::to_writer(out, &entry)?));
        }
        Ok(entry.found)
    }

    /// Path of the entry of a recording and a set of rules.
    fn place(&self, path: &Path, rules: &str) -> PathBuf {
        let path = path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
        let name = bytes::sha256_of(&format!("{}\n{rules}", path.display()));
        self.folder.join(format!("{name}.json"))
    }

    fn read(&self, place: &Path, rules: &str) -> Option<CacheEntry> {
        let text = bytes::Bytes::file(place).ok()?.whole(LONGEST).ok()?;
        let entry: CacheEntry = serde_json::from_slice(&text).ok()?;
        (entry.tool == self.tool && entry.rules == rules).then_some(entry)
    }
}

fn unused_for(entry: &Path) -> Option<Duration> {
    entry.metadata().ok()?.modified().ok()?.elapsed().ok()
}

/// Marks an entry as used.
fn mark(place: &Path) {
    if unused_for(place).is_some_and(|age| age > MARKED)
        && let Ok(file) = File::options().append(true).open(place)
    {
        let _ = file.set_modified(SystemTime::now());
    }
}

/// Metadata of a file that stays the same as long as nobody writes to it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Identity {
    length: u64,
    modified: Duration,
    /// Device, inode and time of the last change, s and ns, which no program can set back.
    changed: Option<(u64, u64, i64, i64)>,
}

impl Identity {
    /// Identity of a file; `None` if the system does not provide it.
    pub fn of(path: &Path) -> Option<Identity> {
        let about = path.metadata().ok()?;
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

    /// Device and inode: the same for all names of one file.
    pub(super) fn inode(&self) -> Option<(u64, u64)> {
        self.changed.map(|(device, inode, ..)| (device, inode))
    }

    /// Whether no change can hide from it.
    /// Whether it reveals every change.
    fn is_sure(&self) -> bool {
        self.changed.is_some()
    }

    /// Whether the last change is long enough ago for the next one to show.
    fn is_at_rest(&self) -> bool {
        let now = SystemTime::now()
            .duration_since(UNIX_EPOCH)
            .unwrap_or_default();
        self.changed.is_some_and(|(_, _, seconds, _)| {
            u64::try_from(seconds).is_ok_and(|s| Duration::from_secs(s + 1) + AT_REST < now)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(number: f64) -> Found {
        let mut start = Start {
            instants: Default::default(),
            measures: Default::default(),
            flags: Vec::new(),
            doubts: Vec::new(),
            preview: None,
        };
        start.measures.run_a = Some(number);
        Found {
            starts: vec![start],
            findings: Vec::new(),
            length_s: 1.0,
        }
    }

    /// A cache, a recording in another folder, and how often the recording was measured.
    struct Bench {
        folder: tempfile::TempDir,
        recording: PathBuf,
        measured: std::cell::Cell<u32>,
    }

    impl Bench {
        fn new() -> Bench {
            let folder = tempfile::tempdir().unwrap();
            let recording = folder.path().join("a.wav");
            fs::write(&recording, b"one").unwrap();
            Bench {
                folder,
                recording,
                measured: Default::default(),
            }
        }

        fn ask(&self, tool: &str, rules: &str) -> Found {
            let cache = Cache::open(&self.folder.path().join("kept"), tool).unwrap();
            let measure = || {
                self.measured.set(self.measured.get() + 1);
                Ok(found(1.0 / 3.0 + f64::from(self.measured.get())))
            };
            cache.found(&self.recording, rules, measure).unwrap()
        }

        fn entries(&self) -> Vec<PathBuf> {
            let entries = fs::read_dir(self.folder.path().join("kept")).unwrap();
            entries.map(|e| e.unwrap().path()).collect()
        }
    }

    #[test]
    fn what_was_measured_once_is_given_again_to_the_bit() {
        let bench = Bench::new();
        let first = bench.ask("1", "rules");
        assert_eq!(bench.ask("1", "rules"), first);
        assert_eq!(bench.measured.get(), 1);
    }

    #[test]
    fn other_content_other_rules_and_another_tool_are_measured_anew() {
        let bench = Bench::new();
        bench.ask("1", "rules");
        bench.ask("1", "other rules");
        assert_eq!(bench.measured.get(), 2);
        bench.ask("2", "rules");
        assert_eq!(bench.measured.get(), 3);
        // Same length and modification time as before: only the content differs.
        let modified = bench.recording.metadata().unwrap().modified().unwrap();
        fs::write(&bench.recording, b"two").unwrap();
        let file = File::options().append(true).open(&bench.recording).unwrap();
        file.set_modified(modified).unwrap();
        bench.ask("2", "rules");
        assert_eq!(bench.measured.get(), 4);
    }

    #[test]
    fn a_spoilt_or_deleted_entry_is_measured_anew() {
        let bench = Bench::new();
        bench.ask("1", "rules");
        for spoil in [&b""[..], b"{", b"\xff\xfe", b"{\"tool\":\"1\"}"] {
            let [entry] = &bench.entries()[..] else {
                panic!("one entry")
            };
            fs::write(entry, spoil).unwrap();
            bench.ask("1", "rules");
        }
        assert_eq!(bench.measured.get(), 5);
        fs::remove_dir_all(bench.folder.path().join("kept")).unwrap();
        bench.ask("1", "rules");
        assert_eq!(bench.measured.get(), 6);
    }

    #[test]
    fn an_entry_long_of_no_use_is_dropped() {
        let bench = Bench::new();
        bench.ask("1", "rules");
        let old = SystemTime::now() - KEPT - Duration::from_secs(60);
        let file = File::options()
            .append(true)
            .open(&bench.entries()[0])
            .unwrap();
        file.set_modified(old).unwrap();
        Cache::open(&bench.folder.path().join("kept"), "1").unwrap();
        assert!(bench.entries().is_empty());
    }

    /// An entry in use is marked again after a day.
    #[test]
    fn an_entry_of_use_is_marked_once_a_day() {
        let bench = Bench::new();
        bench.ask("1", "rules");
        let marked_after = |age: Duration| {
            let entry = &bench.entries()[0];
            let file = File::options().append(true).open(entry).unwrap();
            file.set_modified(SystemTime::now() - age).unwrap();
            bench.ask("1", "rules");
            unused_for(entry).unwrap() < Duration::from_secs(600)
        };
        assert!(marked_after(MARKED + Duration::from_secs(3600)));
        assert!(!marked_after(MARKED - Duration::from_secs(3600)));
        assert_eq!(bench.measured.get(), 1);
    }

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
        assert!(!untold.is_at_rest() && !untold.is_sure() && changed(0).is_sure());
    }
}
