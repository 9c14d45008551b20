//! Starts made by hand for the tests of this part.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::flag::Flag;
use crate::measure::{Measure, MeasureValues};
use crate::measuring::gather::Detail;
use crate::score::{Score, ScorePart, StartRow, Verdict};
use crate::start::{Instants, Preview};

/// A start: open at 0.20 s, two failed attempts, lit at 0.285 s, settled at 0.315 s, out at 1.2 s.
pub(super) fn made_start() -> (StartRow, Preview) {
    let step_s = 0.001;
    let amps = |t: f64| match t {
        t if (0.25..0.258).contains(&t) => 12.0,
        t if (0.262..0.266).contains(&t) => 20.0,
        t if (0.285..1.2).contains(&t) => {
            80.0 - 70.0 * (-(t - 0.285) / 0.008).exp() + (700.0 * t).sin()
        }
        _ => 0.05 * (900.0 * t).sin(),
    };
    let volts = |t: f64| match t {
        t if amps(t) > 2.0 => {
            12.0 + 4.0 * (-(t - 0.25).max(0.0) / 0.1).exp() + 0.4 * (150.0 * t).sin()
        }
        t if (0.2..0.3).contains(&t) => 78.0,
        _ => 0.0,
    };
    let columns = |of: &dyn Fn(f64) -> f64| -> Vec<[f32; 2]> {
        (0..1250)
            .map(|i| {
                let (a, b) = (of(i as f64 * step_s), of((i as f64 + 0.9) * step_s));
                [a.min(b) as f32, a.max(b) as f32]
            })
            .collect()
    };
    let preview = Preview {
        from_s: 0.0,
        step_s,
        amps: columns(&amps),
        volts: columns(&volts),
        ..Preview::default()
    };
    let instants = Instants {
        t_open_s: Some(0.2),
        t_first_s: Some(0.25),
        t_lit_s: Some(0.285),
        t_settled_s: Some(0.315),
        t_out_s: Some(1.2),
    };
    let row = StartRow {
        recording: "lid-<03>.wav".into(),
        run: 1,
        prep: "A & B".into(),
        start: 7,
        instants,
        measures: MeasureValues::default(),
        flags: Vec::new(),
        doubt: None,
        score: Some(86.4),
        verdict: Some(Verdict::Crisp),
        ..StartRow::default()
    };
    (row, preview)
}

/// A job of two preps with `each` starts a prep; the second prep starts slower and rougher.
/// Its words are as hostile as a sheet's may be.
pub(super) fn made_job(each: u32, previews: bool) -> (Vec<StartRow>, Vec<Detail>) {
    let mut rows = Vec::new();
    let mut details = Vec::new();
    for (prep, name) in ["lengthwise 30°", "<script>alert(1)</script>\"'&"]
        .iter()
        .enumerate()
    {
        for start in 1..=each {
            let (row, detail) = job_start(prep as u32, name, start);
            rows.push(row);
            details.push(Detail {
                preview: detail.preview.filter(|_| previews),
                ..detail
            });
        }
    }
    (rows, details)
}

fn job_start(prep: u32, name: &str, start: u32) -> (StartRow, Detail) {
    let (mut row, preview) = made_start();
    // A scatter that looks like chance and is the same each time.
    let chance = f64::from((start * 7919 + prep * 104_729) % 997) / 997.0;
    let ms = 90.0 + 60.0 * f64::from(prep) + 80.0 * chance * chance;
    let rough = chance > 0.93 - 0.2 * f64::from(prep);
    let no_light = chance > 0.985;
    row.recording = format!(
        "{}-שלום-🫖-{}.wav",
        if prep == 0 { "lid" } else { "rim" },
        1 + start / 20
    )
    .into();
    row.prep = name.into();
    row.coupon = Some(format!("{}", 1 + start % 2).into());
    row.start = 1 + (start - 1) % 20;
    row.run = 1 + prep;
    row.measures
        .set(Measure::StartMs, (!no_light).then_some(ms));
    fill(&mut row.measures, [prep, start], chance, rough);
    if no_light {
        (row.instants.t_lit_s, row.instants.t_settled_s) = (None, None);
    }
    if rough {
        row.flags = vec![Flag::Dropout, Flag::Slow];
    }
    let score = if no_light {
        0.0
    } else {
        100.0 - 70.0 * chance - 12.0 * f64::from(prep)
    };
    row.score = Some(score);
    row.verdict = Some(match (no_light, rough, score >= 80.0) {
        (true, ..) => Verdict::NoLight,
        (_, true, _) => Verdict::Rough,
        (.., true) => Verdict::Crisp,
        _ => Verdict::Fair,
    });
    row.sheet = Arc::new(sheet(prep));
    let part = ScorePart {
        measure: Measure::StartMs,
        value: row.measures.start_ms(),
        good: 60.0,
        poor: 400.0,
        shape: 1.0,
        weight: 2.0,
        desirability: score / 100.0,
        cost: 100.0 - score,
        origin: "built-in, DC, 50 to 150 A".into(),
    };
    let score = Score {
        value: score,
        verdict: row.verdict.unwrap_or(Verdict::Fair),
        parts: vec![part],
        missing: Vec::new(),
        rough_attempts: 2,
    };
    (
        row,
        Detail {
            score: Some(score),
            preview: Some(Box::new(preview)),
        },
    )
}

/// The measures of a start that has them all.
fn fill(m: &mut MeasureValues, [prep, start]: [u32; 2], chance: f64, rough: bool) {
    m.set(
        Measure::Attempts,
        Some(1.0 + f64::from(start * (1 + prep) % 4 / 3)),
    );
    m.set(Measure::Dropouts, Some(if rough { 2.0 } else { 0.0 }));
    m.set(Measure::RiseMs, Some(3.0 + chance));
    m.set(Measure::LitA, Some(40.0 + 10.0 * chance));
    m.set(Measure::RunA, Some(80.0 + chance));
    m.set(Measure::RunV, Some(12.0 + chance));
    m.set(
        Measure::WanderV,
        Some(0.2 + 0.2 * chance + 0.05 * f64::from(prep)),
    );
    m.set(Measure::SinceRegrind, Some(f64::from(start)));
    m.set(Measure::UStartMs, Some(0.02));
    m.set(Measure::URunA, Some(0.5));
    m.set(Measure::URunV, Some(0.14));
    m.set(Measure::UWanderV, Some(0.004));
}

fn sheet(prep: u32) -> BTreeMap<String, String> {
    let tip = [
        ("class", if prep == 0 { "EWLa-2" } else { "EWTh-2" }),
        ("diameter", "2.4 mm"),
        ("taper_deg", if prep == 0 { "30" } else { "60" }),
        ("tip", "flat"),
        ("tip_flat", "0.25 mm"),
        ("marks", "lengthwise"),
        ("wheel", "diamond, fine"),
    ];
    let tip = tip.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned()));
    tip.collect()
}
