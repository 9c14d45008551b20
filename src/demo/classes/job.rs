//! A recording of a class as a job folder: job file, run sheet, recording, truth.

use serde::Serialize;

use super::{Class, Trial, Wiring, logger, machine};
use crate::chance::Chance;
use crate::scenario::{Method, Wave};
use crate::shop::{DemoFile, wav};
use crate::truth::{OBSERVE_S, TruthMore, TruthStart};
use crate::{Made, simulate};

/// First of the streams of chance that the classes draw from.
const STREAM: u64 = 1 << 20;
/// Most recordings of a class that have a stream of their own.
const STREAMS: u64 = 1 << 20;
const RECORDING: &str = "starts.wav";

/// A made recording of a class.
#[derive(Debug, Clone)]
pub struct ClassJob {
    /// Its class.
    pub class: Class,
    /// Samples a second.
    pub rate_hz: f64,
    /// Name of its folder.
    pub folder: String,
    /// Its files, their paths beginning with the folder.
    pub files: Vec<DemoFile>,
    /// What is true of every start, in order.
    pub starts: Vec<ClassStart>,
}

/// What is true of a start of a class.
#[derive(Debug, Clone, Serialize)]
pub struct ClassStart {
    /// By the definitions.
    #[serde(flatten)]
    pub truth: TruthStart,
    /// By the definitions, and what else they allow.
    #[serde(flatten)]
    pub more: TruthMore,
    /// The recording cannot carry the figures: the row is to say so.
    pub only_said: bool,
    /// Figures about which the definitions say nothing here.
    pub undefined: Vec<&'static str>,
}

#[derive(Serialize)]
struct TruthFile<'a> {
    about: &'static str,
    class: &'static str,
    seed: u64,
    recordings: [TruthRecording<'a>; 1],
}

#[derive(Serialize)]
struct TruthRecording<'a> {
    file: &'static str,
    rate_hz: f64,
    starts: &'a [ClassStart],
}

/// Makes recording `number` of a class, drawn from a seed.
pub fn job(class: Class, seed: u64, number: u64) -> ClassJob {
    let stream = STREAM + class as u64 * STREAMS + number;
    let mut chance = Chance::new(seed, stream);
    let trial = logger::draw(class, &mut chance)
        .or_else(|| machine::draw(class, &mut chance))
        .expect("every class is drawn by one of the two");
    let mut made = simulate(&trial.scenario);
    trial.wiring.stop(&mut made);
    let starts = trial.starts(&made);
    let folder = format!("{}-{number}", class.name());
    let file = |name: &str, bytes: Vec<u8>| DemoFile {
        path: format!("{folder}/{name}"),
        bytes,
    };
    let truth = TruthFile {
        about: class.about(),
        class: class.name(),
        seed,
        recordings: [TruthRecording {
            file: RECORDING,
            rate_hz: made.rate_hz,
            starts: &starts,
        }],
    };
    let mut json = serde_json::to_string_pretty(&truth).expect("plain numbers and names");
    json.push('\n');
    let files = vec![
        file("job.toml", trial.job_toml(class).into_bytes()),
        file("runs.csv", trial.run_sheet().into_bytes()),
        file("truth.json", json.into_bytes()),
        file(RECORDING, trial.bytes(&made)),
    ];
    ClassJob {
        class,
        rate_hz: made.rate_hz,
        files,
        starts,
        folder,
    }
}

impl Trial {
    fn starts(&self, made: &Made) -> Vec<ClassStart> {
        let starts = made.truth.iter().zip(&self.scenario.strikes);
        starts
            .map(|(truth, strike)| {
                let mut undefined = self.undefined.clone();
                if strike.wander.v_rms < 3.0 * self.noise_in_band_v(truth) {
                    undefined.push("wander_v");
                }
                // What comes after its window moves no figure.
                let window_s = truth.t_lit_s.map(|lit| lit + OBSERVE_S);
                let end_s = match (truth.t_out_s.or(truth.t_open_s), window_s) {
                    (Some(out), Some(window)) => Some(out.min(window)),
                    (out, _) => out,
                };
                let from_s = self.only_said_from_s.unwrap_or(f64::INFINITY);
                ClassStart {
                    truth: truth.clone(),
                    more: truth.more.clone(),
                    only_said: end_s.is_none_or(|end| end >= from_s),
                    undefined,
                }
            })
            .collect()
    }

