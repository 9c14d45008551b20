//! An open recording: calibrated, surveyed, at one even rate.

use std::ops::Range;
use std::path::Path;
use std::sync::{Mutex, PoisonError};

use crate::bytes::Bytes;
use crate::error::{Error, ErrorKind, Result};
use crate::job::Logger;
use crate::recording::baseline::Baseline;
use crate::recording::cell::{Block, Segment, time_s};
use crate::recording::finding::Finding;
use crate::recording::health::HealthCheck;
use crate::recording::open::{self, Opened};
use crate::recording::restore::Restored;
use crate::recording::scale::Scale;
use crate::recording::seen::Seen;
use crate::recording::source::{CURRENT, Memory, Raw, Source, TRIGGER, VOLTAGE};
use crate::recording::survey::{self, Survey};

/// Values beyond this, A or V, cannot come from a weld.
const MOST: f32 = 1e6;

/// An open recording: calibrated, surveyed, at one even rate. Many threads may read from it, one at a time.
pub struct Recording {
    name: String,
    source: Mutex<Box<dyn Source>>,
    rate_hz: f64,
    segments: Vec<Segment>,
    has_volts: bool,
    has_trigger: bool,
    traces: [Trace; 2],
    trigger_level: f64,
    electrode_negative_sign: f64,
    survey: Survey,
}

/// Scale and zero of current or voltage.
struct Trace {
    scale: Scale,
    zero: Baseline,
}

impl Recording {
    /// Opens a WAV or CSV file, detected by content, reads its header, and surveys it in one pass.
    ///
    /// # Errors
    /// Where, what was found, what was expected, the way out.
    pub fn open(path: &Path, logger: &Logger) -> Result<Recording> {
        Recording::read_from(&Bytes::file(path)?, logger)
    }

    /// The same from bytes that may lie in memory.
    ///
    /// # Errors
    /// As [`Recording::open`].
    pub fn read_from(bytes: &Bytes, logger: &Logger) -> Result<Recording> {
        let opened = open::open(bytes, logger)?;
        let recording = Recording::examine(bytes.file_name(), opened)?;
        recording.refuse_absurd(bytes.name())?;
        Ok(recording)
    }

    /// A trace past every welding source is a wrong scale, or a logger's number for "over the range".
    pub(super) fn refuse_absurd(&self, name: &str) -> Result<()> {
        for cell in &self.survey.cells {
            for (trace, unit) in [(cell.amps, "A"), (cell.volts, "V")] {
                let farthest = trace[1].max(-trace[0]);
                // Not a number is refused too.
                if farthest.is_nan() || farthest > MOST {
                    let at = format!("{name}, at {:.3} s", self.time_s(cell.first));
                    let problem =
                        format!("a trace reaches {farthest:e} {unit}, past every welding source");
                    return Err(Error::new(ErrorKind::WrongScale, at, problem)
                        .hint("Check the scale in [logger], and rows with the logger's number for over the range"));
                }
            }
        }
        Ok(())
    }

    /// A recording of plain vectors, already in A and V with their zeros at 0; `volts` may be empty.
    ///
    /// # Panics
    /// Where the rate is not over 0, or `volts` is neither empty nor as long as `amps`.
    pub fn from_samples(name: &str, rate_hz: f64, amps: Vec<f64>, volts: Vec<f64>) -> Recording {
        let source = Box::new(Memory::new(rate_hz, amps, volts));
        let opened = Opened::plain(source, [Scale::unit(), Scale::unit()]);
        Recording::examine(name, opened).expect("memory can be read")
    }

    /// Surveys, and looks after its health.
    pub(super) fn examine(name: &str, opened: Opened) -> Result<Recording> {
        let Opened {
            mut source,
            scales,
            mut findings,
            ..
        } = opened;
        if let Some(corner_hz) = opened.high_pass_hz {
            source = Box::new(Restored::new(source, corner_hz)?);
            findings.push(Finding::new(Seen::Restored { corner_hz }));
        }
        let mut surveyed = survey::survey(source.as_mut(), &scales)?;
        let mut patient = HealthCheck {
            source: source.as_mut(),
            scales: &scales,
            zeros: &surveyed.zeros,
            cells: &surveyed.survey.cells,
            idle: &surveyed.idle,
            mains_hz: opened.mains_hz,
            electrode_negative_sign: opened.electrode_negative_sign,
            restored: opened.high_pass_hz.is_some(),
            unscaled: opened.unscaled,
            run_a: surveyed.survey.sight.and_then(|s| s.run_a),
            cut_off: [None; 2],
        };
        findings.extend(patient.findings()?);
        surveyed.survey.cut_off = patient.cut_off;
        surveyed.survey.findings = findings;
        surveyed.survey.idle = surveyed.idle;
        let mut zeros = surveyed.zeros.into_iter();
        Ok(Recording {
            name: name.to_owned(),
            rate_hz: source.rate_hz(),
            segments: source.segments().to_vec(),
            has_volts: source.has(VOLTAGE),
            has_trigger: source.has(TRIGGER),
            source: Mutex::new(source),
            traces: scales.map(|scale| Trace {
                scale,
                zero: zeros.next().unwrap_or_default(),
            }),
            trigger_level: opened.trigger_level,
            electrode_negative_sign: opened.electrode_negative_sign,
            survey: surveyed.survey,
        })
    }

