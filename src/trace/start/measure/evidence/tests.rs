//! What wander is measured from, of traces that are laid out by hand.

use super::*;

#[test]
fn uneven_points_are_evened_out_on_straight_lines() {
    let points = [(0.0, 1.0), (0.1, 2.0), (0.4, 8.0), (0.5, 7.0)];
    let (seen, out) = evened(&points, 10.0).unwrap();
    assert_eq!(out, [false, false, true, true, false, false]);
    for (seen, expected) in seen.iter().zip([1.0, 2.0, 4.0, 6.0, 8.0, 7.0]) {
        assert!((seen - expected).abs() < 1e-9, "{seen} is not {expected}");
    }
    assert_eq!(seen.len(), 6);
    // Up to a tenth of a step beside a point is near enough.
    let wide = [0.0, 0.095, 0.405, 0.5].map(|t| (3.0 + t, 1.0));
    let (_, out) = evened(&wide, 10.0).unwrap();
    assert_eq!(out, [false, false, true, true, false, false]);
    let close = [0.0, 0.13, 0.2, 0.31].map(|t| (3.0 + t, 1.0));
    let (_, out) = evened(&close, 10.0).unwrap();
    assert_eq!(out, [false; 4], "no point is missing in 1.3 steps");
    let apart = [0.0, 0.1875, 0.25, 0.375].map(|t| (t, 1.0));
    let (_, out) = evened(&apart, 8.0).unwrap();
    assert_eq!(out, [false; 4], "nor in one and a half");
    assert_eq!(evened(&points[..1], 10.0), None);
    assert_eq!(evened(&[], 10.0), None);
}

/// A second at 1000 samples, from frame 100 on; amps and volts by the frame.
fn trace(amps: impl Fn(f64) -> f64, volts: impl Fn(f64) -> f64) -> Trace {
    let at = |f: &dyn Fn(f64) -> f64| (100..1100).map(|n| f(f64::from(n))).collect();
    Trace {
        rate_hz: 1000.0,
        first: 100,
        amps: at(&amps),
        volts: at(&volts),
    }
}

fn phases(dropouts: &[(f64, f64)], touches: &[(f64, f64)]) -> Phases {
    let spans = |ends: &[(f64, f64)]| ends.iter().map(|&(on, off)| Span { on, off }).collect();
    let group = crate::start::find::phases::EventGroup {
        runs: vec![wave(1, 150.0, 1100.0)],
        last_off: 1100.0,
        ..Default::default()
    };
    Phases {
        dropouts: spans(dropouts),
        touches: spans(touches),
        ..group.phases(&Default::default(), 1000.0)
    }
}

fn wave(sign: i8, on: f64, off: f64) -> ConductRun {
    ConductRun {
        sign,
        span: Span { on, off },
    }
}

/// 5 ms to either side are 5 frames; their end itself is not disturbed.
#[test]
fn what_lies_within_five_milliseconds_of_a_dropout_or_a_touch_is_disturbed() {
    for phases in [
        phases(&[(300.0, 310.0)], &[]),
        phases(&[], &[(300.0, 310.0)]),
    ] {
        let seen = [295.0, 295.1, 305.0, 314.9, 315.0].map(|at| disturbed(&phases, at, 1000.0));
        assert_eq!(seen, [false, true, true, true, false]);
    }
}

/// Half-waves of 10 frames: their middle 60 % are the samples from the third to the eighth, told at the half-wave's middle.
#[test]
fn the_value_of_a_half_wave_is_the_mean_of_its_middle() {
    let trace = trace(|n| n, |n| 3.0 * n);
    let halves = [
        wave(1, 200.0, 210.0),
        // 0.6 of 4 frames: three samples, and of 3 frames: two, which are too few.
        wave(1, 299.0, 303.0),
        wave(1, 400.0, 403.0),
    ];
    let mut averaged = vec![];
    let phases = phases(&[(310.0, 311.0)], &[]);
    let seen = half_waves(&trace, &phases, halves.iter(), &mut averaged).unwrap();
    assert_eq!(averaged, [6.0, 3.0]);
    assert_eq!(
        (seen.amps, seen.volts),
        (vec![204.5, 301.0], vec![613.5, 903.0])
    );
    for (seen, frame) in seen.after_lit_s.iter().zip([205.0, 301.0]) {
        let expected = 1e-3 * (frame - 150.0);
        assert!((seen - expected).abs() < 1e-12, "{seen} is not {expected}");
    }
    assert_eq!(seen.left_out, [false, false]);
}

