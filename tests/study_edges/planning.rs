//! Plans at the ends of what can be asked.

use tipstrike::report::words;
use tipstrike::score::StartRow;
use tipstrike::study::plan::{
    Asked, PlannedRun, ShareFrom, ShiftPlan, for_rates, from_pilot, from_spread, run_order,
    run_sheet, under_limit,
};

use crate::study_support::start;

const TWO: Asked = Asked {
    preps: 2,
    per_tip: 5,
    level: 0.95,
    two_stage: false,
};

fn stated(see: f64, share: f64, asked: Asked) -> ShiftPlan {
    from_spread(1.0, Some(share), "run_v", see, asked).unwrap()
}

/// Exact sizes of the two-sample t test (SciPy 1.17.1, noncentral t, tests/reference/wear.py) at 95 % and 80 %: with
/// V = ρ + (1 − ρ)/k standard deviations squared a tip value, the fewest tips of each.
#[test]
fn a_plan_takes_the_tips_of_the_t_test_or_one_more() {
    for (see, per_tip, share, exact) in [
        (1.0, 3, 0.0, 7),
        (1.0, 3, 0.2, 9),
        (1.0, 5, 0.1, 6),
        (1.0, 5, 0.5, 11),
        (0.5, 10, 0.2, 19),
        (0.5, 3, 0.5, 43),
        (2.0, 5, 0.1, 3),
    ] {
        let tips = stated(see, share, Asked { per_tip, ..TWO }).tips;
        assert!(
            tips == exact || tips == exact + 1,
            "{see} {per_tip} {share}: {tips}, {exact}"
        );
    }
}

#[test]
fn more_preps_pay_the_price_of_their_pairs() {
    let tips = |preps| stated(1.0, 0.2, Asked { preps, ..TWO }).tips;
    let by_preps = [2, 3, 4, 5].map(tips);
    assert!(
        by_preps.is_sorted() && by_preps[0] < by_preps[3],
        "{by_preps:?}"
    );
    for preps in [1, 6] {
        assert!(from_spread(1.0, None, "score", 1.0, Asked { preps, ..TWO }).is_err());
    }
    let said = words::plan::shift(&stated(1.0, 0.2, Asked { preps: 3, ..TWO }));
    assert!(
        said.contains("the price of 3 pairs in it (3 preps, Holm)"),
        "{said}"
    );
}

#[test]
fn two_stages_are_even_and_take_a_ninth_more_and_two_preps_only() {
    let staged = Asked {
        two_stage: true,
        ..TWO
    };
    let (one, two) = (stated(0.5, 0.2, TWO).tips, stated(0.5, 0.2, staged).tips);
    assert!(
        two % 2 == 0 && two > one && two <= one + one / 9 + 3,
        "{one} {two}"
    );
    for asked in [
        Asked { preps: 3, ..staged },
        Asked {
            level: 0.9,
            ..staged
        },
    ] {
        assert!(from_spread(1.0, None, "score", 1.0, asked).is_err());
    }
    let said = words::plan::shift(&stated(0.5, 0.2, staged));
    assert!(said.contains("--level 0.9706"), "{said}");
}

/// Tips of one prep whose values lie `step` apart, every start of a tip alike but for ±1.
fn pilot(tips: usize, centre: f64, step: f64) -> Vec<StartRow> {
    let mut rows = Vec::new();
    for tip in 0..tips {
        for k in 0..4 {
            let value = centre + step * (tip as f64 - (tips - 1) as f64 / 2.0);
            let mut row = start("A", rows.len() as u32 + 1, value + [1.0, -1.0][k % 2]);
            row.tip_id = Some(format!("A{tip}").into());
            rows.push(row);
        }
    }
    rows
}

/// Tips at −6, −2, 2, 6 about 60: variance 80/3 with 3 degrees of freedom. χ² of 3 at 0.2: 1.0052 (SciPy), so
/// 79.6 is stayed under in 80 of 100; four starts a tip as in the pilot: T = 15.7 · 79.6/100 + 1.46 = 13.96.
#[test]
fn a_pilot_plans_for_a_spread_that_is_enough_in_80_of_100() {
    let asked = Asked { per_tip: 4, ..TWO };
    let plan = from_pilot(&pilot(4, 60.0, 4.0), "score", 10.0, asked).unwrap();
    assert_eq!(plan.tips, 14);
    assert!(
        plan.tips_lo < plan.tips && plan.tips < plan.tips_hi,
        "{plan:?}"
    );
    let ShareFrom::Pilot {
        tips,
        lo: Some(lo),
        hi: Some(hi),
    } = plan.share_from
    else {
        panic!("{plan:?}");
    };
    let share = plan.share.unwrap();
    assert!(
        tips == 4 && lo < share && share < hi && share > 0.9,
        "{plan:?}"
    );
    let said = words::plan::shift(&plan);
    assert!(
        said.starts_with("Grind each prep anew 14 times and strike 4 starts on each tip (56 starts of each prep): a difference of 10 points in score then shows"),
        "{said}"
    );
    // More starts on a tip help little where the tips differ so much.
    let many = from_pilot(
        &pilot(4, 60.0, 4.0),
        "score",
        10.0,
        Asked { per_tip: 40, ..TWO },
    );
    assert!(many.unwrap().tips >= 13);
}

