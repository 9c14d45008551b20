//! Recordings, from outside.

use tipstrike::flag::Flag;
use tipstrike::job::{Context, Logger, Measuring};
use tipstrike::recording::{Block, Known, Recording, Seen, fit, inspect};
use tipstrike::start::find;

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
    let recording = plain(10_000.0);
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
    let recording = plain(10_000.0);
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
            .any(|f| f.flag == Flag::Gap && f.seen.to_string().contains("line 702")),
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

/// Half-second arcs of 80 A with idle between; ends idle.
fn arcs(rate: u32) -> Vec<f64> {
    let half = rate as usize / 2;
    (0..11 * half)
        .map(|k| if (k / half) % 2 == 1 { 80.0 } else { 0.0 })
        .collect()
}

fn wav(traces: &[&[f64]], rate: u32) -> (tempfile::TempDir, std::path::PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.wav");
    let channels = traces.len() as u16;
    let spec = hound::WavSpec {
        channels,
        sample_rate: rate,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(&path, spec).unwrap();
    for k in 0..traces[0].len() {
        traces
            .iter()
            .for_each(|t| writer.write_sample(t[k] as f32).unwrap());
    }
    writer.finalize().unwrap();
    (folder, path)
}

fn logger(text: &str) -> Logger {
    toml::from_str(text).unwrap()
}

/// What a first-order high-pass of 2 Hz (identity: its step response) leaves of a trace, with an offset of the logger.
fn blocked(truth: &[f64], rate: u32) -> Vec<f64> {
    let keep = (-2.0 * std::f64::consts::PI * 2.0 / f64::from(rate)).exp();
    let (mut y, mut before) = (0.0, 0.0);
    let part = |x: &f64| {
        y = keep * y + x - before;
        before = *x;
        (y + 1.5) / 300.0
    };
    truth.iter().map(part).collect()
}

/// A recording that ends at rest, and one that stops in the middle of its last arc.
#[test]
fn the_low_end_behind_a_stated_high_pass_is_restored() {
    let rate = 10_000;
    let whole_truth = arcs(rate);
    let cut = whole_truth.len() - rate as usize * 3 / 4;
    for (truth, most) in [(&whole_truth[..], 0.5), (&whole_truth[..cut], 1.2)] {
        let (_folder, path) = wav(&[&blocked(truth, rate)], rate);
        let mut stated =
            logger("high_pass_hz = 2.0\ncurrent = { channel = 1, amps_at_full_scale = 300.0 }");
        let mut recording = Recording::open(&path, &stated).unwrap();
        let all = whole(&mut recording);
        let off = all.amps.iter().zip(truth).map(|(a, b)| (a - b).abs());
        let worst = off.fold(0.0, f64::max);
        assert!(worst < most, "{worst} A off");
        let mut part = Block::default();
        recording.read(30_001..30_050, &mut part).unwrap();
        assert_eq!(part.amps, all.amps[30_001..30_050]);

        stated.high_pass_hz = None;
        let unstated = Recording::open(&path, &stated).unwrap();
        let findings = &unstated.survey().findings;
        let corner = findings.iter().find_map(|f| match f.seen {
            Seen::Coupled { corner_hz, .. } => Some(corner_hz),
            _ => None,
        });
        // Good enough to restore run currents within 3 %.
        assert!(
            corner.is_some_and(|hz| (hz - 2.0).abs() < 0.06),
            "{findings:?}"
        );
    }
}

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

/// The worked budget of docs/recordings.md; the arithmetic of a 200 A / 60 mV shunt is that of its plate (300 µΩ).
#[test]
fn the_worked_uncertainty_budget_comes_out() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 10_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&path, spec).unwrap();
    (0..200).for_each(|k| writer.write_sample(k as i16).unwrap());
    writer.finalize().unwrap();
    let text = "tolerance_pct = 0.1\ncurrent = { channel = 1, shunt = { amps = 200, millivolts = 60 }, \
                volts_at_full_scale = 0.1, tolerance_pct = 0.5, offset = 0.0 }";
    let recording = Recording::open(&path, &logger(text)).unwrap();
    assert!(
        (2.0 * recording.u_amps(80.0) - 0.471_064).abs() < 1e-6,
        "{}",
        recording.u_amps(80.0)
    );
    let mut block = Block::default();
    recording.read(100..101, &mut block).unwrap();
    assert!((block.amps[0] - 100.0 / 32_768.0 * 0.1 / 300e-6).abs() < 1e-9);
}

