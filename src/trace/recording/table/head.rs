//! A table with a known layout.

use crate::bytes::Bytes;
use crate::error::Result;
use crate::recording::table::layout::{self, Layout};
use crate::recording::table::stream::Stream;

/// A table with a known layout.
pub(crate) struct Head {
    pub(super) file: Bytes,
    pub layout: Layout,
}

impl Head {
    /// Detects the layout of a table.
    ///
    /// # Errors
    /// Unreadable file, or not a table.
    pub fn open(file: &Bytes) -> Result<Head> {
        let (mut head, mut stream) = (Vec::new(), Stream::open(file)?);
        stream.chunk(layout::HEAD, &mut head)?;
        let layout = Layout::of(&head, file.name())?;
        Ok(Head {
            file: file.clone(),
            layout,
        })
    }

    pub(super) fn stream(&self) -> Result<Stream> {
        let mut stream = Stream::open(&self.file)?;
        stream.seek(self.layout.rows_at)?;
        Ok(stream)
    }
}