    /// The name it is listed under.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Frames a second.
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Frames in all.
    pub fn frames(&self) -> u64 {
        self.segments().last().map_or(0, |s| s.first + s.frames)
    }

    /// The contiguous parts, in order.
    pub fn segments(&self) -> &[Segment] {
        &self.segments
    }

    /// Time of a frame, s from the recording's first sample.
    pub fn time_s(&self, frame: u64) -> f64 {
        time_s(self.segments(), self.rate_hz, frame)
    }

    /// Whether there is a voltage trace.
    pub fn has_volts(&self) -> bool {
        self.has_volts
    }

    /// Whether there is a trigger channel.
    pub fn has_trigger(&self) -> bool {
        self.has_trigger
    }

    /// What the one pass over it told.
    pub fn survey(&self) -> &Survey {
        &self.survey
    }

    /// Reads a stretch inside one segment, replacing what `block` held.
    ///
    /// Cheapest in rising order; going back is allowed. How a stretch is cut into reads changes no bit of it.
    ///
    /// # Errors
    /// What reading the file gives.
    ///
    /// # Panics
    /// Where the range reaches over a segment's ends.
    pub fn read(&self, range: Range<u64>, block: &mut Block) -> Result<()> {
        let inside = |s: &Segment| s.first <= range.start && range.end <= s.first + s.frames;
        assert!(
            range.is_empty() || self.segments().iter().any(inside),
            "a stretch inside one segment"
        );
        let first = range.start;
        let mut raw: Raw = [
            std::mem::take(&mut block.amps),
            std::mem::take(&mut block.volts),
            Vec::new(),
        ];
        let read = {
            // A reader that failed has left nothing half-done: what it reads next it reads anew.
            let source = self.source.lock();
            source
                .unwrap_or_else(PoisonError::into_inner)
                .read(range, &mut raw)
        };
        for (trace, values) in self.traces.iter().zip(&mut raw) {
            let gain = trace.scale.gain;
            values.iter_mut().for_each(|v| *v *= gain);
            trace.zero.subtract(first, values);
        }
        block.trigger.clear();
        block
            .trigger
            .extend(raw[TRIGGER].iter().map(|&v| v >= self.trigger_level));
        [block.amps, block.volts, _] = raw;
        read
    }

    /// How far the zero of the current steps across a stretch of frames, A, and how far beyond its own course before and
    /// after; `None` where it is not known on both sides.
    pub(crate) fn zero_step(&self, first: f64, last: f64) -> Option<(f64, f64)> {
        self.traces[CURRENT].zero.step_across(first, last)
    }

    /// The zeros of current and voltage at its end, A and V.
    pub(super) fn zeros_at_end(&self) -> [f64; 2] {
        self.zeros_at(self.frames().saturating_sub(1))
    }

    /// The zeros of current and voltage at a frame, A and V.
    pub fn zeros_at(&self, frame: u64) -> [f64; 2] {
        [CURRENT, VOLTAGE].map(|trace| self.traces[trace].zero.at(frame))
    }

    /// Current and voltage at full scale, A and V; `None` where the file has none.
    pub fn full_scale(&self) -> [Option<f64>; 2] {
        [CURRENT, VOLTAGE].map(|trace| self.traces[trace].scale.full_scale)
    }

    /// A recording of other traces, in A and V with their zeros in them, by the same logger; `volts` may be empty.
    ///
    /// # Errors
    /// None that memory could give.
    pub fn alike(&self, amps: &[f64], volts: &[f64], mains_hz: Option<f64>) -> Result<Recording> {
        let scales = [CURRENT, VOLTAGE].map(|trace| self.traces[trace].scale.clone());
        let raw = |values: &[f64], trace: usize| -> Vec<f64> {
            values.iter().map(|x| x / scales[trace].gain).collect()
        };
        let source = Memory::new(self.rate_hz, raw(amps, CURRENT), raw(volts, VOLTAGE));
        let opened = Opened {
            mains_hz,
            trigger_level: self.trigger_level,
            electrode_negative_sign: self.electrode_negative_sign,
            ..Opened::plain(Box::new(source), scales)
        };
        Recording::examine(&self.name, opened)
    }

    /// +1 where the current trace is positive while the electrode is negative, −1 else.
    pub fn electrode_negative_sign(&self) -> f64 {
        self.electrode_negative_sign
    }

    /// Standard uncertainty of a current level from the calibration alone (shunt, gain, logger), A.
    pub fn u_amps(&self, level: f64) -> f64 {
        self.traces[CURRENT].scale.standard_uncertainty(level)
    }

    /// Standard uncertainty of a voltage level from the calibration alone, V.
    pub fn u_volts(&self, level: f64) -> f64 {
        self.traces[VOLTAGE].scale.standard_uncertainty(level)
    }
}
