//! The console blocks of README.md, run as they stand.

#[test]
fn the_readme_prints_what_it_says() {
    trycmd::TestCases::new().case("README.md");
}
