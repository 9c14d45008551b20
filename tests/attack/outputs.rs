//! Words that would do harm in what is written.

use super::*;

/// What a sheet says reaches the page, the tables and the terminal as words and never as a formula, markup or an escape.
#[test]
fn words_of_a_sheet_stay_words_in_every_output() {
    let sheet = "file,prep,operator,note,cell\n\
        good.wav,A,\"=HYPERLINK(\"\"http://x\"\")\",<script>alert(1)</script>,@SUM(A1)\n";
    let folder = job(
        &format!("[job]\ntitle = \"<img src=x>\"\n{RULES}"),
        sheet.as_bytes(),
    );
    std::fs::write(folder.path().join("good.wav"), struck()).unwrap();
    let (csv, page) = (folder.path().join("s.csv"), folder.path().join("p.html"));
    for args in [
        &["measure", ".", "--csv", "s.csv"][..],
        &["measure", ".", "--jsonl", "s.jsonl", "--figure", "f"],
        &["report", ".", "-o", "p.html"],
        &["screen", ".", "--json", "s.json", "--anew"],
    ] {
        let output = tipstrike(folder.path(), args);
        let code = output.status.code().unwrap_or(-1).clamp(0, 1);
        all_hold(fault(args[0], &output, code, &[]).into_iter().collect());
    }
    let text = std::fs::read_to_string(csv).unwrap();
    assert!(
        text.contains("'=HYPERLINK") && text.contains("'@SUM"),
        "{text}"
    );
    let page = std::fs::read_to_string(page).unwrap();
    assert!(page.contains("&lt;img src=x&gt;") && !page.contains("<img src=x>"));
    assert!(!page.contains("<script>alert"));
    for name in ["s.jsonl", "s.json"] {
        let json = std::fs::read_to_string(folder.path().join(name)).unwrap();
        let values = serde_json::Deserializer::from_str(&json).into_iter::<serde_json::Value>();
        assert!(values.map(Result::unwrap).count() >= 1, "{name}");
    }
}