/// The second budget of docs/recordings.md: a rectangle as wide as the last written digit (JCGM 100:2008, 4.3.7).
#[test]
fn the_last_written_digit_of_a_table_is_in_the_uncertainty() {
    let combined = |last: &str, step: f64| {
        let rows: String = (0..300)
            .map(|k| format!("{:.4},{last}\n", f64::from(k) * 1e-3))
            .collect();
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        std::fs::write(&path, format!("time_s,current_a\n{rows}")).unwrap();
        let text = "tolerance_pct = 0.1\ncurrent = { column = \"current_a\", tolerance_pct = 0.5, offset = 0.0 }";
        let u = Recording::open(&path, &logger(text)).unwrap().u_amps(80.0);
        let relative = (0.4_f64.powi(2) + 0.08_f64.powi(2)) / 3.0;
        assert!(
            (u - (relative + step * step / 12.0).sqrt()).abs() < 1e-9,
            "{last}: {u}"
        );
        u
    };
    assert!((2.0 * combined("80.5", 0.1) - 0.474_553).abs() < 1e-6);
    combined("80", 1.0);
    combined("8.05E+01", 0.1);
    combined("80.50000", 1e-5);
}

/// A sample recording put through a 2 Hz high-pass, its corner stated, against the recording itself.
/// The limits (1 ms, 3 %, 15 %) are this project's own.
#[test]
fn starts_behind_a_stated_high_pass_are_measured_as_without_it() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/samples/lid-1-A1.wav");
    let mut reader = hound::WavReader::open(file).unwrap();
    let rate = reader.spec().sample_rate;
    let samples: Vec<f64> = reader
        .samples::<i16>()
        .map(|s| f64::from(s.unwrap()) / 32_768.0)
        .collect();
    let keep = (-2.0 * std::f64::consts::PI * 2.0 / f64::from(rate)).exp();
    let blocked = |channel: usize| -> Vec<f64> {
        let (mut y, mut before) = (0.0, 0.0);
        let through = |x: &f64| {
            y = keep * y + x - before;
            before = *x;
            y
        };
        samples
            .iter()
            .skip(channel)
            .step_by(2)
            .map(through)
            .collect()
    };
    let (_folder, path) = wav(&[&blocked(0), &blocked(1)], rate);
    let scales = "current = { channel = 1, amps_at_full_scale = 200.0 }\nvoltage = { channel = 2, volts_at_full_scale = 120.0 }";
    let starts = |path: &std::path::Path, text: &str| {
        let recording = Recording::open(path, &logger(text)).unwrap();
        find(&recording, &Measuring::default(), &Context::default()).unwrap()
    };
    let plain = starts(std::path::Path::new(file), scales);
    let restored = starts(&path, &format!("high_pass_hz = 2.0\n{scales}"));
    assert_eq!((plain.len(), restored.len()), (10, 10));
    for (a, b) in plain.iter().zip(&restored) {
        let apart = |a: Option<f64>, b: Option<f64>| (a.unwrap() - b.unwrap()).abs();
        assert!(apart(a.instants.t_first_s, b.instants.t_first_s) < 1e-3);
        assert!(apart(a.instants.t_lit_s, b.instants.t_lit_s) < 1e-3);
        assert!(apart(a.measures.start_ms, b.measures.start_ms) < 1.0);
        assert!(apart(a.measures.run_a, b.measures.run_a) < 0.03 * a.measures.run_a.unwrap());
        assert!(
            apart(a.measures.wander_v, b.measures.wander_v) < 0.15 * a.measures.wander_v.unwrap()
        );
    }
}

