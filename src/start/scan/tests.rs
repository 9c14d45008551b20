//! Any cutting into blocks, and any skipping of cells, gives the same starts, bit for bit.

use proptest::prelude::*;

use super::*;

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
fn sample_by_sample(amps: &[f64], volts: &[f64], sizes: &[usize]) -> Vec<Group> {
    let mut watcher = Watcher::new(levels(), &Measuring::default(), RATE_HZ, 0);
    let mut found = Vec::new();
    let mut at = 0;
    for size in sizes.iter().cycle() {
        let to = (at + size).min(amps.len());
        let block = Block {
            amps: amps[at..to].to_vec(),
            volts: volts[at..to].to_vec(),
            trigger: Vec::new(),
        };
        watcher.push(&block, 0..to - at);
        found.append(&mut watcher.done);
        at = to;
        if at == amps.len() {
            break;
        }
    }
    watcher.finish();
    found.append(&mut watcher.done);
    found
}

/// The way the tool takes: cell by cell, the quiet ones unread, and quiet pieces of the others passed over.
fn cell_by_cell(amps: &[f64], volts: &[f64], piece: usize) -> Vec<Group> {
    let recording = Recording::from_samples("made", RATE_HZ, amps.to_vec(), volts.to_vec());
    let segment = recording.segments()[0];
    let mut walk = Walk::new(&recording, segment, levels(), &Measuring::default());
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

/// Stretches of one state each: idle, open, arcing either way, touching, ignition hash.
fn traces() -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
    let stretch = (0..6usize, 1..2600usize, 1.0..120.0f64);
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
    let mut watcher = Watcher::new(levels(), &Measuring::default(), RATE_HZ, 0);
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
    watcher.push(&block, 0..frames);
    watcher.finish();
    let found = watcher.done;
    assert_eq!(found.len(), 1);
    let open = found[0].open.unwrap() / RATE_HZ;
    assert!((open - 0.5).abs() < 1e-3, "{open}");
    assert_eq!(found[0].runs.len(), 2);
}
