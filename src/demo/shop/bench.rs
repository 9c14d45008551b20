//! The bench: one start of each kind in one recording a kind, to see what the tool makes of it.

use crate::chance::Chance;
use crate::kinds::Kind;
use crate::logger::LoggerModel;
use crate::scenario::{Method, Scenario, Wave};
use crate::shop::take::{Form, ShopJob, Take};

const JOB: &str = r#"# Made by `tipstrike demo`: recordings from an arc model, not from a weld.

[job]
title = "Bench: one recording of each kind of start"
site = "Kettle and skiff shop, bench 2"

[logger]
mains_hz = 60
electrode_negative = "positive"
current = { channel = 1, amps_at_full_scale = 600.0, tolerance_pct = 0.5 }
voltage = { channel = 2, volts_at_full_scale = 120.0, tolerance_pct = 1.0 }

[prep.bench]
class = "WLa20"
diameter = "3.2 mm"
taper_deg = 45
tip = "flat"
tip_flat = "0.8 mm"
marks = "lengthwise"
wheel = "diamond, fine"
"#;

const RATE_HZ: f64 = 20_000.0;
const STARTS: usize = 2;

pub(super) fn job(seed: u64) -> ShopJob {
    ShopJob {
        folder: "bench",
        job_toml: JOB.to_owned(),
        columns: "prep,process,start_method,note",
        takes: Kind::ALL
            .iter()
            .enumerate()
            .map(|(number, kind)| take(seed, number as u64, *kind))
            .collect(),
        readme: None,
    }
}

fn take(seed: u64, number: u64, kind: Kind) -> Take {
    let mut chance = Chance::new(seed, 3000 + number);
    let scenario = Scenario {
        seed: seed + 200 + number,
        rate_hz: RATE_HZ,
        mains_hz: 60.0,
        strikes: (0..STARTS)
            .map(|_| kind.strike(&mut chance, RATE_HZ, 60.0))
            .collect(),
        tail_s: 0.25,
        logger: LoggerModel::decent(600.0, 120.0, 0.04),
        voltage: true,
    };
    let strike = &scenario.strikes[0];
    let process = match strike.program.wave {
        Wave::Ac { .. } => "ac",
        Wave::Positive => "dcep",
        _ => "dc",
    };
    let method = match strike.method {
        Method::Hf { .. } => "hf",
        Method::Touch { before_v, .. } if before_v < 30.0 => "lift",
        Method::Touch { .. } => "scratch",
    };
    let name = kind.name();
    Take {
        file: format!(
            "{:02}-{}.wav",
            number + 1,
            name.to_lowercase().replace(' ', "-")
        ),
        form: Form::Wav,
        row: format!("bench,{process},{method},{name}"),
        tip: None,
        scenario,
    }
}