#[test]
fn known_loads_give_back_the_scale_and_the_offset() {
    // 0 A for a second, then 80 A: 250 A at full scale, 5 A of offset.
    let rate = 2_000;
    let trace: Vec<f64> = (0..4 * rate)
        .map(|k| if k < rate { 5.0 } else { 85.0 } / 250.0)
        .collect();
    let (_folder, path) = wav(&[&trace], rate);
    let known = |text: &str| text.parse::<Known>().unwrap();
    let two = [
        known("0 A from 0.1 s to 0.9 s"),
        known("80 A from 1.5 s to 3.5 s"),
    ];
    let fitted = fit(&path, &Logger::default(), &two).unwrap();
    assert_eq!(fitted.key, "amps_at_full_scale");
    assert!(
        (fitted.scale - 250.0).abs() < 1e-3 && (fitted.offset.unwrap() - 5.0).abs() < 1e-3,
        "{fitted:?}"
    );
    let one = fit(&path, &Logger::default(), &two[1..]).unwrap();
    assert!((one.scale - 250.0).abs() < 1e-3, "{one:?}");
    assert!(fitted.cautions.is_empty() && one.cautions.is_empty());
    let nothing = fit(&path, &Logger::default(), &two[..1]).unwrap_err();
    assert!(nothing.to_string().contains("0 A"), "{nothing}");
    let partly = fit(
        &path,
        &Logger::default(),
        &[known("80 A from 0.5 s to 2 s")],
    )
    .unwrap();
    assert_eq!(partly.cautions.len(), 1, "{partly:?}");
}

#[test]
fn a_known_load_is_read_as_people_write_it() {
    let known = |text: &str| text.parse::<Known>();
    let same = known("80.5 A from 2 s to 5 s").unwrap();
    assert_eq!((same.amps, same.from_s, same.to_s), (80.5, 2.0, 5.0));
    for text in [
        "80.5A from 2s to 5s",
        "80,5 A from 2,0 s to 5 s",
        "0.0805 kA from 2 s to 5 s",
        "80500 mA from 2 s to 5 s",
    ] {
        let read = known(text).unwrap();
        assert!(
            (read.amps - 80.5).abs() < 1e-9 && read.to_s == 5.0,
            "{text}: {read:?}"
        );
    }
    for text in [
        "80 V from 1 s to 2 s",
        "80 A",
        "80 A from 2 s to 1 s",
        "nan A from 1 s to 2 s",
        "80 from 1 s to 2 s",
    ] {
        assert!(known(text).is_err(), "{text}");
    }
}

#[test]
fn alternating_current_is_no_known_load() {
    let turn = |k: u32| (f64::from(k) * 0.3).sin();
    let trace: Vec<f64> = (0..8000)
        .map(|k| if k < 2000 { 0.0 } else { 0.3 * turn(k) + 0.05 })
        .collect();
    let (_folder, path) = wav(&[&trace], 2_000);
    let load = "80 A from 2 s to 3 s".parse::<Known>().unwrap();
    let fitted = fit(&path, &Logger::default(), &[load]).unwrap();
    assert_eq!(fitted.cautions.len(), 1, "{fitted:?}");
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

#[test]
fn a_trigger_channel_joins_tries_under_one_press_where_there_is_no_voltage() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("trigger.wav");
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: 10_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&path, spec).unwrap();
    for k in 0..30_000 {
        let within = |from: i32, to: i32| (from..to).contains(&k);
        // A try, and 0.5 s later the arc; the trigger is held from half a second before until the arc is out.
        let amps = within(10_000, 10_050) || within(15_000, 25_000);
        writer
            .write_sample(if amps { 8_000_i16 } else { (k % 3) as i16 })
            .unwrap();
        writer
            .write_sample(if within(5_000, 25_000) { 20_000_i16 } else { 0 })
            .unwrap();
    }
    writer.finalize().unwrap();
    let rules = |trigger: &str| {
        logger(&format!(
            "current = {{ channel = 1, amps_at_full_scale = 300 }}\n{trigger}"
        ))
    };
    let starts = |rules: Logger| {
        let recording = Recording::open(&path, &rules).unwrap();
        find(&recording, &Measuring::default(), &Context::default()).unwrap()
    };
    assert_eq!(starts(rules("")).len(), 2);
    let joined = starts(rules("trigger = { channel = 2, level = 0.5 }"));
    assert_eq!(joined.len(), 1);
    assert_eq!(joined[0].measures.attempts, Some(2.0));
    assert!((joined[0].measures.delay_ms.unwrap() - 500.0).abs() < 0.2);
}
