//! The console blocks of README.md, docs/verbs.md and docs/rehearse.md, run as they stand.

#[test]
fn the_readme_prints_what_it_says() {
    trycmd::TestCases::new().case("README.md");
}

#[test]
fn the_page_of_verbs_has_their_help_word_for_word() {
    trycmd::TestCases::new().case("docs/verbs.md");
}

#[test]
fn the_rehearsal_of_the_samples_is_what_its_page_shows() {
    trycmd::TestCases::new().case("docs/rehearse.md");
}
