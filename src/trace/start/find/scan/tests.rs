//! Any cutting into blocks, and any skipping of cells, gives the same starts, bit for bit.

use proptest::prelude::*;

use crate::start::find::scan::*;

const RATE_HZ: f64 = 5000.0;

fn levels() -> Levels {
    Levels {
        conduct_a: 1.0,
        release_a: 0.6,
        short_v: 5.0,
        open_v: 30.0,
    }
}

/// The slow twin: every sample, in blocks of the sizes given, none passed over.
fn sample_by_sample(amps: &[f64], volts: &[f64], sizes: &[usize]) -> Vec<EventGroup> {
    let mut detector = StartDetector::new(levels(), &Measuring::default(), RATE_HZ, 0);
    let mut found = Vec::new();
    let mut at = 0;
    for size in sizes.iter().cycle() {
        let to = (at + size).min(amps.len());
        let block = Block {
            amps: amps[at..to].to_vec(),
            volts: volts[at..to].to_vec(),
            trigger: Vec::new(),
        };
        detector.push(&block, 0..to - at);
        found.append(&mut detector.done);
        at = to;
        if at == amps.len() {
            break;
        }
    }
    detector.finish();
    found.append(&mut detector.done);
    found
}

/// The way the tool takes: cell by cell, the quiet ones unread, and quiet pieces of the others passed over.
fn cell_by_cell(amps: &[f64], volts: &[f64], piece: usize) -> Vec<EventGroup> {
    let recording = Recording::from_samples("made", RATE_HZ, amps.to_vec(), volts.to_vec());
    let segment = recording.segments()[0];
    let mut walk = Scanner::new(&recording, segment, levels(), &Measuring::default());
    walk.piece = piece;
    let mut found = Vec::new();
    loop {
        let groups = walk.some(&recording, 1).unwrap();
        if groups.is_empty() {
            return found;
        }
        found.extend(groups);
    }
}

