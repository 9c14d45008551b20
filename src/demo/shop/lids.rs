//! "Kettle lids, two grinds": the same two coupons, a lengthwise fine 30° grind against a crosswise coarse 60° one.

use crate::chance::Chance;
use crate::logger::{ChannelModel, LoggerModel};
use crate::scenario::{Column, Disturbance, Method, Program, Rise, Scenario, Strike, Try, Wander};
use crate::shop::take::{Form, ShopJob, Take, TruthTip};

const JOB: &str = r#"# Made by `tipstrike demo`: recordings from an arc model, not from a weld.

[job]
title = "Kettle lids, two grinds"
site = "Kettle and skiff shop, bench 2"
who = "lead welder"
procedure = "lid edge, 304 stainless 1.5 mm"
note = "Five tips of each grind, four starts on a tip, two coupons, the grinds in mixed order."

[logger]
mains_hz = 60
electrode_negative = "positive"
tolerance_pct = 0.1
current = { channel = 1, amps_at_full_scale = 200.0, tolerance_pct = 0.5 }
voltage = { channel = 2, volts_at_full_scale = 120.0, tolerance_pct = 1.0 }

[prep.A]
class = "WLa20"
diameter = "2.4 mm"
taper_deg = 30
tip = "flat"
tip_flat = "0.25 mm"
marks = "lengthwise"
wheel = "diamond, fine"

[prep.B]
class = "WLa20"
diameter = "2.4 mm"
taper_deg = 60
tip = "point"
marks = "crosswise"
wheel = "bench wheel, coarse"
"#;

const COLUMNS: &str = "prep,tip_id,coupon,date,starts,set_a,process,start_method,gas,flow,cup,material,thickness,\
stickout,arc_gap,since_regrind,operator,tip_after,note";

const README: &str = include_str!("readme.md");

const RATE_HZ: f64 = 10_000.0;
/// Starts on a tip.
const STARTS: usize = 4;
/// Standard deviation of the logarithm of what the tips of one grind differ by: about a quarter.
const TIPS_DIFFER: f64 = 0.25;

/// How a grind behaves.
struct Grind {
    name: &'static str,
    delay_ms: f64,
    retry: f64,
    dropout: f64,
    wander_v: (f64, f64),
    cold_v: f64,
    /// What each start adds to the chance of a retry.
    wear: f64,
    tip_after: &'static str,
}

const FINE: Grind = Grind {
    name: "A",
    delay_ms: 18.0,
    retry: 0.04,
    dropout: 0.0,
    wander_v: (0.08, 0.16),
    cold_v: 1.0,
    wear: 0.0,
    tip_after: "clean",
};

const COARSE: Grind = Grind {
    name: "B",
    delay_ms: 60.0,
    retry: 0.25,
    dropout: 0.2,
    wander_v: (0.2, 0.5),
    cold_v: 2.2,
    wear: 0.03,
    tip_after: "a little pitted",
};

/// The tips in the order struck, with coupon and day.
const ORDER: [(&Grind, usize, &str, &str); 10] = [
    (&FINE, 1, "lid-1", "2026-03-09"),
    (&COARSE, 1, "lid-1", "2026-03-09"),
    (&COARSE, 2, "lid-1", "2026-03-09"),
    (&FINE, 2, "lid-1", "2026-03-09"),
    (&COARSE, 3, "lid-1", "2026-03-09"),
    (&FINE, 3, "lid-2", "2026-03-10"),
    (&COARSE, 4, "lid-2", "2026-03-10"),
    (&FINE, 4, "lid-2", "2026-03-10"),
    (&COARSE, 5, "lid-2", "2026-03-10"),
    (&FINE, 5, "lid-2", "2026-03-10"),
];

pub(super) fn job(seed: u64) -> ShopJob {
    ShopJob {
        folder: "",
        job_toml: JOB.to_owned(),
        columns: COLUMNS,
        takes: ORDER
            .iter()
            .enumerate()
            .map(|(number, (grind, tip, coupon, date))| {
                let tip = TruthTip::ground(seed, number as u64, grind, *tip);
                take(seed, number as u64, grind, tip, coupon, date)
            })
            .collect(),
        readme: Some(README),
    }
}

