//! A start's own check, by starts that are laid out by hand.

use super::*;
use crate::start::find::states::BlockView;

/// A block of four frames is a millisecond.
const RATE_HZ: f64 = 4000.0;
const REST: (f64, f64) = (0.0, 0.0);
const OPEN: (f64, f64) = (0.1, 70.0);
const ARC: (f64, f64) = (80.0, 12.0);

/// The first start of stretches of this many milliseconds of current and voltage.
fn first(stretches: &[(usize, (f64, f64))]) -> EventGroup {
    let levels = PairLevels {
        flow_a: 1.2,
        sure_a: 8.0,
        touch_v: 5.0,
        open_v: 29.0,
        idle_open_v: 29.0,
        stands_v: 60.0,
        stands_a: 32.0,
    };
    let measuring = Measuring::default();
    let mut detector = JointDetector::new(levels, &measuring, RATE_HZ, 0);
    let blocks = stretches.iter().flat_map(|(ms, pair)| vec![*pair; *ms]);
    for (k, (amps, volts)) in blocks.enumerate() {
        detector.push(BlockView {
            on: 4.0 * k as f64,
            off: 4.0 * (k + 1) as f64,
            blocks: 1,
            amps,
            volts,
        });
    }
    detector.finish();
    detector.done.swap_remove(0)
}

fn check(group: &EventGroup) -> Check<'_> {
    static MEASURING: std::sync::LazyLock<Measuring> = std::sync::LazyLock::new(Measuring::default);
    Check {
        group,
        measuring: &MEASURING,
        rate_hz: RATE_HZ,
    }
}

fn checked(stretches: &[(usize, (f64, f64))]) -> (f64, Vec<Doubt>) {
    check(&first(stretches)).verdict().unwrap()
}

#[test]
fn a_clean_start_is_explained_whole_and_not_doubted() {
    let clean = [(100, REST), (100, OPEN), (1500, ARC), (300, REST)];
    assert_eq!(checked(&clean), (100.0, vec![]));
}

/// Of 1,100 ms from the opening to the window's end 97 are unexplained: the first 3 are the change of state.
#[test]
fn an_arcs_voltage_without_current_is_unexplained_and_told() {
    let gone = [
        (100, REST),
        (100, OPEN),
        (300, ARC),
        (100, (0.1, 12.0)),
        (1100, ARC),
        (300, REST),
    ];
    let (explained, doubts) = checked(&gone);
    assert!((explained - 100.0 * (1.0 - 97.0 / 1100.0)).abs() < 1e-9);
    assert!(
        doubts
            .iter()
            .any(|d| matches!(d, Doubt::Unexplained { .. }))
    );
    let dead = |d: &Doubt| matches!(d, Doubt::NoCurrent { volts, for_s } if *volts == 12.0 && *for_s == 0.1);
    assert!(doubts.iter().any(dead), "{doubts:?}");
}

#[test]
fn a_current_for_long_without_a_voltage_is_no_touch() {
    let touch = |ms: usize| {
        let all = [
            (100, REST),
            (100, OPEN),
            (300, ARC),
            (ms, (80.0, 0.5)),
            (900, ARC),
            (300, REST),
        ];
        checked(&all).1
    };
    assert_eq!(touch(250), []);
    let doubts = touch(400);
    assert!(
        matches!(doubts[0], Doubt::NoVoltage { amps: 80.0, .. }),
        "{doubts:?}"
    );
}

/// What a high-pass leaves when an arc goes out flows the other way; tungsten that sticks to the work behind the window does not.
#[test]
fn a_current_that_turns_round_when_the_arc_goes_out_is_no_touch() {
    let behind = |amps: f64| {
        let all = [
            (100, REST),
            (100, OPEN),
            (1500, ARC),
            (200, (amps, 0.5)),
            (300, REST),
        ];
        checked(&all).1
    };
    assert_eq!(behind(80.0), []);
    let turned = behind(-40.0);
    assert!(
        matches!(turned[..], [Doubt::NoVoltage { amps: 40.0, .. }]),
        "{turned:?}"
    );
}

/// 1.6 A flow over the level of 1.2 A, and not over one of 1.9 A: the second reading sees a dropout there.
#[test]
fn a_count_that_hangs_on_the_levels_is_doubted() {
    let hovers = |amps: f64| {
        let all = [
            (100, REST),
            (100, OPEN),
            (300, ARC),
            (20, (amps, 12.0)),
            (900, ARC),
            (300, REST),
        ];
        checked(&all).1
    };
    assert_eq!(hovers(5.0), []);
    let count = SecondReading::Count {
        what: Counted::Dropouts,
        first: 0,
        second: 1,
    };
    assert_eq!(hovers(1.6), [Doubt::SecondReading(count)]);
}

/// 2 A of pick-up while the circuit stands open: the arc's level may hold as much of the same.
#[test]
fn the_mean_current_of_the_open_circuit_is_told() {
    let open_a = |open: (f64, f64)| {
        let group = first(&[(100, REST), (100, open), (500, ARC), (300, REST)]);
        check(&group).open_a()
    };
    assert_eq!(open_a((2.0, 70.0)), Some(2.0));
    assert_eq!(open_a((-0.5, 70.0)), Some(-0.5));
}
