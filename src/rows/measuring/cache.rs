//! A cache of measured starts: a recording that was measured before is not measured again.
//!
//! An entry is valid for one content of a file, one set of rules and one build of the tool. What is not there, damaged or of
//! another content is measured, so the folder can be deleted at any time.

use std::fs;
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};

use serde::{Deserialize, Serialize};

use crate::bytes;
use crate::bytes::Identity;
use crate::error::{Error, Result};
use crate::measuring::store::{MOST_BYTES, Store};
use crate::recording::Finding;
use crate::start::Start;

/// An entry in use is written anew after this many days, so that it stays among the newest.
const FRESH_DAYS: u64 = 30;
/// A file that changed a moment ago is told by its content, if it is no longer than this, bytes.
const MOST_HASHED: u64 = 64 << 20;
/// A recording with more starts is measured each time: its entry would fill the store.
const MOST_STARTS: usize = 1000;

/// Result of measuring a recording or a part of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Found {
    /// Its starts, without previews.
    pub starts: Vec<Start>,
    /// When each start began, s: where the circuit opened up, or the first current.
    pub began_s: Vec<f64>,
    /// Findings about the recording.
    pub findings: Vec<Finding>,
    /// Length of the recording, s.
    pub length_s: f64,
}

/// A cache in a folder.
#[derive(Debug)]
pub struct Cache {
    store: Store,
    tool: String,
}

#[derive(Serialize, Deserialize)]
struct CacheEntry<F> {
    /// Day on which it was written, since 1970.
    day: u64,
    /// Identity of the file, if it was at rest.
    identity: Option<Identity>,
    /// SHA-256 of the content, if it was not.
    content: Option<String>,
    found: F,
}

impl<F> CacheEntry<F> {
    /// Whether a file still holds what was measured.
    fn is_of(&self, path: &Path) -> bool {
        let same = self.identity.is_some() && self.identity == Identity::of(path);
        let hashed = self.content.as_ref();
        same || hashed.is_some_and(|hash| bytes::sha256(path).is_ok_and(|now| now == *hash))
    }
}

impl Cache {
    /// Opens the cache of one build of the tool, since another build may measure differently.
    ///
    /// # Errors
    /// The operating system refused.
    pub fn open(folder: &Path, tool: &str) -> Result<Cache> {
        fs::create_dir_all(folder).map_err(|e| Error::io(folder, "create", e))?;
        Ok(Cache {
            store: Store::new(folder, MOST_BYTES),
            tool: tool.to_owned(),
        })
    }

    /// The entry of a recording under these rules, if it is still of its content.
    pub fn get(&self, path: &Path, rules: &str) -> Option<Found> {
        let key = self.key(path, rules);
        let text = self.store.get(&key)?;
        let entry: CacheEntry<Found> = serde_json::from_slice(&text).ok()?;
        if !entry.is_of(path) {
            return None;
        }
        if today() >= entry.day + FRESH_DAYS {
            let day = today();
            let entry = CacheEntry { day, ..entry };
            self.write(&key, &entry);
            return Some(entry.found);
        }
        Some(entry.found)
    }

    /// Stores what was measured of a recording; `before` is its identity before that. What cannot be stored is measured again.
    pub fn put(&self, path: &Path, rules: &str, before: Option<Identity>, found: &Found) {
        if found.starts.len() > MOST_STARTS {
            return;
        }
        let small = before.as_ref().is_some_and(|i| i.length() <= MOST_HASHED);
        let identity = before.clone().filter(Identity::is_at_rest);
        let content = match identity {
            None if small => bytes::sha256(path).ok(),
            _ => None,
        };
        // A file that changed in the meantime is not stored.
        let told = identity.is_some() || content.is_some();
        if told && Identity::of(path) == before {
            let entry = CacheEntry {
                day: today(),
                identity,
                content,
                found,
            };
            self.write(&self.key(path, rules), &entry);
        }
    }

    fn write<F: Serialize>(&self, key: &str, entry: &CacheEntry<F>) {
        if let Ok(text) = serde_json::to_vec(entry) {
            self.store.put(key, &text);
        }
    }

    /// Key of a recording, a set of rules and a tool.
    fn key(&self, path: &Path, rules: &str) -> String {
        let path = path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
        bytes::sha256_of(&format!("{}\n{}\n{rules}", path.display(), self.tool))
    }
}

/// Days since 1970.
fn today() -> u64 {
    let now = SystemTime::now().duration_since(UNIX_EPOCH);
    now.unwrap_or_default().as_secs() / 86_400
}

#[cfg(test)]
mod tests {
    use std::fs::File;
    use std::path::PathBuf;

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
            began_s: vec![0.0],
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
            if let Some(known) = cache.get(&self.recording, rules) {
                return known;
            }
            self.measured.set(self.measured.get() + 1);
            let found = found(1.0 / 3.0 + f64::from(self.measured.get()));
            let identity = Identity::of(&self.recording);
            cache.put(&self.recording, rules, identity, &found);
            found
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
            let whole = fs::read(entry).unwrap();
            let cut = [&whole[..whole.len() / 2], spoil].concat();
            fs::write(entry, cut).unwrap();
            bench.ask("1", "rules");
        }
        assert_eq!(bench.measured.get(), 5);
        fs::remove_dir_all(bench.folder.path().join("kept")).unwrap();
        bench.ask("1", "rules");
        assert_eq!(bench.measured.get(), 6);
    }
}
