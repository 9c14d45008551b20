//! The console blocks of README.md and docs/verbs.md, run as they stand.

#[test]
fn the_readme_prints_what_it_says() {
    trycmd::TestCases::new().case("README.md");
}

#[test]
fn the_page_of_verbs_has_their_help_word_for_word() {
    trycmd::TestCases::new().case("docs/verbs.md");
}
