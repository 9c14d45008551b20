//! Recordings, from outside.

use tipstrike::flag::Flag;
use tipstrike::recording::{Block, Logger, Recording};

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

/// Writes a table and opens it without a job.
fn table(text: &str) -> tipstrike::Result<Recording> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("table.csv");
    std::fs::write(&path, text).unwrap();
    Recording::open(&path, &Logger::default())
}

fn whole(recording: &mut Recording) -> Block {
    let mut block = Block::default();
    let mut all = Block::default();
    for segment in recording.segments().to_vec() {
        recording
            .read(segment.first..segment.first + segment.frames, &mut block)
            .unwrap();
        all.amps.extend_from_slice(&block.amps);
        all.volts.extend_from_slice(&block.volts);
    }
    all
}

#[test]
fn a_table_with_units_in_its_header_needs_no_logger() {
    let rows: String = (0..5000)
        .map(|k| format!("{:.4},{},{}\n", f64::from(k) * 1e-4, k % 7, 10 + k % 3))
        .collect();
    let mut recording = table(&format!("time_s,current_a,voltage_v\n{rows}")).unwrap();
    assert_eq!((recording.rate_hz(), recording.frames()), (10_000.0, 5000));
    let all = whole(&mut recording);
    // The zero is taken away; all steps stay.
    assert!((all.amps[5] - all.amps[0] - 5.0).abs() < 1e-12);
    assert!((all.volts[2] - all.volts[0] - 2.0).abs() < 1e-12);
}

#[test]
fn a_lost_stretch_of_rows_is_a_gap_and_keeps_its_time() {
    let rows: String = (0..2000)
        .filter(|k| !(700..900).contains(k))
        .map(|k| format!("{},{}\n", k, k % 5))
        .collect();
    let recording = table(&format!("time_ms,current_a\n{rows}")).unwrap();
    let segments = recording.segments();
    assert_eq!(segments.len(), 2);
    assert_eq!((segments[0].frames, segments[1].first), (700, 700));
    assert!((segments[1].from_s - 0.9).abs() < 1e-9);
    assert!(
        recording
            .survey()
            .findings
            .iter()
            .any(|f| f.flag == Flag::Gap && f.seen.contains("line 702")),
        "{:?}",
        recording.survey().findings
    );
}

#[test]
fn jitter_is_evened_out_by_straight_lines() {
    // A straight line over time stays one, whatever the jitter.
    let time = |k: u32| f64::from(k) * 1e-3 + if k % 2 == 1 { 0.2e-3 } else { 0.0 };
    let rows: String = (0..3001)
        .map(|k| format!("{:.6},{:.6}\n", time(k), 100.0 * time(k)))
        .collect();
    let mut recording = table(&format!("time_s,current_a\n{rows}")).unwrap();
    assert!(
        recording
            .survey()
            .findings
            .iter()
            .any(|f| f.flag == Flag::UnevenTime)
    );
    let all = whole(&mut recording);
    let offset = all.amps[0];
    for (k, amps) in all.amps.iter().enumerate() {
        let line = 100.0 * k as f64 / recording.rate_hz();
        assert!((amps - offset - line).abs() < 1e-3, "{k}: {amps} {line}");
    }
    let (mut one, mut two) = (Block::default(), Block::default());
    recording.read(1500..1600, &mut one).unwrap();
    recording.read(1590..1600, &mut two).unwrap();
    assert_eq!(one.amps[90..], two.amps);
}
