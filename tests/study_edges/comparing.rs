//! The numbers of a comparison, and its cautions.

use std::sync::Arc;

use tipstrike::measure::{Better, Measure, Quantity};
use tipstrike::measuring::gather::StartSet;
use tipstrike::score::StartRow;
use tipstrike::study::{CompareOptions, PairVerdict, compare, compare_rows};

use super::{compared, compared_by, retries, worn_job};
use crate::study_support::{no_light, said, starts};

/// Ten of A (one rough, two without an arc), eight of B (one rough).
#[test]
fn groups_and_rates_are_counts_over_starts() {
    let mut rows = starts("A", &[90.0, 90.0, 90.0, 90.0, 90.0, 90.0, 90.0, 20.0]);
    rows.extend([no_light("A", 9), no_light("A", 10)]);
    rows.extend(starts(
        "B",
        &[85.0, 85.0, 85.0, 85.0, 85.0, 85.0, 85.0, 30.0],
    ));
    let found = compared(&rows);
    let groups: Vec<_> = found
        .groups
        .iter()
        .map(|g| {
            (
                g.id.as_str(),
                g.starts,
                g.lit,
                g.no_light,
                g.rough,
                g.rough_rate,
            )
        })
        .collect();
    assert_eq!(groups, [("A", 10, 8, 2, 3, 0.3), ("B", 8, 8, 0, 1, 0.125)]);
    let rates: Vec<_> = found
        .rates
        .iter()
        .map(|r| (r.event.words(), r.rate_a, r.rate_b, r.diff))
        .collect();
    assert_eq!(
        rates,
        [
            ("rough", 0.3, 0.125, 0.125 - 0.3),
            ("no light", 0.2, 0.0, -0.2),
            ("not crisp", 0.3, 0.125, 0.125 - 0.3)
        ]
    );
    assert!(found.overall.is_empty(), "two groups have their pair");
}

fn of_sheet(prep: &str, key: &str, value: Option<&str>) -> Vec<StartRow> {
    let mut rows = starts(prep, &[80.0, 81.0, 82.0, 83.0]);
    for row in &mut rows {
        Arc::make_mut(&mut row.sheet).extend(value.map(|value| (key.to_owned(), value.to_owned())));
    }
    rows
}

#[test]
fn starts_without_the_column_are_left_out_and_counted() {
    let mut rows = of_sheet("A", "hand", Some("Ann"));
    rows.extend(of_sheet("B", "hand", Some("Bo")));
    assert_eq!(said(&compared_by(&rows, "hand", "score")), [""; 0]);
    Arc::make_mut(&mut rows[0].sheet).clear();
    assert_eq!(
        said(&compared_by(&rows, "hand", "score")),
        ["1 start without hand left out."]
    );
    Arc::make_mut(&mut rows[1].sheet).clear();
    assert_eq!(
        said(&compared_by(&rows, "hand", "score")),
        ["2 starts without hand left out."]
    );
}

#[test]
fn conditions_that_differ_are_named_with_their_values() {
    let warned = |a, b| {
        said(&compared(
            &[of_sheet("A", "gas", a), of_sheet("B", "gas", b)].concat(),
        ))
    };
    let differ = |values: &str| {
        format!(
            "gas is not the same in all groups ({values}): it may be what makes the difference."
        )
    };
    assert_eq!(
        warned(Some("argon"), Some("helium")),
        [differ("A: argon; B: helium")]
    );
    assert_eq!(
        warned(Some("argon"), None),
        [differ("A: argon; B: not written down")]
    );
    assert_eq!(warned(Some("argon"), Some("argon")), [""; 0]);
    assert_eq!(warned(None, None), [""; 0]);
}

#[test]
fn a_logger_that_is_not_known_is_another_one() {
    let warned = said(&compared(
        &[
            of_sheet("A", "logger", Some("blue")),
            of_sheet("B", "logger", None),
        ]
        .concat(),
    ));
    assert_eq!(
        warned,
        [
            "The groups were recorded with different loggers (A: blue / B: not known): a difference of current or voltage has the gain errors of both in it."
        ]
    );
}

