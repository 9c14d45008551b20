//! What it takes to file the page: when and from what it was made, each file with its hash.

use maud::{Markup, PreEscaped, html};

use crate::format::{list, trimmed};
use crate::page::facts::{joined, made, recorded, sheets};
use crate::page::parts::{InputFile, PageInput, name};

/// Where the list of files begins and ends in a page.
const LIST: (&str, &str) = (
    "<script type=\"application/json\" id=\"inputs\">",
    "</script>",
);

/// The files that a page was made from; `None` where the text is no page that tells them.
pub fn inputs_of(page: &str) -> Option<Vec<InputFile>> {
    let (_, rest) = page.split_once(LIST.0)?;
    let (list, _) = rest.split_once(LIST.1)?;
    serde_json::from_str(list).ok()
}

/// The record: facts, then the files.
pub(super) fn record(input: &PageInput) -> Markup {
    let (rows, sheets) = (input.rows, sheets(input.rows));
    let facts = [
        ("Page made", Some(made(input))),
        ("Recorded", recorded(rows)),
        ("Machine", joined(&sheets, "machine")),
        ("Process", joined(&sheets, "process")),
        ("Amps set", joined(&sheets, "set_a")),
        ("Gas", joined(&sheets, "gas")),
        ("Flow", joined(&sheets, "flow")),
        ("Operator", joined(&sheets, "operator")),
        ("Logger scale", joined(&sheets, "logger")),
        ("Logger rate", rates(input)),
    ];
    html! {
        dl.facts { @for (what, text) in facts { dt { (what) } dd { @match text { Some(text) => { (name(&text)) } None => { "not written down" } } } } }
        @if !input.files.is_empty() {
            div.scroll tabindex="0" role="region" aria-label="Files with their hashes" { table {
                caption { "Files with their SHA-256. " code { "tipstrike report --verify" } " with this page says whether they are still the same." }
                thead { tr { th scope="col" { "what" } th scope="col" { "file" } th scope="col" { "SHA-256" } } }
                tbody { @for file in input.files { tr { td { (file.kind) } td { (name(&file.path)) } td.hash { (file.sha256) } } } }
            } }
            (PreEscaped(embedded(input.files)))
        }
    }
}

/// The list for a program; no file name can end the element early.
fn embedded(files: &[InputFile]) -> String {
    let list = serde_json::to_string(files).expect("strings always serialise");
    let escape = |c: char| match c {
        '<' | '>' | '&' => format!("\\u{:04x}", u32::from(c)),
        c if c as u32 > 0x7e => c
            .encode_utf16(&mut [0; 2])
            .iter()
            .map(|unit| format!("\\u{unit:04x}"))
            .collect(),
        c => c.to_string(),
    };
    let list: String = list.chars().map(escape).collect();
    format!("{}{list}{}", LIST.0, LIST.1)
}

/// The rates of the recordings.
fn rates(input: &PageInput) -> Option<String> {
    let previews = input
        .details
        .iter()
        .filter_map(|detail| detail.preview.as_deref());
    let mut rates: Vec<f64> = previews
        .map(|preview| preview.rate_hz)
        .filter(|hz| *hz > 0.0)
        .collect();
    rates.sort_by(f64::total_cmp);
    rates.dedup();
    let words: Vec<String> = rates
        .iter()
        .map(|hz| format!("{} Hz", trimmed(*hz)))
        .collect();
    (!words.is_empty()).then(|| list(&words))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_files_of_a_page_are_read_back_whatever_their_names() {
        let file = |path: &str| InputFile {
            kind: "recording".to_owned(),
            path: path.to_owned(),
            sha256: "ab".repeat(32),
        };
        let files = vec![file("a.wav"), file("</script><b>&\u{202e}שלום 🫖\".wav")];
        let page = embedded(&files);
        assert!(!page[LIST.0.len()..page.len() - LIST.1.len()].contains(['<', '\u{202e}']));
        assert_eq!(inputs_of(&page), Some(files));
        assert_eq!(inputs_of("<html>"), None);
    }
}
