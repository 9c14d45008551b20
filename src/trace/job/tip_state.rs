//! How a tip looked after a run, read from the welder's words.

/// What the words of `tip_after` come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum TipState {
    /// Nothing wrong to be seen.
    Sound,
    /// Blue, purple, grey or black: it was hot without gas over it.
    Oxidised,
    /// It touched the pool, the rod or the work, or has metal on it.
    Contaminated,
    /// Rounded or balled by heat.
    Melted,
    /// Split, chipped, or its end is gone.
    Broken,
}

/// Beginnings of words, and what they stand for; the worst comes first.
const WORDS: [(TipState, &[&str]); 5] = [
    (
        TipState::Broken,
        &["split", "crack", "chip", "broke", "lost", "gone", "missing"],
    ),
    (
        TipState::Contaminated,
        &[
            "contamin", "dirty", "alumin", "touch", "stuck", "dip", "picked", "spatter", "metal",
        ],
    ),
    (
        TipState::Oxidised,
        &["blue", "purple", "grey", "gray", "black", "oxid", "discol"],
    ),
    (
        TipState::Melted,
        &["ball", "round", "melt", "mushroom", "blob", "bulb", "blunt"],
    ),
    (
        TipState::Sound,
        &[
            "sound", "clean", "bright", "silver", "sharp", "as", "good", "fine", "ok",
        ],
    ),
];

impl TipState {
    /// Reads a welder's words; `None` where they say nothing that is known here.
    pub fn parse(text: &str) -> Option<TipState> {
        let lower = text.to_lowercase();
        let words: Vec<&str> = lower
            .split(|c: char| !c.is_alphabetic())
            .filter(|word| !word.is_empty())
            .collect();
        let denied = |i: usize| i > 0 && ["no", "not", "without", "never"].contains(&words[i - 1]);
        WORDS.iter().find_map(|(state, starts)| {
            let known = |word: &str| match state {
                TipState::Sound => starts.contains(&word),
                _ => starts.iter().any(|start| word.starts_with(start)),
            };
            let said = (0..words.len()).any(|i| known(words[i]) && !denied(i));
            said.then_some(*state)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::TipState;

    #[test]
    fn a_tip_is_known_by_the_worst_that_is_said_of_it() {
        for (text, state) in [
            ("as ground", Some(TipState::Sound)),
            ("clean", Some(TipState::Sound)),
            ("blue", Some(TipState::Oxidised)),
            ("grey, a bit rounded", Some(TipState::Oxidised)),
            ("touched the pool", Some(TipState::Contaminated)),
            ("aluminium on it", Some(TipState::Contaminated)),
            ("slightly rounded", Some(TipState::Melted)),
            ("a little ball", Some(TipState::Melted)),
            ("split at the end", Some(TipState::Broken)),
            ("clean, not blue", Some(TipState::Sound)),
            ("no ball", None),
            ("a little pitted", None),
            ("", None),
        ] {
            assert_eq!(TipState::parse(text), state, "{text}");
        }
    }
}
