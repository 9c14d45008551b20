use crate::fit::FitFinding;
use crate::fixtures::made_job;
use crate::job::{JobInfo, Measuring};
use crate::measuring::gather::{Detail, StartSet};
use crate::page::*;
use crate::study::{CompareOptions, ScreenOptions, compare_rows, screen};

fn job() -> JobInfo {
    JobInfo {
        title: Some("Kettle lids, <b>two</b> grinds".to_owned()),
        site: Some("Bench 2".to_owned()),
        who: Some("\u{202e}reversed\u{1b}[31m".to_owned()),
        procedure: None,
        note: Some(
            "Unglaublichlangeswortdasirgendwoumgebrochenwerdenmussweilesnichtpasst".repeat(3),
        ),
    }
}

/// A page of two preps with `each` starts a prep.
fn made_page(each: u32) -> String {
    let (rows, details) = made_job(each, true);
    let comparison = compare_rows(&rows, &CompareOptions::default()).unwrap();
    let gathered = StartSet {
        rows,
        details,
        ..StartSet::default()
    };
    let screening = screen(&gathered, &ScreenOptions::default()).unwrap();
    page(&PageInput {
        job: &job(),
        rows: &gathered.rows,
        details: &gathered.details,
        after: &[],
        comparison: Some(&comparison),
        wear: &screening.regrind,
        screening: Some(&screening),
        every_start: false,
        sources: &[],
        not_read: &[("lost.wav".to_owned(), "no such file".to_owned())],
        files: &[InputFile {
            kind: "job file".to_owned(),
            path: "job.toml".to_owned(),
            sha256: "ab".repeat(32),
        }],
        made: Some("2026-03-09 14:05 UTC"),
        measuring: Some(&Measuring::default()),
    })
}

#[test]
fn nothing_from_a_sheet_gets_out_of_its_place() {
    let page = made_page(12);
    assert!(!page.contains("<script>alert"), "a script got in");
    assert!(!page.contains("<b>two"), "markup got in");
    assert!(
        !page.contains('\u{202e}') && !page.contains('\u{1b}'),
        "a control character got in"
    );
    assert_eq!(page.matches("<script>").count(), 1);
}

#[test]
fn the_page_names_nothing_outside_itself() {
    let page = made_page(12);
    for outside in ["http://", "https://", "src=", "url(", "@import", "//cdn"] {
        let hits = page
            .match_indices(outside)
            .filter(|(at, _)| !page[*at..].starts_with("http://www.w3.org/2000/svg"));
        assert_eq!(hits.count(), 0, "{outside}");
    }
    assert!(
        !page.contains(" style=\""),
        "the policy forbids style attributes"
    );
}

#[test]
fn five_hundred_starts_stay_under_two_megabytes() {
    let (rows, mut details) = made_job(250, true);
    let noise = |k: usize| ((k * 7919 % 997) as f32) / 997.0;
    for preview in details.iter_mut().filter_map(|d| d.preview.as_mut()) {
        // As many points as a measured start keeps.
        let point = |k| [80.0 + noise(k), 12.0 + noise(k + 1), noise(k + 2) - 0.5];
        preview.scatter = (0..500).map(point).collect();
        preview.spectrum = (0..400).map(|k| [k as f32, 1e-4 + noise(k)]).collect();
        preview.wander_band_hz = (2.0, 200.0);
    }
    let comparison = compare_rows(&rows, &CompareOptions::default()).unwrap();
    for every_start in [false, true] {
        let page = page(&PageInput {
            job: &job(),
            rows: &rows,
            details: &details,
            after: &[],
            comparison: Some(&comparison),
            wear: &[],
            screening: None,
            every_start,
            sources: &[],
            not_read: &[],
            files: &[],
            made: None,
            measuring: None,
        });
        assert_eq!(
            page.matches("Voltage against current once settled").count(),
            if every_start { 6 } else { 3 }
        );
        assert!(page.len() < 2_000_000, "{} bytes", page.len());
    }
}

#[test]
fn a_page_from_a_table_says_what_it_lacks() {
    let (rows, _) = made_job(6, false);
    let details = vec![Detail::default(); rows.len()];
    let page = page(&PageInput {
        job: &JobInfo::default(),
        rows: &rows,
        details: &details,
        after: &[],
        comparison: None,
        wear: &[],
        screening: None,
        every_start: false,
        sources: &[],
        not_read: &[],
        files: &[],
        made: None,
        measuring: None,
    });
    assert!(page.contains("a starts table does not hold them"));
    assert!(!page.contains("id=\"traces\"") && !page.contains("id=\"overlay\""));
}

/// The words and the structure of a page: what is blessed elsewhere (style, script, figures, traces) cut out.
fn skeleton(page: &str) -> String {
    let mut rest = page.replace(env!("CARGO_PKG_VERSION"), "VERSION");
    for (open, close) in [
        ("<style>", "</style>"),
        ("<script>", "</script>"),
        ("id=\"traces\">", "</script>"),
        (" d=\"", "\""),
        ("'sha256-", "'"),
    ] {
        rest = cut(&rest, open, close);
    }
    while let Some(from) = rest.find("<svg ") {
        let to = from + rest[from..].find("</svg>").unwrap() + "</svg>".len();
        rest.replace_range(from..to, "<!-- figure -->");
    }
    rest.replace("><", ">\n<")
}

/// All that stands between each `open` and the next `close` taken out.
fn cut(text: &str, open: &str, close: &str) -> String {
    let mut parts = text.split(open);
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |kept, part| {
        let end = part.find(close).unwrap();
        kept + open + &part[end..]
    })
}

#[test]
fn a_small_page_reads_as_blessed() {
    insta::assert_snapshot!(skeleton(&made_page(3)));
}

#[test]
fn what_the_sheet_and_the_starts_disagree_on_stands_on_the_page() {
    let (rows, details) = made_job(3, false);
    let finding = FitFinding {
        prep: "<i>A</i>".to_owned(),
        rows: vec![4],
        kind: crate::fit::Kind::Seen(crate::fit::Seen::Balance {
            measured_pct: 30.0,
            set_pct: Some(70.0),
        }),
    };
    let page = page(&PageInput {
        job: &JobInfo::default(),
        rows: &rows,
        details: &details,
        after: &[finding],
        comparison: None,
        wear: &[],
        screening: None,
        every_start: false,
        sources: &[],
        not_read: &[],
        files: &[],
        made: None,
        measuring: None,
    });
    let section = page.split("<section id=\"sheet\"").nth(1).unwrap();
    let section = section.split("</section>").next().unwrap();
    for told in [
        "&lt;i&gt;A",
        "70 % written down",
        "cleaning end",
        "set the balance",
    ] {
        assert!(section.contains(told), "{told} is not in {section}");
    }
}
