//! A finding in sentences.

use serde::Serialize;

/// A finding in sentences: what was found, why it matters, who says so, what to try.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Remark {
    /// What was found, with numbers and units.
    pub what: String,
    /// Why it matters.
    pub why: String,
    /// A document and its page, or "common practice, no source".
    pub source: String,
    /// What to try, or to try first.
    #[serde(rename = "try")]
    pub to_try: String,
}
