//! What is wrong with a recording is found and told.

use super::*;

#[test]
fn an_offset_that_drifts_is_followed_and_told() {
    let rate = 5_000;
    let truth = arcs(rate);
    let drifting: Vec<f64> = truth
        .iter()
        .enumerate()
        .map(|(k, x)| (x + 4.0 + 2.0 * k as f64 / truth.len() as f64) / 300.0)
        .collect();
    let (_folder, path) = wav(&[&drifting], rate);
    let mut recording = Recording::open(
        &path,
        &logger("current = { channel = 1, amps_at_full_scale = 300.0 }"),
    )
    .unwrap();
    let all = whole(&mut recording);
    let worst = all
        .amps
        .iter()
        .zip(&truth)
        .map(|(a, b)| (a - b).abs())
        .fold(0.0, f64::max);
    assert!(worst < 0.15, "{worst} A off");
    assert!(
        recording
            .survey()
            .findings
            .iter()
            .any(|f| f.flag == Flag::OffsetDrift)
    );
}

#[test]
fn a_cut_off_trace_a_dead_channel_and_a_wrong_divider_are_told() {
    let rate = 10_000;
    let mut state = 1_u32;
    let mut noise = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        0.002 * (f64::from(state) / f64::from(u32::MAX) - 0.5)
    };
    let amps: Vec<f64> = arcs(rate)
        .iter()
        .map(|x| (x / 60.0 + noise()).clamp(-1.0, 1.0))
        .collect();
    let volts: Vec<f64> = arcs(rate)
        .iter()
        .map(|x| if *x > 0.0 { 0.9 } else { 0.0 } + noise())
        .collect();
    let (_folder, path) = wav(&[&amps, &volts, &vec![0.0; amps.len()]], rate);
    let all = "current = { channel = 1, amps_at_full_scale = 60.0 }\nvoltage = { channel = 2, volts_at_full_scale = 100.0 }";
    let flags = |text: &str| -> Vec<Flag> {
        Recording::open(&path, &logger(text))
            .unwrap()
            .survey()
            .findings
            .iter()
            .map(|f| f.flag)
            .collect()
    };
    let found = flags(all);
    assert!(
        found.contains(&Flag::Clipped) && found.contains(&Flag::VoltageScale),
        "{found:?}"
    );
    assert!(flags(&all.replace("channel = 2", "channel = 3")).contains(&Flag::DeadChannel));
    let turned = flags(&all.replace("= 100.0", "= -15.0"));
    assert!(
        turned.contains(&Flag::Polarity) && !turned.contains(&Flag::VoltageScale),
        "{turned:?}"
    );
}

#[test]
fn a_trace_without_noise_is_neither_cut_off_nor_ac_coupled() {
    let rate = 10_000;
    let flat = arcs(rate);
    // The polarity changes over, as by a switch, and the current then sags by a tenth over a second.
    let turned: Vec<f64> = (0..40_000)
        .map(|k| match k {
            0..5_000 => 0.0,
            5_000..15_000 => 80.0,
            _ => -80.0 + 0.4 * ((k - 15_000) / 1000) as f64,
        })
        .collect();
    for trace in [flat, turned] {
        let scaled: Vec<f64> = trace.iter().map(|x| x / 300.0).collect();
        let (_folder, path) = wav(&[&scaled], rate);
        let rules = logger("current = { channel = 1, amps_at_full_scale = 300.0 }");
        let recording = Recording::open(&path, &rules).unwrap();
        let findings = &recording.survey().findings;
        assert!(
            !findings
                .iter()
                .any(|f| [Flag::Clipped, Flag::AcCoupled].contains(&f.flag)),
            "{findings:?}"
        );
    }
}

#[test]
fn what_holds_next_to_nothing_says_so() {
    let (_folder, path) = wav(&[&[0.0]], 1_000);
    let seen = inspect(&path, &Logger::default()).unwrap();
    let short = seen.findings.iter().find(|f| f.flag == Flag::ShortWindow);
    assert!(
        short.is_some_and(|f| f.seen.to_string().contains("1 sample")),
        "{:?}",
        seen.findings
    );
    let (_folder, path) = wav(&[&[]], 1_000);
    let error = inspect(&path, &Logger::default()).unwrap_err().to_string();
    assert!(error.contains("no complete frame"), "{error}");
}

#[test]
fn a_trace_cut_off_below_full_scale_is_told() {
    // An amplifier that gives out at 95 A: noise at rest, none at the top.
    let rate = 10_000;
    let mut state = 1_u32;
    let mut noise = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        0.4 * (f64::from(state) / f64::from(u32::MAX) - 0.5)
    };
    let trace: Vec<f64> = arcs(rate)
        .iter()
        .enumerate()
        .map(|(k, x)| {
            let swing = if *x > 0.0 {
                20.0 + 8.0 * (k as f64 / 300.0).sin()
            } else {
                0.0
            };
            (x + swing + noise()).min(95.0) / 300.0
        })
        .collect();
    let (_folder, path) = wav(&[&trace], rate);
    let rules = logger("current = { channel = 1, amps_at_full_scale = 300.0 }");
    let recording = Recording::open(&path, &rules).unwrap();
    let found = recording.survey();
    assert!(
        found.findings.iter().any(|f| f.flag == Flag::Clipped),
        "{:?}",
        found.findings
    );
    assert!((found.cut_off[0].unwrap() - 95.0).abs() < 0.3 && found.cut_off[1].is_none());
}