    /// Noise of the logger in the wander band, V rms: 2 to 200 Hz on DC; on AC a third of the bandwidth of the mean of the
    /// middle 60 % of each half-cycle. Rounding that the noise does not spread lies wholly in the band.
    fn noise_in_band_v(&self, truth: &TruthStart) -> f64 {
        let volts = &self.scenario.logger.volts;
        let bits = self.scenario.logger.bits.unwrap_or(16);
        let step = volts.full_scale / f64::from(1u32 << (bits - 1));
        let wide_hz = truth.ac_hz.map_or(198.0, |hz| hz / 3.0 / 0.6);
        let part = (2.0 * wide_hz / self.scenario.rate_hz).min(1.0);
        // Noise of half a step spreads the rounding evenly (dither: common practice).
        let rounding_part = if volts.noise < 0.5 * step { 1.0 } else { part };
        libm::sqrt(part * volts.noise * volts.noise + rounding_part * step * step / 12.0)
    }

    fn job_toml(&self, class: Class) -> String {
        let logger = &self.scenario.logger;
        let mains_hz = self.wiring.mains_stated_hz;
        let coupling = self
            .wiring
            .high_pass_stated_hz
            .map_or(String::new(), |hz| format!("high_pass_hz = {hz:.4}\n"));
        format!(
            r#"# Made by `tipstrike demo --classes`: a recording from an arc model, not from a weld.

[job]
title = "{}"
note = "{}"

[logger]
mains_hz = {}
electrode_negative = "positive"
{coupling}current = {{ channel = 1, amps_at_full_scale = {:?} }}
voltage = {{ channel = 2, volts_at_full_scale = {:?} }}

[prep.bench]
class = "WLa20"
diameter = "2.4 mm"
taper_deg = 30
tip = "flat"
tip_flat = "0.25 mm"
marks = "lengthwise"
wheel = "diamond, fine"
"#,
            class.name(),
            class.about(),
            mains_hz.unwrap_or(self.scenario.mains_hz),
            logger.amps.full_scale * self.wiring.scale_stated.unwrap_or(1.0),
            logger.volts.full_scale,
        )
    }

    fn run_sheet(&self) -> String {
        let strike = &self.scenario.strikes[0];
        let process = match strike.program.wave {
            Wave::Ac { .. } => "ac",
            Wave::Positive => "dcep",
            Wave::Negative | Wave::Pulse { .. } => "dc",
        };
        let method = match strike.method {
            Method::Hf { .. } => "hf",
            Method::Touch { .. } => "lift",
        };
        let slope = strike
            .upslope_s
            .map_or(String::new(), |s| format!("{s:.4}"));
        format!(
            "file,prep,set_a,process,start_method,upslope_s\n{RECORDING},bench,{:.0},{process},{method},{slope}\n",
            self.amps()
        )
    }

    fn bytes(&self, made: &Made) -> Vec<u8> {
        let turned = |trace: &[f64], reversed: bool| -> Vec<f64> {
            let sign = if reversed { -1.0 } else { 1.0 };
            trace.iter().map(|x| sign * x).collect()
        };
        let Wiring {
            reversed, swapped, ..
        } = self.wiring;
        let amps = turned(&made.amps, reversed[0]);
        let volts = turned(&made.volts, reversed[1]);
        let mut channels = [
            (amps.as_slice(), self.scenario.logger.amps.full_scale),
            (volts.as_slice(), self.scenario.logger.volts.full_scale),
        ];
        if swapped {
            channels.reverse();
        }
        wav(made.rate_hz, channels)
    }
}

impl Wiring {
    /// Cuts the recording off where it stops: nothing that comes later is true of it.
    fn stop(&self, made: &mut Made) {
        let Some(stops_s) = self.stops_s else { return };
        let frames = (stops_s * made.rate_hz) as usize;
        made.amps.truncate(frames);
        made.volts.truncate(frames);
        let begin_s = |t: &TruthStart| t.t_open_s.or(t.t_first_s);
        made.truth
            .retain(|t| begin_s(t).is_some_and(|begin| begin < stops_s));
        for truth in &mut made.truth {
            for instant in [
                &mut truth.t_first_s,
                &mut truth.t_lit_s,
                &mut truth.t_settled_s,
                &mut truth.t_out_s,
            ] {
                *instant = instant.filter(|t| *t < stops_s);
            }
        }
    }
}
