//! How findings are made: which table speaks, what is shared between rows, what nothing is made up of.

use std::path::PathBuf;

use tipstrike::fit::tables::{COMPOSITE, CURRENT_TABLES, RangeColumn};
use tipstrike::fit::{Concern, FitFinding, Kind, Level, fit};
use tipstrike::job::{Job, Process, Run, SIZES_MM, StartMethod};

use super::foreman::sheet;

/// A sound prep on 2.4 mm; `change` replaces or adds keys.
pub(super) fn job(change: &[(&str, &str)], run: Run) -> Job {
    let mut keys = vec![
        ("class", "\"WLa20\""),
        ("diameter", "\"2.4 mm\""),
        ("taper_deg", "32"),
        ("tip", "\"point\""),
        ("marks", "\"lengthwise\""),
    ];
    for (key, value) in change {
        keys.retain(|(known, _)| known != key);
        keys.push((key, value));
    }
    let body: String = keys
        .iter()
        .filter(|(_, value)| !value.is_empty())
        .map(|(key, value)| format!("{key} = {value}\n"))
        .collect();
    let mut job = Job::parse(&format!("[prep.A]\n{body}"), "job.toml", PathBuf::new())
        .unwrap_or_else(|e| panic!("{e}"));
    job.runs = vec![run];
    job
}

pub(super) fn dc(amps: f64) -> Run {
    Run {
        number: 1,
        line: 2,
        file: "a.wav".to_owned(),
        prep: "A".to_owned(),
        set_a: Some(amps),
        process: Some(Process::Dc),
        ..Run::default()
    }
}

pub(super) fn ac(amps: f64, en_pct: Option<f64>) -> Run {
    Run {
        process: Some(Process::Ac),
        set_en_pct: en_pct,
        ..dc(amps)
    }
}

pub(super) fn about<'a>(findings: &'a [FitFinding], about: &str) -> Option<&'a FitFinding> {
    findings.iter().find(|f| f.about() == about)
}

/// Manual OM-880, Table 6-2 (2.4 mm, DC negative, with oxide: 135–235 A), against the other tables.
#[test]
fn a_current_outside_a_range_names_the_table_that_spoke_and_the_spread() {
    let findings = fit(&job(&[("taper_deg", "60")], dc(260.0)));
    let current = about(&findings, "current").unwrap();
    assert_eq!(
        (current.level(), current.rows.as_slice()),
        (Level::Change, [2].as_slice())
    );
    let source = current.remark().source;
    assert!(
        source.starts_with("manual OM-880, p. 20, Table 6-2: 135–235 A"),
        "{source}"
    );
    for spread in [
        "manual 1383499, p. 32 (figures of the AWS A5.12 annex): 150–250 A",
        "p. 16: 100–250 A",
        "manual 1938185, p. 16: 160–250 A",
        "manual 595261, p. 49: 100–165 A",
    ] {
        assert!(source.contains(spread), "{source}");
    }
}

/// Where the range of a diameter ends on AC, by the finding that names the tables.
fn top_on_ac(class: &str, size: f64, en_pct: f64) -> f64 {
    let size = format!("\"{size} mm\"");
    let keys = [
        ("class", class),
        ("diameter", size.as_str()),
        ("tip", "\"rounded\""),
        ("taper_deg", ""),
    ];
    let findings = fit(&job(&keys, ac(5000.0, Some(en_pct))));
    let over = findings.iter().find_map(|f| match &f.kind {
        Kind::Fit(Concern::OverRange { tables, .. }, _) => Some(tables[0].1.1),
        _ => None,
    });
    over.expect("5000 A are over every range")
}

/// Positive heats the tungsten (manual of a 275 A multi-process machine, p. 91): with more of it no size carries more.
#[test]
fn with_more_electrode_positive_the_limit_falls_and_never_rises() {
    for class in ["\"WLa20\"", "\"WP\"", "\"WZr8\""] {
        for size in SIZES_MM {
            let tops: Vec<f64> = (1..=99)
                .map(|en| top_on_ac(class, size, f64::from(en)))
                .collect();
            assert!(
                tops.windows(2).all(|pair| pair[0] <= pair[1]),
                "{class} {size} mm: {tops:?}"
            );
            assert!(
                tops[0] < tops[44],
                "{class} {size} mm: under the balanced column it falls"
            );
        }
    }
}

