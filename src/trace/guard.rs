//! Text that a spreadsheet would run as a formula, made harmless and back: for every table that is written.
//!
//! A cell, or a part of one after a `;`, tab or line end (a spreadsheet set to another separator splits
//! there), that begins with `=`, `+`, `-`, `@`, their full-width twins, a tab or a line end gets an
//! apostrophe before it. So does one that begins with an apostrophe, so that reading can take it away again.
//! (The list of first characters is that of the OWASP note on CSV injection.)

/// Makes text harmless to a spreadsheet; [`unguard`] gives it back.
pub fn guard(text: &str) -> String {
    let mut guarded = String::with_capacity(text.len());
    let mut begins = true;
    for c in text.chars() {
        if begins && (c == '\'' || runs(c)) {
            guarded.push('\'');
        }
        guarded.push(c);
        begins = separates(c);
    }
    guarded
}

/// Takes away what [`guard`] put in.
pub fn unguard(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    let mut begins = true;
    let mut chars = text.chars().peekable();
    while let Some(mut c) = chars.next() {
        if begins && c == '\'' {
            c = chars
                .next_if(|next| *next == '\'' || runs(*next))
                .unwrap_or(c);
        }
        plain.push(c);
        begins = separates(c);
    }
    plain
}

/// Whether a spreadsheet may take a cell that begins so for a formula.
fn runs(c: char) -> bool {
    matches!(
        c,
        '=' | '+' | '-' | '@' | '＝' | '＋' | '－' | '＠' | '\t' | '\r' | '\n'
    )
}

/// Whether a spreadsheet of another setting may split a cell here.
fn separates(c: char) -> bool {
    matches!(c, ';' | '\t' | '\r' | '\n')
}
