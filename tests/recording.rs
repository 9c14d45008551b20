//! Recordings, from outside.

use tipstrike::recording::{Block, Recording};

/// 80 A from 0.3 s to 0.7 s of one second, with a fixed pseudo-random noise of ±0.2 A.
fn plain(rate_hz: f64) -> Recording {
    let mut state = 1_u32;
    let mut noise = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        0.4 * (f64::from(state) / f64::from(u32::MAX) - 0.5)
    };
    let frames = rate_hz as usize;
    let on = |k: usize| (3 * frames / 10..7 * frames / 10).contains(&k);
    let amps: Vec<f64> = (0..frames)
        .map(|k| if on(k) { 80.0 } else { 0.0 } + noise())
        .collect();
    let volts = (0..frames)
        .map(|k| if on(k) { 13.0 } else { 70.0 } + noise())
        .collect();
    Recording::from_samples("plain", rate_hz, amps, volts)
}

#[test]
fn any_cutting_into_reads_gives_the_same_samples() {
    let mut recording = plain(10_000.0);
    let (mut whole, mut part) = (Block::default(), Block::default());
    recording.read(0..10_000, &mut whole).unwrap();
    let mut amps = Vec::new();
    for (from, to) in [(0, 1), (1, 777), (777, 777), (777, 9_000), (9_000, 10_000)] {
        recording.read(from..to, &mut part).unwrap();
        amps.extend_from_slice(&part.amps);
    }
    assert_eq!(amps, whole.amps);
}

#[test]
fn the_noise_of_idle_stretches_is_the_one_put_in() {
    let recording = plain(20_000.0);
    // Rectangular ±0.2 A: median |x| = 0.1 A, so 1.4826 × 0.1 A.
    let noise = recording.survey().noise_a.unwrap();
    assert!((noise / 0.14826 - 1.0).abs() < 0.05, "{noise}");
}

#[test]
fn no_sample_lies_outside_its_cell() {
    let mut recording = plain(10_000.0);
    let mut block = Block::default();
    for cell in recording.survey().cells.clone() {
        recording
            .read(cell.first..cell.first + u64::from(cell.frames), &mut block)
            .unwrap();
        let inside = |x: &f64| (f64::from(cell.amps[0])..=f64::from(cell.amps[1])).contains(x);
        assert!(block.amps.iter().all(inside));
    }
}
