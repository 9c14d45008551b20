//! Texts of a table that come again: each is held once.

use std::collections::HashSet;
use std::sync::Arc;

/// The texts met so far. A million starts have some thousand names of recordings and tips.
#[derive(Debug, Default)]
pub(super) struct Texts {
    known: HashSet<Arc<str>>,
    /// Rows of a run follow each other.
    last: Arc<str>,
}

impl Texts {
    /// The text as it was met before, where it was.
    pub(super) fn shared(&mut self, text: &str) -> Arc<str> {
        if *self.last != *text {
            self.last = match self.known.get(text) {
                Some(known) => known.clone(),
                None => text.into(),
            };
            self.known.insert(self.last.clone());
        }
        self.last.clone()
    }
}
