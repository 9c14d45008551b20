use super::*;
use crate::prep::{StartRow, Verdict};
use crate::start::{Instants, Measures, Picture};

/// A start made by hand: open at 0.20 s, two tries, lit at 0.285 s, settled at 0.315 s, out at 1.2 s.
fn made_start() -> (StartRow, Picture) {
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
    let picture = Picture {
        from_s: 0.0,
        step_s,
        amps: columns(&amps),
        volts: columns(&volts),
        ..Picture::default()
    };
    let instants = Instants {
        t_open_s: Some(0.2),
        t_first_s: Some(0.25),
        t_lit_s: Some(0.285),
        t_settled_s: Some(0.315),
        t_out_s: Some(1.2),
    };
    let row = StartRow {
        recording: "lid-<03>.wav".to_owned(),
        run: 1,
        prep: "A & B".to_owned(),
        coupon: None,
        start: 7,
        instants,
        measures: Measures::default(),
        flags: Vec::new(),
        score: Some(86.4),
        verdict: Some(Verdict::Crisp),
        sheet: Default::default(),
    };
    (row, picture)
}

#[test]
fn a_start_is_drawn_with_its_instants_named() {
    let (row, picture) = made_start();
    insta::assert_snapshot!(start(&row, &picture));
}