/// Manual OM-880, Table 6-2: 50 % is its balanced column, 65 % and more its unbalanced one; near 0 % lies DC positive.
#[test]
fn the_columns_of_the_table_hold_where_they_are_meant() {
    for size in SIZES_MM {
        let column = |column| COMPOSITE.range(size, column).map(|range| range.1);
        assert_eq!(
            Some(top_on_ac("\"WLa20\"", size, 50.0)),
            column(RangeColumn::AcBalancedOxide)
        );
        assert_eq!(
            Some(top_on_ac("\"WLa20\"", size, 70.0)),
            column(RangeColumn::AcUnbalancedOxide)
        );
        assert_eq!(
            Some(top_on_ac("\"WP\"", size, 70.0)),
            column(RangeColumn::AcUnbalancedPure)
        );
        if let Some(positive) = column(RangeColumn::Dcep) {
            let near = top_on_ac("\"WLa20\"", size, 1.0);
            assert!(
                near > positive && near < 1.2 * positive + 1.0,
                "{size} mm: {near} A, DC positive {positive} A"
            );
        }
    }
    assert!(CURRENT_TABLES.len() >= 5);
}

/// OM-880 lists no DC positive for 1.0 mm; on aluminium, where positive cleans.
#[test]
fn a_size_that_no_table_lists_is_told_so() {
    let findings = fit(&sheet(
        "diameter=1.0 mm; process=dcep; set_a=8; material=aluminium",
    ));
    let current = about(&findings, "current").unwrap();
    assert_eq!(
        current.remark().what,
        "1 mm is not recommended for DC electrode positive"
    );
    assert_eq!(current.level(), Level::Change);
}

#[test]
fn what_is_not_written_down_is_told_and_nothing_is_made_up_of_it() {
    let findings = fit(&sheet(
        "class=; diameter=; taper_deg=; tip=; marks=; set_a=",
    ));
    let said: Vec<String> = findings.iter().map(|f| f.remark().what).collect();
    assert_eq!(
        said,
        [
            "not written down: class, diameter, taper_deg, tip, marks",
            "set_a is empty"
        ]
    );
    assert!(
        fit(&sheet(
            "process=ac; set_en_pct=70; set_a=120; tip=balled; class=WZr8; taper_deg=; marks="
        ))
        .iter()
        .all(|f| f.about() != "sheet")
    );
}

#[test]
fn a_prep_without_runs_is_judged_for_what_holds_of_it_alone() {
    let mut job = sheet("class=WTh20; marks=crosswise");
    job.runs.clear();
    let findings = fit(&job);
    let said: Vec<&str> = findings.iter().map(|f| f.about()).collect();
    assert_eq!(said, ["marks", "thorium", "sheet"]);
}

#[test]
fn runs_that_ask_the_same_share_a_finding() {
    let mut job = job(&[("taper_deg", "60")], dc(260.0));
    job.runs.push(Run {
        line: 3,
        ..dc(260.0)
    });
    job.runs.push(Run {
        line: 4,
        start_method: Some(StartMethod::Hf),
        ..dc(260.0)
    });
    job.runs.push(Run {
        line: 5,
        ..dc(200.0)
    });
    let findings = fit(&job);
    let current: Vec<_> = findings.iter().filter(|f| f.about() == "current").collect();
    assert_eq!(current.len(), 1, "{current:#?}");
    assert_eq!(current[0].rows, [2, 3, 4]);
}

/// The order of a welder's reading: what is unsafe first.
#[test]
fn findings_that_ask_for_most_come_first() {
    let findings = fit(&sheet("class=WTh20; process=dcep; set_a=100; wheel=coarse"));
    let levels: Vec<Level> = findings.iter().map(FitFinding::level).collect();
    assert!(levels.is_sorted(), "{levels:?}");
    assert_eq!(levels.first(), Some(&Level::Change));
}