#[test]
fn a_pilot_of_one_tip_or_at_the_top_of_the_score_is_refused() {
    let said = |rows: &[StartRow], see: f64| {
        let refused = from_pilot(rows, "score", see, TWO);
        refused.unwrap_err().to_string()
    };
    assert!(
        said(&pilot(1, 60.0, 0.0), 5.0).contains("too few to tell how tips of one grind differ")
    );
    assert!(
        said(&pilot(4, 92.0, 2.0), 10.0).contains("score 92 in the mean, and 10 more is past 100")
    );
    assert!(from_pilot(&pilot(4, 92.0, 2.0), "score", 8.0, TWO).is_ok());
}

#[test]
fn a_plan_asks_for_numbers_that_can_be() {
    for see in [0.0, -1.0, f64::INFINITY, f64::NAN] {
        assert!(
            from_spread(1.0, None, "score", see, TWO).is_err()
                && from_spread(see, None, "score", 1.0, TWO).is_err()
        );
        assert!(from_pilot(&pilot(4, 60.0, 4.0), "score", see, TWO).is_err());
    }
    for share in [-0.1, 1.1, f64::NAN] {
        assert!(from_spread(1.0, Some(share), "score", 1.0, TWO).is_err());
    }
    for (first, second) in [(-0.01, 0.1), (0.1, 1.01), (0.1, 0.1), (0.1, 0.1001)] {
        assert!(for_rates(first, second, None, TWO).is_err());
    }
    assert!(for_rates(0.0, 1.0, None, TWO).is_ok());
    assert!(under_limit(0.0, 0, 0.95).is_err() && under_limit(1.0, 0, 0.95).is_err());
}

/// Wilks' sizes for 95 % of a population at 95 % confidence: 59, 93, 124 with none, one, two outside (from memory).
#[test]
fn a_limit_is_shown_by_wilks_sizes() {
    assert_eq!(
        [0, 1, 2].map(|allowed| under_limit(0.05, allowed, 0.95).unwrap().starts),
        [59, 93, 124]
    );
}

fn order(preps: &[&str], coupons: &[&str], starts: u64, stages: u64) -> Vec<PlannedRun> {
    let names = |list: &[&str]| list.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>();
    run_order(&names(preps), &names(coupons), starts, 5, stages, 1).unwrap()
}

#[test]
fn twelve_starts_on_two_coupons_are_twelve() {
    let runs = order(&["A", "B"], &["L1", "L2"], 12, 1);
    for prep in ["A", "B"] {
        let own = runs.iter().filter(|run| run.prep == prep);
        let own: Vec<(&str, &str, u64)> = own
            .map(|run| (run.tip_id.as_str(), run.coupon.as_str(), run.starts))
            .collect();
        assert_eq!(own.iter().map(|tip| tip.2).sum::<u64>(), 12);
        let tips: Vec<String> = [1, 3, 2].map(|n| format!("{prep}{n}")).into();
        assert_eq!(own.iter().map(|tip| tip.0).collect::<Vec<_>>(), tips);
        assert_eq!(
            own.iter().map(|tip| tip.1).collect::<Vec<_>>(),
            ["L1", "L1", "L2"]
        );
    }
}

#[test]
fn each_stage_goes_through_the_coupons_with_half_the_tips() {
    let runs = order(&["A", "B"], &["L1", "L2"], 40, 2);
    let half = runs.len() / 2;
    assert!(
        runs[..half].iter().all(|run| run.stage == 1)
            && runs[half..].iter().all(|run| run.stage == 2)
    );
    for stage in [&runs[..half], &runs[half..]] {
        for coupon in ["L1", "L2"] {
            assert_eq!(stage.iter().filter(|run| run.coupon == coupon).count(), 4);
        }
    }
    let sheet = run_sheet(&runs);
    let last = sheet.lines().last().unwrap();
    assert!(last.contains("16 of 16, stage 2: grind "), "{last}");
}

#[test]
fn the_sheet_says_when_to_grind_and_how_many_to_strike() {
    let sheet = run_sheet(&order(&["A", "B"], &["L1"], 5, 1));
    let mut lines = sheet.lines();
    assert!(
        lines
            .next()
            .unwrap()
            .starts_with("file,prep,tip_id,coupon,starts,since_regrind,")
    );
    let first = lines.next().unwrap();
    assert!(
        first.starts_with("run01.wav,") && first.contains(",L1,5,1,"),
        "{first}"
    );
    assert!(
        first.contains("\"1 of 2: grind ") && first.ends_with(", strike 5 starts\""),
        "{first}"
    );
}

#[test]
fn an_order_has_at_most_twenty_thousand_recordings_and_at_least_one_start() {
    let names = |list: &[&str]| list.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>();
    let order =
        |starts, per_tip| run_order(&names(&["A", "B"]), &names(&["1"]), starts, per_tip, 1, 1);
    assert_eq!(order(10_000, 1).unwrap().len(), 20_000);
    assert!(
        order(10_001, 1)
            .unwrap_err()
            .to_string()
            .contains("make 20002 recordings, more than 20000")
    );
    assert!(order(0, 1).is_err() && order(1, 0).is_err());
}
