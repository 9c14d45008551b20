//! "Did you mean": finds the known word nearest to an unknown one.

/// Maximum length of a word to compare, bytes; longer ones would take too long.
const LONGEST: usize = 64;

/// Returns the most similar candidate, if any is similar at all.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    if word.len() > LONGEST {
        return None;
    }
    let word = word.to_lowercase();
    candidates
        .into_iter()
        .map(|c| (strsim::jaro_winkler(&word, &c.to_lowercase()), c))
        .filter(|(likeness, _)| *likeness >= 0.7)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, c)| c)
}

/// Returns the candidate that `word` misspells by a slip of the finger, if there is one.
///
/// One slip, or two in a word of eight letters or more.
pub fn slip_of<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    if word.len() > LONGEST {
        return None;
    }
    let allowed = if word.chars().count() >= 8 { 2 } else { 1 };
    candidates
        .into_iter()
        .map(|c| (strsim::damerau_levenshtein(word, c), c))
        .filter(|(slips, c)| *slips <= allowed && c.chars().count() > 3)
        .min_by_key(|(slips, _)| *slips)
        .map(|(_, c)| c)
}