impl TruthTip {
    /// A tip as this grinding came out: the grind's own numbers, off by what tips differ.
    fn ground(seed: u64, number: u64, grind: &Grind, tip: usize) -> TruthTip {
        let mut chance = Chance::new(seed, 2000 + number);
        let (delay, wander) = chance.normals();
        let (delay, wander) = (
            libm::exp(TIPS_DIFFER * delay),
            libm::exp(TIPS_DIFFER * wander),
        );
        TruthTip {
            tip_id: format!("{}{tip}", grind.name),
            prep: grind.name,
            delay_ms: grind.delay_ms * delay,
            retry: (grind.retry * delay).min(0.5),
            wander_v: (grind.wander_v.0 * wander, grind.wander_v.1 * wander),
        }
    }
}

fn take(seed: u64, number: u64, grind: &Grind, tip: TruthTip, coupon: &str, date: &str) -> Take {
    let mut chance = Chance::new(seed, 1000 + number);
    let (name, id) = (grind.name, &tip.tip_id);
    Take {
        file: format!("{coupon}-{id}.wav"),
        form: Form::Wav,
        row: format!(
            "{name},{id},{coupon},{date},{STARTS},80,dc,hf,argon,8 l/min,7,304 stainless,1.5 mm,5 mm,1.5 mm,1,bench 2,{},fresh grind",
            grind.tip_after
        ),
        scenario: Scenario {
            seed: seed + number,
            rate_hz: RATE_HZ,
            mains_hz: 60.0,
            strikes: (0..STARTS)
                .map(|k| strike(grind, &tip, k, &mut chance))
                .collect(),
            tail_s: 0.2,
            logger: logger(),
            voltage: true,
        },
        tip: Some(tip),
    }
}

fn strike(grind: &Grind, tip: &TruthTip, number: usize, chance: &mut Chance) -> Strike {
    let mut tries = Vec::new();
    let retry = tip.retry + grind.wear * number as f64;
    while tries.len() < 3 && chance.happens(retry) {
        tries.push(Try {
            lasts_s: chance.between(0.002, 0.011),
            pause_s: chance.between(0.05, 0.18),
        });
    }
    let dropouts = match chance.happens(grind.dropout) {
        true => vec![Disturbance {
            at_s: chance.between(0.06, 0.3),
            lasts_s: chance.log_between(0.0015, 0.02),
        }],
        false => Vec::new(),
    };
    Strike {
        rest_s: chance.between(0.16, 0.22),
        method: Method::Hf {
            delay_s: 0.008 + chance.waiting(tip.delay_ms * 1e-3).min(0.3),
        },
        tries,
        program: Program {
            rise: Rise::Second {
                omega: chance.between(2500.0, 3500.0),
                zeta: chance.between(0.7, 0.9),
            },
            ..Program::steady(80.0)
        },
        column: Column {
            cold_v: grind.cold_v * chance.between(0.7, 1.3),
            warm_s: chance.between(0.03, 0.06),
            ..Column::default()
        },
        wander: Wander {
            v_rms: chance.between(tip.wander_v.0, tip.wander_v.1),
            tones_hz: (0..3)
                .map(|k| chance.between(7.0, 18.0) + 17.0 * f64::from(k))
                .collect(),
        },
        dropouts,
        arc_s: chance.between(1.06, 1.1),
        ..Strike::default()
    }
}

fn logger() -> LoggerModel {
    LoggerModel {
        amps: ChannelModel {
            full_scale: 200.0,
            noise: 0.12,
            offset: 0.35,
            drift_per_s: 0.002,
            hum: 0.05,
            hf_noise: 60.0,
            ..ChannelModel::default()
        },
        volts: ChannelModel {
            full_scale: 120.0,
            noise: 0.04,
            offset: -0.08,
            hum: 0.02,
            hf_noise: 50.0,
            ..ChannelModel::default()
        },
        bits: Some(16),
    }
}