/// docs/statistics.md: a tenth more amps, and a Cliff's delta of 0.8.
#[test]
fn amps_order_and_wear_that_differ_enough_are_said() {
    let with = |shape: &dyn Fn(&mut StartRow, usize)| {
        let mut rows = starts("A", &[80.0; 5]);
        rows.extend(starts("B", &[80.0; 5]));
        rows.iter_mut()
            .enumerate()
            .for_each(|(k, row)| shape(row, k));
        said(&compared(&rows))
    };
    let amps = |b: f64| {
        with(&|row, k| {
            row.measures
                .set(Measure::RunA, Some(if k < 5 { 10.0 } else { b }))
        })
    };
    assert_eq!(amps(11.0), [""; 0]);
    assert_eq!(
        amps(11.05),
        ["The groups ran at different amps (A 10 A, B 11 A): starts change with the amps."]
    );
    // Runs 1 to 10; of five against five, two and three pairs of 25 out of order leave 0.84 and 0.76.
    let order = |runs: [u32; 10]| with(&|row, k| row.run = runs[k]);
    let told = order([1, 2, 3, 4, 7, 5, 6, 8, 9, 10]);
    assert_eq!(told.len(), 1);
    assert!(
        told[0].starts_with("All or nearly all starts of A came before those of B:"),
        "{told:?}"
    );
    assert_eq!(order([1, 2, 3, 4, 8, 5, 6, 7, 9, 10]), [""; 0]);
    assert!(
        order([6, 7, 8, 9, 10, 1, 2, 3, 4, 5])[0]
            .starts_with("All or nearly all starts of B came before those of A:")
    );
    assert_eq!(order([1; 10]), [""; 0]);
    let worn = with(&|row, k| {
        row.measures.set(
            Measure::SinceRegrind,
            Some([9.0, 1.0][k / 5] + (k % 5) as f64),
        )
    });
    assert!(
        worn.iter().any(|w| w
            .starts_with("The tips of A had struck more arcs since the regrind than those of B:")),
        "{worn:?}"
    );
    let two_tips = with(&|row, k| {
        row.measures.set(
            Measure::SinceRegrind,
            Some([1.0, 2.0, 1.0, 2.0, 3.0][k % 5]),
        )
    });
    assert_eq!(two_tips, [""; 0]);
}

#[test]
fn coupons_that_are_not_shared_are_said() {
    let with = |coupons: [Option<&str>; 4]| {
        let mut rows = starts("A", &[80.0, 81.0]);
        rows.extend(starts("B", &[80.0, 81.0]));
        rows.iter_mut()
            .zip(coupons)
            .for_each(|(row, coupon)| row.coupon = coupon.map(Into::into));
        said(&compared(&rows))
    };
    let (x, y, z) = (Some("x"), Some("y"), Some("z"));
    assert_eq!(with([x, x, x, x]), [""; 0]);
    assert_eq!(with([x, y, x, y]), [""; 0]);
    assert_eq!(with([None; 4]), [""; 0]);
    assert_eq!(
        with([x, x, y, y]),
        [
            "The groups share no coupon: a difference between the coupons counts as one between them."
        ]
    );
    assert_eq!(
        with([x, y, x, z]),
        [
            "Only 1 of 3 coupons carry starts of every group; a pair is compared on the coupons it shares."
        ]
    );
}

#[test]
fn every_describing_measure_has_no_better_side() {
    let describing = "lit_a run_a run_v wander_hz drift_v en_share_pct ac_hz dc_offset_a pulse_hz ripple_pct ripple_hz explained_pct energy_j charge_c rest_s since_regrind u_start_ms u_run_a u_run_v u_wander_v";
    let neither: Vec<&str> = Measure::ALL
        .iter()
        .filter(|m| m.better() == Better::Neither)
        .map(|m| m.name())
        .collect();
    let mut expected: Vec<&str> = describing.split(' ').collect();
    expected.sort_by_key(|name| Measure::named(name));
    assert_eq!(neither, expected);
    assert_eq!(
        [
            Quantity::named("score").better(),
            Quantity::named("start_ms").better(),
            Quantity::named("bead_mm").better()
        ],
        [Better::Higher, Better::Lower, Better::Lower]
    );
}

#[test]
fn targets_that_differ_between_the_groups_are_a_caution() {
    let gathered = worn_job(4);
    let told = |set: &StartSet| {
        let said = said(&compare(set, &CompareOptions::default()).unwrap());
        let starts = "The groups were scored against different targets";
        said.iter().any(|warning| warning.starts_with(starts))
    };
    assert!(told(&gathered));
    let mut alike = worn_job(4);
    alike.rows.truncate(4);
    alike.details.truncate(4);
    for k in 0..4 {
        alike.rows.push(StartRow {
            prep: "B".into(),
            ..alike.rows[k].clone()
        });
        alike.details.push(alike.details[k].clone());
    }
    assert!(!told(&alike));
}

#[test]
fn one_coupon_is_no_block_and_ties_at_no_shift_are_still_a_difference() {
    let mut rows = starts("A", &[80.0, 81.0, 82.0, 83.0]);
    rows.extend(starts("B", &[84.0, 85.0, 86.0, 87.0]));
    rows.iter_mut()
        .for_each(|row| row.coupon = Some("x".into()));
    assert_eq!(compared(&rows).pairs[0].blocks, 0);
    let rows = retries();
    let options = CompareOptions {
        measures: vec!["attempts".into()],
        margins: [("attempts".to_owned(), 0.5)].into(),
        ..CompareOptions::default()
    };
    assert_eq!(
        compare_rows(&rows, &options).unwrap().pairs[0].verdict,
        PairVerdict::ABetter
    );
}
