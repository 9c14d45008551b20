//! Plans at the ends of what can be asked.

use tipstrike::score::StartRow;
use tipstrike::study::plan::{for_rates, from_pilot, from_spread, run_order, under_limit};

use crate::study_support::starts;

/// Of 1, 2, 3, 4 and the same 1.5 higher, 10 more pairs of 16 lie up than down, 4 of them each with itself: 6 of 12. Of 10, 20,
/// 30, 40 only the four with themselves do: 0 of 12. Noether's 5.233/δ².
#[test]
fn a_pilot_is_held_against_itself_inside_each_prep() {
    let first = starts("A", &[1.0, 2.0, 3.0, 4.0]);
    let both = [first.clone(), starts("B", &[10.0, 20.0, 30.0, 40.0])].concat();
    let each = |rows: &[StartRow]| from_pilot(rows, "score", 1.5, 0.95).unwrap().each;
    assert_eq!((each(&first), each(&both)), (21, 84));
}

#[test]
fn a_plan_asks_for_numbers_that_can_be() {
    for see in [0.0, -1.0, f64::INFINITY, f64::NAN] {
        assert!(
            from_spread(1.0, "score", see, 0.95).is_err()
                && from_spread(see, "score", 1.0, 0.95).is_err()
        );
        assert!(from_pilot(&starts("A", &[1.0, 2.0]), "score", see, 0.95).is_err());
    }
    for (first, second) in [(-0.01, 0.1), (0.1, 1.01), (0.1, 0.1)] {
        assert!(for_rates(first, second, 0.95).is_err());
    }
    assert!(for_rates(0.0, 1.0, 0.95).is_ok());
    assert!(under_limit(0.0, 0, 0.95).is_err() && under_limit(1.0, 0, 0.95).is_err());
}

/// Wilks' sizes for 95 % of a population at 95 % confidence: 59, 93, 124 with none, one, two outside (from memory).
#[test]
fn a_limit_is_shown_by_wilks_sizes() {
    assert_eq!(
        [0, 1, 2].map(|allowed| under_limit(0.05, allowed, 0.95).unwrap().each),
        [59, 93, 124]
    );
}

#[test]
fn an_order_has_at_most_twenty_thousand_recordings_and_at_least_one_start() {
    let names = |list: &[&str]| list.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>();
    let order = |coupons: &[&str], each, per_run| {
        run_order(&names(&["A", "B"]), &names(coupons), each, per_run, 1)
    };
    assert_eq!(order(&["1"], 10_000, 1).unwrap().len(), 20_000);
    assert!(
        order(&["1"], 10_001, 1)
            .unwrap_err()
            .to_string()
            .contains("make 20002 recordings, more than 20000")
    );
    assert_eq!(order(&["1", "2", "3"], 10, 5).unwrap().len(), 6);
    assert!(order(&["1"], 0, 1).is_err() && order(&["1"], 1, 0).is_err());
}
