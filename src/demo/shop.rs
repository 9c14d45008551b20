//! The invented shop: a small maker of stainless brew kettles and aluminium skiffs, and its recordings.

mod bench;
mod lids;
mod skiffs;
mod take;

use std::io::Cursor;

use hound::{SampleFormat, WavSpec, WavWriter};
use serde::Serialize;

use crate::scenario::Scenario;
use crate::truth::TruthStart;
use crate::{Made, simulate};
use take::{Form, ShopJob, TruthTip};

/// Fixes everything in the demo.
const SEED: u64 = 1848;

/// A file of the demo.
#[derive(Debug, Clone, PartialEq)]
pub struct DemoFile {
    /// Where it goes, from the demo's folder, parts separated by `/`.
    pub path: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

#[derive(Serialize)]
struct TruthFile<'a> {
    about: &'static str,
    seed: u64,
    recordings: Vec<TruthRecording<'a>>,
}

#[derive(Serialize)]
struct TruthRecording<'a> {
    file: &'a str,
    rate_hz: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    tip: Option<TruthTip>,
    starts: Vec<TruthStart>,
}

/// The small jobs that `samples/` keeps: kettle lids on DC, skiffs on AC.
pub fn samples() -> Vec<DemoFile> {
    [lids::job(SEED), skiffs::job(SEED)]
        .iter()
        .flat_map(ShopJob::files)
        .collect()
}

/// Everything: the samples, and a bench recording of each kind of start.
pub fn everything() -> Vec<DemoFile> {
    let mut files = samples();
    files.extend(bench::job(SEED).files());
    files
}

impl ShopJob {
    fn files(&self) -> Vec<DemoFile> {
        let mut sheet = format!("file,{}\n", self.columns);
        let mut files = Vec::new();
        let mut recordings = Vec::new();
        for take in &self.takes {
            let made = simulate(&take.scenario);
            sheet.push_str(&format!("{},{}\n", take.file, take.row));
            files.push(self.file(&take.file, take.form.bytes(&take.scenario, &made)));
            recordings.push(TruthRecording {
                file: &take.file,
                rate_hz: made.rate_hz,
                tip: take.tip.clone(),
                starts: made.truth,
            });
        }
        let truth = TruthFile {
            about: "What is true of every start, from the simulation itself. Times in seconds from the first sample.",
            seed: SEED,
            recordings,
        };
        let mut json = serde_json::to_string_pretty(&truth).expect("plain numbers and names");
        json.push('\n');
        files.push(self.file("job.toml", self.job_toml.clone().into_bytes()));
        files.push(self.file("runs.csv", sheet.into_bytes()));
        files.push(self.file("truth.json", json.into_bytes()));
        files.extend(self.readme.map(|text| self.file("README.md", text.into())));
        files
    }

    fn file(&self, name: &str, bytes: Vec<u8>) -> DemoFile {
        let path = match self.folder {
            "" => name.to_owned(),
            folder => format!("{folder}/{name}"),
        };
        DemoFile { path, bytes }
    }
}

impl Form {
    fn bytes(self, scenario: &Scenario, made: &Made) -> Vec<u8> {
        match self {
            Form::Wav => {
                let logger = &scenario.logger;
                wav(
                    made.rate_hz,
                    [
                        (&made.amps, logger.amps.full_scale),
                        (&made.volts, logger.volts.full_scale),
                    ],
                )
            }
            Form::Csv => csv(made),
        }
    }
}

/// 16-bit stereo of what the logger's converter gave: each channel with its full scale.
pub fn wav(rate_hz: f64, channels: [(&[f64], f64); 2]) -> Vec<u8> {
    const STEPS: f64 = 32768.0;
    let spec = WavSpec {
        channels: 2,
        sample_rate: rate_hz as u32,
        bits_per_sample: 16,
        sample_format: SampleFormat::Int,
    };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut bytes, spec).expect("memory takes every byte");
    let [(first, first_full), (second, second_full)] = channels;
    for (first, second) in first.iter().zip(second) {
        for (value, full) in [(first, first_full), (second, second_full)] {
            let step = libm::rint(value / full * STEPS) as i16;
            writer.write_sample(step).expect("memory takes every byte");
        }
    }
    writer.finalize().expect("memory takes every byte");
    bytes.into_inner()
}

fn csv(made: &Made) -> Vec<u8> {
    let mut text = String::from("time (s),current (A),voltage (V)\n");
    for (k, (amps, volts)) in made.amps.iter().zip(&made.volts).enumerate() {
        let time = k as f64 / made.rate_hz;
        text.push_str(&format!("{time:.4},{amps:.1},{volts:.2}\n"));
    }
    text.into_bytes()
}