/// Stretches of one state each: idle, open, arcing either way, touching, the voltage passing zero, ignition hash.
fn traces() -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
    let stretch = (0..7usize, 1..2600usize, 1.0..120.0f64);
    proptest::collection::vec(stretch, 1..24).prop_map(|stretches| {
        let (mut amps, mut volts) = (Vec::new(), Vec::new());
        for (state, frames, level) in stretches {
            for k in 0..frames {
                let ripple = 0.02 * ((k * 7919) % 101) as f64;
                let (i, v) = match state {
                    0 => (0.1 * ripple, ripple),
                    1 => (0.0, 70.0 + ripple),
                    2 => (level + ripple, 12.0 + ripple),
                    3 => (-level - ripple, -12.0),
                    4 => (level, 1.0 + ripple),
                    5 => (level, 50.0 * (k as f64 / frames as f64) - 20.0),
                    _ if k % 40 == 0 => (level, 70.0),
                    _ => (0.0, 70.0),
                };
                amps.push(i);
                volts.push(v);
            }
        }
        (amps, volts)
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn blocks_cut_anywhere_and_cells_passed_over_give_the_same_starts(
        (amps, volts) in traces(),
        sizes in proptest::collection::vec(1..5000usize, 1..6),
        piece in 1..80usize,
    ) {
        let whole = sample_by_sample(&amps, &volts, &[amps.len()]);
        prop_assert_eq!(&sample_by_sample(&amps, &volts, &sizes), &whole);
        prop_assert_eq!(&cell_by_cell(&amps, &volts, piece), &whole);
    }
}

#[test]
fn a_trigger_takes_the_place_of_the_open_circuit_where_there_is_no_voltage() {
    let seconds = |from: f64, to: f64, k: usize| (from..to).contains(&(k as f64 / RATE_HZ));
    let frames = 2 * RATE_HZ as usize;
    let mut detector = StartDetector::new(levels(), &Measuring::default(), RATE_HZ, 0);
    let block = Block {
        // Two tries 0.3 s apart under one press, the second one lights.
        amps: (0..frames)
            .map(|k| {
                if seconds(0.6, 0.605, k) || seconds(0.9, 1.5, k) {
                    80.0
                } else {
                    0.0
                }
            })
            .collect(),
        volts: Vec::new(),
        trigger: (0..frames).map(|k| seconds(0.5, 1.5, k)).collect(),
    };
    detector.push(&block, 0..frames);
    detector.finish();
    let found = detector.done;
    assert_eq!(found.len(), 1);
    let open = found[0].open.unwrap() / RATE_HZ;
    assert!((open - 0.5).abs() < 1e-3, "{open}");
    assert_eq!(found[0].runs.len(), 2);
}

/// A watch over current and voltage by the millisecond, a frame each.
fn watched(
    frames: usize,
    amps: impl Fn(usize) -> f64,
    volts: impl Fn(usize) -> f64,
) -> Vec<EventGroup> {
    let mut detector = StartDetector::new(levels(), &Measuring::default(), 1000.0, 0);
    let block = Block {
        amps: (0..frames).map(amps).collect(),
        volts: (0..frames).map(volts).collect(),
        trigger: Vec::new(),
    };
    detector.push(&block, 0..frames);
    detector.finish();
    detector.done
}

/// docs/measures.md: an open circuit of 20 ms or more that no current followed is a start that did not light.
#[test]
fn an_open_circuit_counts_from_twenty_milliseconds_on() {
    let open = |from: usize, to: usize| {
        watched(
            2000,
            |_| 0.0,
            |k| if (from..to).contains(&k) { 70.0 } else { 0.0 },
        )
    };
    assert_eq!(open(500, 515), []);
    let held = open(500, 525);
    assert_eq!((held.len(), held[0].cut_end), (1, false));
    // From 0 V to 70 V the level of 30 V is passed after 3/7.
    assert_eq!(held[0].open, Some(499.0 + 3.0 / 7.0));
    assert_eq!(open(1990, 2000), []);
    let cut = open(1970, 2000);
    assert_eq!((cut.len(), cut[0].cut_end), (1, true));
}

/// docs/measures.md: between two samples each level is passed on a straight line.
#[test]
fn a_touch_ends_where_the_voltage_passes_the_short_level() {
    let arc = |k: usize| (500..1000).contains(&k);
    let volts = |k: usize| match k {
        600..700 => 1.0,
        800.. => -3.0,
        500..800 => 12.0,
        _ => 0.0,
    };
    let found = watched(2000, |k| if arc(k) { 80.0 } else { 0.0 }, volts);
    assert_eq!(found.len(), 1);
    let low: Vec<(f64, f64)> = found[0].low.iter().map(|s| (s.on, s.off)).collect();
    let (down, up) = (599.0 + 7.0 / 11.0, 699.0 + 4.0 / 11.0);
    assert_eq!(low[0], (down, up));
    // With the current gone the touch is over, too.
    assert_eq!(low[1], (799.0 + 7.0 / 9.0, 1000.0));
    assert_eq!(low.len(), 2);
}

/// docs/measures.md: a start is out where nothing conducts for 150 ms; until it has lit, not while the circuit stays open.
#[test]
fn a_start_is_over_when_it_is_out() {
    let arcs = |second: usize, open: std::ops::Range<usize>, first: std::ops::Range<usize>| {
        let on = move |k: usize| first.contains(&k) || (second..second + 400).contains(&k);
        let amps = {
            let on = on.clone();
            move |k| if on(k) { 80.0 } else { 0.0 }
        };
        let volts = move |k| match k {
            k if on(k) => 12.0,
            k if open.contains(&k) => 70.0,
            _ => 0.0,
        };
        watched(3000, amps, volts).len()
    };
    // An arc that held: one start up to a pause of 150 ms, whether the circuit stays open or not.
    assert_eq!(arcs(1049, 0..0, 500..900), 1);
    assert_eq!(arcs(1052, 0..0, 500..900), 2);
    assert_eq!(arcs(1052, 400..1052, 500..900), 2);
    // A try of 10 ms: as long as the circuit stays open, and 150 ms after that.
    assert_eq!(arcs(1000, 400..1000, 500..510), 1);
    assert_eq!(arcs(1000, 400..860, 500..510), 1);
    assert_eq!(arcs(1000, 400..840, 500..510), 2);
}

/// docs/measures.md: fewer samples than 50 µs and two more, or fewer than three, are ignition hash.
#[test]
fn hash_covers_fifty_microseconds() {
    let frames = [1e3, 20_000.0, 48_000.0, 200_000.0].map(hf_noise_frames);
    assert_eq!(frames, [3, 3, 4, 12]);
}

/// The tungsten touches when the current begins; from 5 V on the short level is no more than reached.
#[test]
fn a_touch_begins_with_the_current_or_at_the_short_level() {
    let lows = |volts: fn(usize) -> f64| {
        let amps = |k: usize| if (500..1000).contains(&k) { 80.0 } else { 0.0 };
        let found = watched(2000, amps, volts);
        let low = found[0].low.iter().map(|s| (s.on, s.off));
        low.collect::<Vec<_>>()
    };
    // From 0 A to 80 A the level of 1 A is passed after 1/80.
    let begins = lows(|k| if k < 700 { 1.0 } else { 12.0 });
    assert_eq!(begins, [(499.0 + 1.0 / 80.0, 699.0 + 4.0 / 11.0)]);
    let reached = lows(|k| match k {
        ..600 => 12.0,
        600 | 700.. => 5.0,
        _ => 1.0,
    });
    assert_eq!(reached, [(600.0, 700.0)]);
}

/// What the end of the recording cuts off is what conducts, or is open for an arc that has not lit.
#[test]
fn an_end_cuts_off_what_is_under_way() {
    let cut = |arc: std::ops::Range<usize>, open: std::ops::Range<usize>| {
        let amps = |k: usize| if arc.contains(&k) { 80.0 } else { 0.0 };
        let volts = |k: usize| match k {
            k if arc.contains(&k) => 12.0,
            k if open.contains(&k) => 70.0,
            _ => 0.0,
        };
        let found = watched(2000, amps, volts);
        assert_eq!(found.len(), 1);
        found[0].cut_end
    };
    assert!(cut(1000..2000, 0..0));
    assert!(!cut(1000..1950, 0..0) && !cut(1000..1950, 1950..2000));
    assert!(!cut(1900..1910, 0..0) && cut(1900..1910, 1910..2000));
}

/// At five samples a second 150 ms without current are over at once, before the circuit that the arc left open has outlasted the
/// guard of three samples: it is what the arc left behind all the same, and no start.
#[test]
fn what_an_arc_leaves_behind_is_no_start_at_a_few_samples_a_second() {
    let found = |arc: std::ops::Range<usize>| {
        let mut detector = StartDetector::new(levels(), &Measuring::default(), 5.0, 0);
        let block = Block {
            amps: (0..60)
                .map(|k| if arc.contains(&k) { 80.0 } else { 0.0 })
                .collect(),
            volts: (0..60)
                .map(|k| match k {
                    k if arc.contains(&k) => 12.0,
                    20..40 => 70.0,
                    _ => 0.0,
                })
                .collect(),
            trigger: Vec::new(),
        };
        detector.push(&block, 0..60);
        detector.finish();
        detector.done.len()
    };
    assert_eq!(found(10..20), 1);
    // Opened over a second after the arc, it is a start that did not light.
    assert_eq!(found(5..12), 2);
}

/// A cell is passed over where nothing in it can pass a level: each with a ten-thousandth to spare, for cells are in single
/// precision.
#[test]
fn cells_are_passed_over_that_pass_no_level() {
    let two = Recording::from_samples("made", 1000.0, vec![0.0; 9], vec![0.0; 9]);
    let one = Recording::from_samples("made", 1000.0, vec![0.0; 9], Vec::new());
    let skips = |state: (f64, f64), recording: &Recording, amps: f32, volts: [f32; 2]| {
        let mut detector = StartDetector::new(levels(), &Measuring::default(), 1000.0, 0);
        let block = Block {
            amps: vec![state.0; 9],
            volts: vec![state.1; 9],
            trigger: Vec::new(),
        };
        detector.push(&block, 0..9);
        let cell = Cell {
            first: 9,
            frames: 9,
            amps: [amps, amps + 0.1, 0.0],
            volts: [volts[0], volts[1], 0.0],
        };
        detector.can_skip(&cell, recording)
    };
    let arc = |low: f32, high: f32| skips((80.0, 12.0), &two, 80.0, [low, high]);
    assert!(arc(10.0, 14.0) && arc(-14.0, -10.0) && arc(5.2, 14.0));
    assert!(!arc(4.0, 14.0) && !arc(-14.0, -4.0) && !arc(-10.0, 14.0) && !arc(5.0002, 14.0));
    let touch = |low: f32, high: f32| skips((80.0, 1.0), &two, 80.0, [low, high]);
    assert!(touch(1.0, 4.5) && touch(-4.5, 1.0));
    assert!(!touch(1.0, 5.5) && !touch(-5.5, 1.0) && !touch(1.0, 4.9998));
    let open = |low: f32, high: f32| skips((0.0, 70.0), &two, 0.0, [low, high]);
    assert!(open(60.0, 80.0) && !open(10.0, 80.0));
    let idle = |amps: f32| skips((0.0, 0.0), &two, amps, [0.0, 1.0]);
    assert!(idle(0.2) && !idle(2.0));
    // Without a voltage trace the current decides alone.
    assert!(skips((0.0, 0.0), &one, 0.2, [0.0; 2]) && skips((80.0, 0.0), &one, 70.0, [0.0; 2]));
}

/// Of an arc of 5000 runs in 20 s those beyond its window and a second are dropped once, when there are 4096: 500 of these stay.
#[test]
fn many_runs_are_dropped_once_in_a_while() {
    let amps = |k: usize| match k % 8 {
        0..4 => 80.0,
        _ => -80.0,
    };
    let found = watched(
        20_000,
        |k| if k < 20 { 0.0 } else { amps(k) },
        |k| 0.2 * amps(k),
    );
    assert_eq!(found.len(), 1);
    let kept = found[0].runs.len();
    assert!((1300..1500).contains(&kept), "{kept}");
}
