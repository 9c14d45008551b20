//! Scales: uncertainty budgets, and loads of known current.

use super::*;

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
