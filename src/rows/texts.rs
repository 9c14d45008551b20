//! Texts that come again: each is held once.

use std::collections::HashSet;
use std::sync::Arc;

/// The texts met so far. A million starts have some thousand names of recordings and tips.
#[derive(Debug, Default)]
pub(crate) struct Texts {
    known: HashSet<Arc<str>>,
    /// Rows of a run follow each other.
    last: Arc<str>,
}

impl Texts {
    /// The text as it was met before, where it was.
    pub(crate) fn shared(&mut self, text: &str) -> Arc<str> {
        if *self.last != *text {
            self.last = match self.known.get(text) {
                Some(known) => known.clone(),
                None => {
                    let new: Arc<str> = text.into();
                    self.known.insert(new.clone());
                    new
                }
            };
        }
        self.last.clone()
    }
}
