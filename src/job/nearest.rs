//! "Did you mean": the known word nearest to one that is not known.

/// A longer word, bytes, is like none, and comparing it would take its time.
const LONGEST: usize = 64;

/// The candidate most like `word`, if any is like it at all.
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

/// The candidate from which `word` differs by a slip of the finger, if there is one.
///
/// One slip, or two in a word of eight letters and more.
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