/// Blocks of five at 1000 samples a second and a band to 10 Hz; the block about frame 395 lies 5.4 frames before the dropout,
/// the next one is left out; behind it the first that counts is about frame 415.
#[test]
fn on_direct_current_blocks_near_a_dropout_do_not_count() {
    let volts = |n: f64| -12.0 - (n * 0.02).sin();
    let trace = trace(|_| -80.0, volts);
    let window = Span {
        on: 198.0,
        off: 1000.0,
    };
    let phases = phases(&[(400.4, 409.6)], &[]);
    let residual = direct(&trace, &phases, window, 10.0, 0.2).unwrap();
    assert_eq!(residual.even.rate_hz, 200.0);
    // 802 frames are 160 whole blocks.
    assert_eq!(residual.even.values.len(), 160);
    assert!((residual.even.noise - 0.2 / 5.0_f64.sqrt()).abs() < 1e-12);
    assert_eq!(residual.scatter.len(), 157);
    // More magnitude of a negative voltage is a longer arc.
    let longer = |k: usize| ((200.0 + 5.0 * k as f64) * 0.02).sin();
    let values = residual.even.values.iter().enumerate();
    let alike: f64 = values.map(|(k, value)| value * longer(k)).sum();
    let whole: f64 = (0..160).map(|k| longer(k).powi(2)).sum();
    assert!(alike > 0.8 * whole, "{alike} of {whole}");
    assert!(residual.scatter.iter().all(|p| p[0] == 80.0 && p[1] > 10.9));
}

/// Blocks of five at 1000 samples a second and a band to 10 Hz, of whole cycles on AC: a straight line leaves nothing of itself.
#[test]
fn the_current_about_its_trend_is_told_in_blocks_or_cycles() {
    let trace = trace(|n| -40.0 - 0.02 * n, |_| 12.0);
    let window = |off: f64| Span { on: 198.0, off };
    let direct = current(&trace, None, window(1000.0), 10.0, 0.5).unwrap();
    assert_eq!((direct.rate_hz, direct.values.len()), (200.0, 160));
    assert!((direct.noise - 0.5 / 5.0_f64.sqrt()).abs() < 1e-12);
    assert!(direct.values.iter().all(|x| x.abs() < 1e-9));
    let cycles = Alternation {
        cycles_per_frame: 1.0 / 19.8,
        share: 0.5,
        missed: 0,
        missed_of_sign: 0,
    };
    let cycles = current(&trace, Some(cycles), window(1000.0), 10.0, 0.5).unwrap();
    assert_eq!((cycles.rate_hz, cycles.values.len()), (50.0, 40));
    // Two blocks have no trend that anything could be told about.
    assert!(current(&trace, None, window(209.0), 10.0, 0.5).is_none());
    assert!(current(&trace, None, window(213.0), 10.0, 0.5).is_some());
}

/// Half-waves of 10 frames at 50 Hz: two values a cycle, each the mean of six samples; those before the instant asked for do
/// not count.
#[test]
fn on_alternating_current_there_are_two_values_a_cycle() {
    let sign = |n: f64| {
        if ((n / 10.0) as usize).is_multiple_of(2) {
            1.0
        } else {
            -1.0
        }
    };
    let longer = |n: f64| (n * 0.02).sin();
    let trace = trace(|n| 90.0 * sign(n), |n| sign(n) * (12.0 + longer(n)));
    let waves: Vec<ConductRun> = (20..100)
        .map(|k| 10.0 * f64::from(k))
        .map(|on| wave(sign(on) as i8, on, on + 10.0))
        .collect();
    let residual = alternating(
        &trace,
        &phases(&[], &[]),
        &waves,
        (300.0, Slope::Whole),
        50.0,
        0.6,
    )
    .unwrap();
    assert_eq!(residual.even.rate_hz, 100.0);
    assert_eq!(
        (residual.even.values.len(), residual.scatter.len()),
        (70, 70)
    );
    assert!((residual.even.noise - 0.6 / 6.0_f64.sqrt()).abs() < 1e-12);
    let values = residual.even.values.iter().enumerate();
    let expected = |k: usize| longer(305.0 + 10.0 * k as f64);
    let alike: f64 = values.map(|(k, value)| value * expected(k)).sum();
    let whole: f64 = (0..70).map(|k| expected(k).powi(2)).sum();
    assert!(alike > 0.8 * whole, "{alike} of {whole}");
}
