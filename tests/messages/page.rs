//! docs/messages.md as data: its sections and the messages that each quotes.

use std::path::Path;
use std::sync::LazyLock;

/// A section of the page.
pub struct Section {
    /// Its heading; for a kind of error that is its id.
    pub heading: String,
    /// Whether it explains a kind of error.
    pub of_a_kind: bool,
    /// The messages that it quotes, with `{words}` for what varies.
    pub messages: Vec<String>,
}

/// Sections of the page, in its order.
pub static SECTIONS: LazyLock<Vec<Section>> = LazyLock::new(|| {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/messages.md");
    let mut sections: Vec<Section> = Vec::new();
    for line in std::fs::read_to_string(page).unwrap().lines() {
        if let Some(heading) = line.trim_start_matches('#').strip_prefix(' ')
            && line.starts_with('#')
        {
            let id = (heading.strip_prefix('`')).and_then(|rest| rest.strip_suffix('`'));
            sections.push(Section {
                heading: id.unwrap_or(heading).to_owned(),
                of_a_kind: id.is_some(),
                messages: Vec::new(),
            });
        } else if let Some(quoted) = line.strip_prefix("- `") {
            let message = quoted.split('`').next().unwrap().to_owned();
            let section = sections.last_mut().expect("a heading comes first");
            section.messages.push(message);
        }
    }
    sections
});

/// The fixed words of a message.
pub fn fixed_parts(message: &str) -> Vec<&str> {
    message.split(['{', '}']).step_by(2).collect()
}

/// Whether what was said holds a message that the section quotes.
pub fn explains(heading: &str, said: &str) -> bool {
    let section = SECTIONS.iter().find(|section| section.heading == heading);
    let section = section.unwrap_or_else(|| panic!("docs/messages.md has no section {heading}"));
    section.messages.iter().any(|message| {
        let mut rest = said;
        fixed_parts(message)
            .iter()
            .all(|part| match rest.split_once(part) {
                Some((_, behind)) => {
                    rest = behind;
                    true
                }
                None => false,
            })
    })
}
