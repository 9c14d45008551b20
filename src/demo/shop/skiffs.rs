//! Skiff ribs: aluminium on AC, with the balance knob left at the cleaning end after the tip was balled.

use crate::chance::Chance;
use crate::logger::{ChannelModel, LoggerModel};
use crate::scenario::{Column, Method, Program, Rise, Scenario, Shape, Strike, Wander, Wave};
use crate::shop::take::{Form, ShopJob, Take};

const JOB: &str = r#"# Made by `tipstrike demo`: recordings from an arc model, not from a weld.

[job]
title = "Skiff ribs, AC"
site = "Kettle and skiff shop, bay 1"
who = "second shift"
note = "The sheet says 70 % electrode negative. Does the recording?"

[logger]
mains_hz = 60
electrode_negative = "positive"
current = { column = "current", tolerance_pct = 0.5 }
voltage = { column = "voltage", tolerance_pct = 1.0 }
time = { column = "time", unit = "s" }

[prep.C]
class = "WLa15"
diameter = "3.2 mm"
tip = "rounded"
marks = "lengthwise"
wheel = "diamond, fine"
"#;

const COLUMNS: &str =
    "prep,coupon,set_a,process,start_method,set_en_pct,ac_hz,gas,material,thickness,note";

const AC_HZ: f64 = 80.0;

pub(super) fn job(seed: u64) -> ShopJob {
    let mut chance = Chance::new(seed, 2000);
    ShopJob {
        folder: "skiffs",
        job_toml: JOB.to_owned(),
        columns: COLUMNS,
        takes: vec![Take {
            file: "rib-1.csv".to_owned(),
            form: Form::Csv,
            row: "C,rib-1,120,ac,hf,70,80,argon,5052 aluminium,3 mm,after balling the tip"
                .to_owned(),
            tip: None,
            scenario: Scenario {
                seed: seed + 100,
                rate_hz: 5_000.0,
                mains_hz: 60.0,
                strikes: vec![strike(&[], &mut chance), strike(&[0.31, 0.62], &mut chance)],
                tail_s: 0.2,
                logger: logger(),
                voltage: true,
            },
        }],
        readme: None,
    }
}

fn strike(missed_s: &[f64], chance: &mut Chance) -> Strike {
    Strike {
        rest_s: 0.25,
        method: Method::Hf {
            delay_s: chance.between(0.02, 0.06),
        },
        program: Program {
            rise: Rise::First { tau_s: 0.15e-3 },
            wave: Wave::Ac {
                hz: AC_HZ,
                en_share: 0.45,
                ep_ratio: 1.0,
                shape: Shape::Square,
                lead: None,
            },
            ..Program::steady(120.0)
        },
        column: Column {
            base_v: 11.0,
            slope_v_per_a: 0.02,
            cold_v: 1.2,
            warm_s: 0.05,
        },
        wander: Wander {
            v_rms: chance.between(0.15, 0.3),
            tones_hz: vec![8.0, 13.0],
        },
        missed_s: missed_s.to_vec(),
        arc_s: 1.1,
        ..Strike::default()
    }
}

fn logger() -> LoggerModel {
    LoggerModel {
        amps: ChannelModel {
            full_scale: 400.0,
            noise: 0.2,
            offset: 0.3,
            hum: 0.05,
            hf_noise: 60.0,
            ..ChannelModel::default()
        },
        volts: ChannelModel {
            full_scale: 120.0,
            noise: 0.05,
            hf_noise: 40.0,
            ..ChannelModel::default()
        },
        bits: Some(14),
    }
}
