use crate::score::Verdict;
use crate::text::*;

#[test]
fn what_steers_a_terminal_is_shown_as_an_escape() {
    assert_eq!(
        plain("a\u{1b}[31mb\u{202e}c\n\u{9b}"),
        "a\\u{1b}[31mb\\u{202e}c\\u{a}\\u{9b}"
    );
    assert_eq!(plain("Kessel é 漢 🫖"), "Kessel é 漢 🫖");
}

#[test]
fn long_names_lose_their_middle() {
    assert_eq!(fit("2026-03-14-lid-0001.wav", 16), "2026-03-…001.wav");
    assert_eq!(fit("漢字漢字", 5), "漢…字");
    assert_eq!(fit("short", 5), "short");
}

#[test]
fn a_rising_trace_rises_from_left_to_right() {
    let columns: Vec<[f32; 2]> = (0..32).map(|i| [i as f32, i as f32 + 1.0]).collect();
    let marks = [(0.5, "lit"), (0.52, "settled")];
    let trace = Sketch {
        label: "current, A",
        columns: &columns,
        from_s: 0.0,
        to_s: 1.0,
        marks: &marks,
    };
    insta::assert_snapshot!(sketch(&trace, 41, 4));
}

fn row(start: u32, verdict: Verdict, flags: &[crate::flag::Flag]) -> crate::score::StartRow {
    let lit = verdict != Verdict::NoLight;
    let instants = crate::start::Instants {
        t_first_s: Some(1.25),
        t_lit_s: lit.then_some(1.3),
        ..Default::default()
    };
    let mut measures = crate::measure::Measures::default();
    if lit {
        measures.start_ms = Some(61.53);
        measures.lit_a = Some(38.2);
        measures.run_a = Some(80.04);
        measures.wander_v = Some(0.297);
        measures.dropouts = Some(1.0);
    }
    measures.attempts = Some(3.0);
    crate::score::StartRow {
        recording: "2026-03-14-kettle-lid-0007.wav".into(),
        run: 1,
        prep: "fine, 30°".into(),
        start,
        instants,
        measures: (&measures).into(),
        flags: flags.to_vec(),
        doubt: None,
        score: Some(if lit { 83.4 } else { 0.0 }),
        verdict: Some(verdict),
        ..crate::score::StartRow::default()
    }
}

#[test]
fn the_starts_table_fits_eighty_columns_and_flags_are_wrapped_not_cut() {
    use crate::flag::Flag;
    let rows = [
        row(1, Verdict::Crisp, &[]),
        row(2, Verdict::NoLight, &[Flag::VoltageScale, Flag::Retry]),
        row(
            113,
            Verdict::Rough,
            &[
                Flag::ChannelsSwapped,
                Flag::Dropout,
                Flag::Wander,
                Flag::NotSettled,
            ],
        ),
    ];
    let table = starts(&rows, TermStyle::plain(80));
    assert!(
        table.lines().all(|line| line.chars().count() <= 80),
        "{table}"
    );
    insta::assert_snapshot!(table);
    let mut of_one = rows;
    of_one[1].run = 2;
    let table = starts(&of_one, TermStyle::plain(80));
    assert!(
        table.lines().all(|line| line.chars().count() <= 80),
        "{table}"
    );
}

#[test]
fn a_starts_table_of_many_rows_keeps_its_columns_to_the_end() {
    let mut rows: Vec<_> = (1..=2_300).map(|k| row(k, Verdict::Crisp, &[])).collect();
    rows[2_200].prep = "a longer".into();
    let table = starts(&rows, TermStyle::plain(80));
    let lines: Vec<&str> = table.lines().collect();
    let body = &lines[lines.len() - rows.len()..];
    assert!(
        body[2_299].trim_start().starts_with("2300 "),
        "{}",
        body[2_299]
    );
    let columns = |line: &&str| {
        let before = |word: &str| line.split(word).next().map(|text| text.chars().count());
        assert!(line.contains("crisp"), "{line}");
        ["crisp", "0.297"].map(before)
    };
    let first = columns(&body[0]);
    assert!(
        body.iter().all(|line| columns(line) == first),
        "{}\n{}",
        body[0],
        body[2_200]
    );
}

#[test]
fn a_comparison_reads_from_the_answer_down() {
    use crate::study::{
        About, Comparison, Event, Group, Pair, PairVerdict, Range, RateDifference, Share,
        StartLevel, Warning,
    };
    let group = |id: &str, rough: usize, score: f64| Group {
        id: id.to_owned(),
        tips: 6,
        starts: 24,
        lit: 23,
        no_light: 1,
        rough,
        rough_rate: rough as f64 / 24.0,
        rough_lo: 0.01,
        rough_hi: 0.27,
        score_median: Some(score),
    };
    let pair = |measure: &str, usual: [f64; 2], shift: [f64; 3], verdict, more_tips| Pair {
        a: "A".to_owned(),
        b: "B".to_owned(),
        measure: measure.to_owned(),
        about: About::Prep,
        tips_a: 6,
        tips_b: 6,
        n_a: 24,
        n_b: 24,
        median_a: usual[0],
        median_b: usual[1],
        usual_a: usual[0],
        usual_b: usual[1],
        shift: shift[0],
        shift_lo: Some(shift[1]),
        shift_hi: Some(shift[2]),
        p: Some(1e-5),
        p_holm: Some(3e-5),
        cliffs_delta: 0.8,
        verdict,
        withheld: None,
        better: crate::measure::Better::Lower,
        margin: Some(0.05),
        blocks: 2,
        share: Some(Share {
            share: 0.23,
            lo: 0.0,
            hi: 0.61,
        }),
        more_tips,
        more_starts: None,
        by_starts: StartLevel {
            shift: shift[0],
            lo: None,
            hi: None,
            p: 0.02,
            blocks: 2,
        },
    };
    let more = Range {
        lo: 3,
        enough: 7,
        hi: 9,
    };
    let answer = Comparison {
        by: "prep".to_owned(),
        level: 0.95,
        answers: "start_ms".to_owned(),
        extended: false,
        set_aside: 2,
        doubtful: 1,
        groups: vec![group("A", 2, 86.1), group("B", 9, 57.0)],
        pairs: vec![
            pair(
                "start_ms",
                [61.5, 143.2],
                [80.3, 62.0, 101.2],
                PairVerdict::ABetter,
                None,
            ),
            pair(
                "wander_v",
                [0.112, 0.118],
                [0.006, -0.01, 0.02],
                PairVerdict::NotEnough,
                Some(more),
            ),
        ],
        overall: vec![],
        while_striking: vec![],
        rates: vec![RateDifference {
            a: "A".to_owned(),
            b: "B".to_owned(),
            event: Event::Rough,
            about: About::Prep,
            rate_a: 2.0 / 24.0,
            rate_b: 9.0 / 24.0,
            diff: 7.0 / 24.0,
            diff_lo: 0.05,
            diff_hi: 0.49,
            p: 0.036,
        }],
        warnings: vec![Warning::Order {
            first: "A".to_owned(),
            last: "B".to_owned(),
        }],
    };
    insta::assert_snapshot!(comparison(&answer, TermStyle::plain(80)));
}
