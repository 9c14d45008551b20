use crate::figure::*;
use crate::fixtures::made_start;

#[test]
fn a_start_is_drawn_with_its_instants_named() {
    let (row, preview) = made_start();
    insta::assert_snapshot!(start(&row, &preview));
}

fn items() -> Vec<Item> {
    let values = |from: f64| (0..12).map(|i| from + f64::from(i * 7 % 12)).collect();
    let item = |name: &str, centre: f64, interval| Item {
        name: name.to_owned(),
        note: "12 starts".to_owned(),
        values: values(centre - 5.0),
        centre,
        interval,
    };
    ["fine 30°", "coarse", "C", "D", "E", "F"]
        .iter()
        .enumerate()
        .map(|(i, name)| {
            item(
                name,
                60.0 + 9.0 * i as f64,
                (i != 2).then_some((55.0 + 9.0 * i as f64, 64.0 + 9.0 * i as f64)),
            )
        })
        .collect()
}

#[test]
fn groups_are_drawn_as_points_with_their_intervals() {
    insta::assert_snapshot!(intervals("start time, ms", &items(), None));
}

#[test]
fn the_starts_of_each_prep_are_laid_over_each_other_at_the_strike() {
    let (row, preview) = made_start();
    let later = |by: f64, amps: f32| {
        let mut other = row.clone();
        let mut shown = preview.clone();
        for t in [
            &mut other.instants.t_first_s,
            &mut other.instants.t_lit_s,
            &mut other.instants.t_settled_s,
        ] {
            *t = t.map(|t| t + by);
        }
        shown.from_s += by;
        shown.amps.iter_mut().flatten().for_each(|a| *a *= amps);
        (other, shown)
    };
    let made: Vec<_> = (0..8)
        .map(|i| later(f64::from(i), 0.9 + 0.03 * i as f32))
        .collect();
    let of = |part: &'static str, rows: std::ops::Range<usize>| Together {
        name: part,
        starts: made[rows].iter().map(|(r, p)| (r, p)).collect(),
    };
    insta::assert_snapshot!(overlay(&[of("fine 30°", 0..5), of("coarse", 5..8)]));
}

#[test]
fn wear_is_drawn_with_its_limit_and_regrind_number() {
    let points: Vec<(f64, f64)> = (1..40)
        .map(|i| {
            (
                f64::from(i),
                60.0 + 2.0 * f64::from(i) + f64::from(i * 17 % 23),
            )
        })
        .collect();
    let found = crate::study::Wear {
        by: "prep".to_owned(),
        group: "A".to_owned(),
        prep: "A".to_owned(),
        measure: "start_ms".to_owned(),
        about: crate::study::WearOf::Tips,
        level: 0.95,
        alpha: 0.05 / 3.0,
        starts: 39,
        tips: 1,
        short_tips: 0,
        up_to: 39.0,
        slope: 2.0,
        slope_lo: 1.7,
        slope_hi: 2.3,
        intercept: 71.0,
        p: 1e-6,
        correlation: 0.0,
        verdict: crate::study::WearVerdict::Wears,
        change_at: None,
        limit: Some(160.0),
        at: Some(44.5),
        lo: Some(38.7),
        hi: Some(52.4),
    };
    insta::assert_snapshot!(wear(&found, 1, &points));
}

/// Forty starts, the first twenty of them the baseline; the sum goes out at the end.
fn made_chart() -> crate::study::Chart {
    let point = |i: u32| crate::study::ChartPoint {
        recording: "a.wav".into(),
        run: 1,
        start: i + 1,
        lit: i != 30,
        value: (i != 30).then(|| 60.0 + f64::from(i * 17 % 13) + if i > 33 { 40.0 } else { 0.0 }),
        statistic: (i >= 20).then(|| f64::from(i.saturating_sub(33)) * 1.1),
        upper: (i >= 20).then_some(4.4),
        lower: None,
        out: i > 37,
        since: i.saturating_sub(33) as usize,
    };
    crate::study::Chart {
        id: "A".to_owned(),
        measure: "start_ms".to_owned(),
        rule: crate::study::Rule::RankCusum,
        n: 40,
        baseline: 20,
        own_baseline: 20,
        centre: 66.0,
        upper: Some(4.4),
        lower: None,
        points: (0..40).map(point).collect(),
    }
}

#[test]
fn a_control_chart_shows_the_starts_and_where_their_sum_goes_out() {
    let chart = made_chart();
    let scale = ControlScale::of(std::slice::from_ref(&chart), &chart.measure);
    insta::assert_snapshot!(starts(&chart, &scale));
    insta::assert_snapshot!(control(&chart, &scale));
}

#[test]
fn the_residual_is_drawn_as_cloud_and_as_spectrum() {
    let (_, mut preview) = made_start();
    assert_eq!(scatter(&preview), None);
    assert_eq!(spectrum(&preview), None);
    let wave = |i: u32| (f64::from(i) * 0.7).sin() as f32;
    preview.scatter = (0..200)
        .map(|i| {
            [
                80.0 + wave(3 * i),
                12.0 + 0.05 * wave(3 * i) + 0.3 * wave(i),
                0.3 * wave(i),
            ]
        })
        .collect();
    preview.wander_band_hz = (2.0, 200.0);
    preview.spectrum = (1..200)
        .map(|i| [2.0 * i as f32, 0.01 / (1.0 + (i as f32 - 11.0).powi(2))])
        .collect();
    insta::assert_snapshot!(scatter(&preview).unwrap());
    insta::assert_snapshot!(spectrum(&preview).unwrap());
}

