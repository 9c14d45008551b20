//! Starts of blocks that are laid out by hand.

use super::*;

/// Frames of a block: a millisecond at 5 kHz.
const BLOCK: f64 = 5.0;
const RATE_HZ: f64 = 5000.0;

/// Those of an arc of 100 A.
fn levels() -> PairLevels {
    PairLevels {
        flow_a: 1.5,
        sure_a: 20.0,
        stands_a: 40.0,
        ..PairLevels::example()
    }
}

const REST: (f64, f64) = (0.0, 0.0);
const OPEN: (f64, f64) = (0.2, 70.0);
const ARC: (f64, f64) = (100.0, 12.0);

/// The starts of stretches of this many milliseconds of current and voltage.
fn starts(stretches: &[(usize, (f64, f64))]) -> Vec<EventGroup> {
    let mut detector = JointDetector::new(levels(), &Measuring::default(), RATE_HZ, 0);
    let mut on = 0.0;
    for (ms, (amps, volts)) in stretches {
        for _ in 0..*ms {
            detector.push(BlockView {
                on,
                off: on + BLOCK,
                blocks: 1,
                amps: *amps,
                volts: *volts,
            });
            on += BLOCK;
        }
    }
    detector.finish();
    detector.done
}

fn ms(frames: f64) -> f64 {
    frames / BLOCK
}

#[test]
fn an_open_circuit_and_an_arc_are_one_start() {
    let found = starts(&[(100, REST), (50, OPEN), (500, ARC), (300, REST)]);
    assert_eq!(found.len(), 1);
    let start = &found[0];
    assert_eq!(start.open.map(ms), Some(100.0));
    assert_eq!((ms(start.began()), ms(start.last_off)), (100.0, 650.0));
    assert_eq!((start.kind, start.cut_end), (Some(ArcKind::Dc), false));
}

/// A lift start: 12 A while the tungsten touches, a tenth of the arc's current, for longer than an arc may be gone.
#[test]
fn a_touch_of_few_amps_after_an_open_circuit_conducts() {
    let touch = (12.0, 0.5);
    let found = starts(&[
        (100, REST),
        (50, OPEN),
        (200, touch),
        (500, ARC),
        (300, REST),
    ]);
    assert_eq!(found.len(), 1);
    assert_eq!(ms(found[0].runs[0].span.on), 150.0);
    assert_eq!(found[0].low.iter().map(|s| ms(s.len())).sum::<f64>(), 200.0);
    // A zero that is off by as much shows while the circuit is open, too, and a neighbour has less.
    for (open, touch) in [((12.0, 70.0), touch), (OPEN, (3.0, 0.5))] {
        let found = starts(&[(100, REST), (50, open), (200, touch), (300, REST)]);
        assert!(found[0].runs.is_empty(), "{:?}", found[0].runs);
    }
}

#[test]
fn a_pick_up_conducts_nothing_and_an_open_circuit_without_an_arc_did_not_light() {
    let pick_up = (3.0, 70.0);
    let found = starts(&[(100, REST), (80, pick_up), (300, REST)]);
    assert_eq!(found.len(), 1);
    assert!(found[0].runs.is_empty() && found[0].open.is_some());
    // Under 20 ms it is a blip.
    assert!(starts(&[(100, REST), (15, OPEN), (300, REST)]).is_empty());
}

/// docs/measures.md: what an arc leaves open behind it is no start of its own.
#[test]
fn the_open_circuit_behind_an_arc_is_none_of_its_own() {
    let after = [
        (100, REST),
        (50, OPEN),
        (500, ARC),
        (400, OPEN),
        (300, REST),
    ];
    assert_eq!(starts(&after).len(), 1);
    let again = [(50, OPEN), (500, ARC), (400, OPEN), (500, ARC), (300, REST)];
    assert_eq!(starts(&again).len(), 2);
}

/// 20 Hz that burn 49 of 50 ms one way: half-cycles of 49 ms and of 1 ms, which is two blocks of 0.5 ms.
#[test]
fn slow_alternation_of_any_balance_is_alternating() {
    let mut stretches = vec![(100, REST), (50, OPEN)];
    for _ in 0..30 {
        stretches.extend([(48, ARC), (2, (-100.0, -12.0))]);
    }
    stretches.push((300, REST));
    let found = starts(&stretches);
    let period = 50.0 * BLOCK;
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].kind, Some(ArcKind::Ac { period }));
    // Five turns are a lead-in, or ringing.
    let few = starts(&[&stretches[..7], &[(300, ARC), (300, REST)]].concat());
    assert_eq!(few[0].kind, Some(ArcKind::Dc));
}

/// A millisecond at this rate is longer than a dropout has to be.
#[test]
fn a_current_that_is_gone_for_a_block_parts_the_arc() {
    let found = starts(&[(50, OPEN), (300, ARC), (1, OPEN), (300, ARC), (300, REST)]);
    let runs: Vec<(f64, f64)> = found[0]
        .runs
        .iter()
        .map(|r| (ms(r.span.on), ms(r.span.off)))
        .collect();
    assert_eq!(runs, [(50.0, 350.0), (351.0, 651.0)]);
}

/// From the strike on the voltage is an arc's, while a current of 1 to 3 A rises through a level of 1.5 A: one attempt. Once the arc's 100 A
/// flowed, or over 30 ms after the strike, a current that is gone is gone: another attempt, or a dropout of the arc that held.
#[test]
fn a_current_that_rises_slowly_through_its_level_is_one_attempt() {
    let upsets = |rise: &[(usize, (f64, f64))]| {
        let mut all = vec![(100, REST), (50, OPEN)];
        all.extend_from_slice(rise);
        all.extend([(500, ARC), (300, REST)]);
        let found = starts(&all);
        assert_eq!(found.len(), 1);
        let phases = found[0].phases(&Measuring::default(), RATE_HZ);
        (phases.attempts, phases.dropouts.len())
    };
    let (low, high) = ((1.0, 12.0), (3.0, 12.0));
    assert_eq!(upsets(&[(2, high), (2, low), (2, high), (2, low)]), (1, 0));
    assert_eq!(upsets(&[(15, ARC), (2, low)]), (2, 0));
    assert_eq!(upsets(&[(30, high), (2, low)]), (1, 1));
}