/// Every number of an attribute of the elements that hold a text, in order.
fn attribute(svg: &str, element: &str, holds: &str, name: &str) -> Vec<f64> {
    let parts = svg
        .split('<')
        .filter(|part| part.starts_with(element) && part.contains(holds));
    let value = |part: &str| {
        let from = part.find(&format!(" {name}=\""))? + name.len() + 3;
        part[from..].split('"').next()?.parse().ok()
    };
    parts.filter_map(value).collect()
}

#[test]
fn marks_and_bars_stand_where_their_numbers_say() {
    let shown =
        [("A", 20.0, (10.0, 30.0)), ("B", 50.0, (40.0, 80.0))].map(|(name, centre, interval)| {
            Item {
                name: name.to_owned(),
                note: String::new(),
                values: vec![0.0, 100.0],
                centre,
                interval: Some(interval),
            }
        });
    let svg = intervals("x", &shown, Some((0.0, 100.0)));
    // The small rings of group A stand at 0 and 100: they give the scale.
    let rings = attribute(&svg, "circle", "r=\"3\"", "cx");
    let at = |value: f64| rings[0] + value / 100.0 * (rings[1] - rings[0]);
    let middle = attribute(&svg, "circle", "r=\"6\"", "cx");
    assert!((middle[0] - at(20.0)).abs() <= 1.0, "{middle:?} {rings:?}");
    let bars: Vec<Vec<f64>> = svg
        .split("<polyline")
        .filter(|part| part.contains("stroke-width=\"3\""))
        .map(|part| {
            let points = part
                .split("points=\"")
                .nth(1)
                .unwrap()
                .split('"')
                .next()
                .unwrap();
            points
                .split_whitespace()
                .map(|p| p.split(',').next().unwrap().parse().unwrap())
                .collect()
        })
        .collect();
    for (bar, (lo, hi)) in bars.iter().zip([(10.0, 30.0), (40.0, 80.0)]) {
        assert!(
            (bar[0] - at(lo)).abs() <= 1.0 && (bar[1] - at(hi)).abs() <= 1.0,
            "{bars:?}"
        );
    }
    assert_eq!(bars.len(), 2);
}

#[test]
fn the_lines_of_a_start_stand_at_its_instants() {
    let (row, preview) = made_start();
    let svg = start(&row, &preview);
    // The ticks of the close-up give the scale: −50 ms and 100 ms from the first current.
    let tick = |text: &str| {
        let ends = format!(">\n{text}");
        let part = svg
            .split('<')
            .find(|part| part.starts_with("text ") && part.trim_end().ends_with(&ends));
        let x = part.unwrap().split(" x=\"").nth(1).unwrap();
        x.split('"').next().unwrap().parse::<f64>().unwrap()
    };
    let (left, right) = (tick("−50"), tick("100"));
    let at = |ms: f64| left + (ms + 50.0) / 150.0 * (right - left);
    let lines: Vec<f64> = svg
        .split("<polyline")
        .filter(|part| part.contains(&format!("stroke=\"#{:06X}\"", palette::MUTED.day)))
        .filter_map(|part| {
            let points = part.split("points=\"").nth(1)?.split('"').next()?;
            let x: Vec<f64> = points
                .split_whitespace()
                .map(|p| p.split(',').next().unwrap().parse().unwrap())
                .collect();
            (x.len() == 2 && x[0] == x[1]).then_some(x[0])
        })
        .collect();
    for ms in [-50.0, 0.0, 35.0, 65.0] {
        assert!(
            lines.iter().any(|x| (x - at(ms)).abs() <= 1.5),
            "{ms} ms: {} of {lines:?}",
            at(ms)
        );
    }
}

#[test]
fn a_start_that_touches_is_not_called_attempts() {
    let (row, mut preview) = made_start();
    let from = (0.25 / preview.step_s) as usize;
    let to = (0.285 / preview.step_s) as usize;
    preview.volts[from..to].fill([0.5, 1.0]);
    let svg = start(&row, &preview);
    assert!(svg.contains("touching") && !svg.contains("attempts"));
}

#[test]
fn a_recording_is_drawn_with_its_rest_its_gap_and_where_it_is_cut_off() {
    let mut state = 1_u32;
    let mut noise = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        0.4 * (f64::from(state) / f64::from(u32::MAX) - 0.5)
    };
    let rows: String = (0..20_000)
        .filter(|k| !(3_000..4_000).contains(k))
        .map(|k| {
            let swing = 90.0 + 8.0 * (f64::from(k) / 300.0).sin();
            let amps = if k < 8_000 { 0.0 } else { swing } + noise();
            let (t, i) = (1e-4 * f64::from(k), amps.min(95.0));
            format!("{t:.4},{i:.3},{:.3}\n", 12.0 + noise())
        })
        .collect();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("cut.csv");
    std::fs::write(&path, format!("time_s,current_a,voltage_v\n{rows}")).unwrap();
    let seen = crate::recording::inspect(&path, &Default::default()).unwrap();
    let svg = recording(&seen);
    for words in [
        "cut.csv: table, 3 columns",
        "current, A (column",
        "voltage, V (column",
        "shaded grey: no current",
        "vertical lines: samples are missing",
        "thick line: the current is clipped at 95",
        "s from the first sample",
    ] {
        assert!(svg.contains(words), "no \"{words}\"");
    }
    let drawn = |colour: Theme| svg.contains(&format!("\"#{:06X}\"", colour.day));
    assert!([palette::BAND_OPEN, palette::BAND_ATTEMPTS, palette::ALARM].map(drawn) == [true; 3]);
}
