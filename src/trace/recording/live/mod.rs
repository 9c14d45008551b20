//! A recording that is still being made: bytes come in, its last seconds are a recording to be measured.

mod feed;
mod frames;

use crate::error::{Error, ErrorKind, Result};
use crate::job::Logger;
use crate::recording::open::Opened;
use crate::recording::source::{CURRENT, Memory, Raw, VOLTAGE, rate_fault};
use crate::recording::table::pace;
use crate::recording::{Recording, open};
use feed::Feed;
use frames::Frames;

/// It is looked at in steps of this, s, where that is no more than a quarter of the frames held.
const STEP_S: f64 = 0.25;
/// Held of it, s, where the frames allow …
const HELD_S: f64 = 20.0;
/// … and they are no more than this.
const HELD_FRAMES: usize = 1 << 20;
/// A step reports in cells of this length, s.
const CELL_S: f64 = 0.02;

/// The last seconds of a recording that is still being made. How its bytes come in pieces changes nothing.
pub struct Live {
    name: String,
    logger: Logger,
    feed: Feed,
    frames: Frames,
    /// Frames of those held that were looked at.
    looked: usize,
    /// Zeros of current and voltage at the last look, A and V.
    zeros: [f64; 2],
}

/// What was new in a step.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Step {
    /// Largest magnitude of current, A, and of voltage, V, in each 20 ms.
    pub farthest: Vec<(f64, f64)>,
    /// Nothing follows it without a gap: samples are missing, or the recording is over.
    pub ends: bool,
}

impl Live {
    /// A recording of which nothing has come yet; `name` is what errors call it.
    ///
    /// # Errors
    /// A `[logger]` that only a whole recording can be read with.
    pub fn new(name: &str, logger: &Logger) -> Result<Live> {
        if logger.high_pass_hz.is_some() {
            let problem =
                "the low end of an AC-coupled logger is restored over a whole recording only";
            return Err(Error::new(
                ErrorKind::NeedsWholeRecording,
                "[logger] high_pass_hz",
                problem,
            )
            .hint("Record to a file, and measure that"));
        }
        open::check(logger)?;
        Ok(Live {
            name: name.to_owned(),
            logger: logger.clone(),
            feed: Feed::default(),
            frames: Frames::default(),
            looked: 0,
            zeros: [0.0; 2],
        })
    }

    /// Takes the bytes that follow.
    ///
    /// # Errors
    /// What is no recording, or one that `[logger]` does not fit.
    pub fn push(&mut self, bytes: &[u8]) -> Result<()> {
        self.feed
            .push(bytes, &self.name, &self.logger, &mut self.frames)
    }

    /// No bytes follow.
    ///
    /// # Errors
    /// As [`Live::push`]; nothing that could be read.
    pub fn finish(&mut self) -> Result<()> {
        self.feed.finish(&self.name, &self.logger, &mut self.frames)
    }

    /// Goes on by a step; `None` until enough has come. Behind one that ends, what was looked at is to be dropped.
    pub fn step(&mut self) -> Option<Step> {
        let known = self.feed.known()?;
        let frames = ((STEP_S * known.rate_hz).ceil() as usize).min(HELD_FRAMES / 4);
        let whole = self.looked + frames;
        let (there, over) = (self.frames.len(), self.feed.is_over());
        let next_break = self.frames.breaks.first().copied();
        let to = whole.min(there).min(next_break.unwrap_or(usize::MAX));
        let ends = next_break == Some(to) || over && to == there;
        // That it ends may come to be known only after its last frame was looked at.
        if to < whole && !ends || to == 0 {
            return None;
        }
        let cell = ((CELL_S * known.rate_hz) as usize).max(1);
        let farthest = (self.looked..to)
            .step_by(cell)
            .map(|at| {
                let [amps, volts] = [CURRENT, VOLTAGE].map(|trace| {
                    let values = self.frames.raw[trace].get(at..to.min(at + cell));
                    let gain = known.scales[trace].gain;
                    let magnitude = |x: &f64| (x * gain - self.zeros[trace]).abs();
                    values
                        .unwrap_or(&[])
                        .iter()
                        .map(magnitude)
                        .fold(0.0, f64::max)
                });
                (amps, volts)
            })
            .collect();
        self.looked = to;
        let held = ((HELD_S * known.rate_hz) as usize).min(HELD_FRAMES);
        // Now and then, and not at every step, for what is kept has to be moved.
        if self.looked > held + held / 4 {
            let dropped = self.looked - held;
            self.frames.drop_first(dropped);
            self.looked -= dropped;
        }
        Some(Step { farthest, ends })
    }

    /// The last seconds up to the last step.
    ///
    /// # Errors
    /// Traces past every welding source; times that tell no rate.
    ///
    /// # Panics
    /// Before the first step.
    pub fn recording(&mut self) -> Result<Recording> {
        let known = self.feed.known().expect("there was a step");
        let mut raw = self.frames.raw.each_ref().map(|column| {
            let end = self.looked.min(column.len());
            column[..end].to_vec()
        });
        let mut rate_hz = known.rate_hz;
        let mut from_s = self.frames.dropped as f64 / rate_hz;
        if let [first, .., last] = self.frames.times[..self.looked.min(self.frames.times.len())] {
            rate_hz = pace::rate(self.looked as u64 - 1, last - first);
            if let Some(problem) = rate_fault(rate_hz) {
                return Err(Error::new(ErrorKind::SampleRate, &self.name, problem)
                    .hint("Is this the right time column? Else state rate_hz"));
            }
            from_s = first;
            even_out(&self.frames.times[..self.looked], &mut raw, rate_hz);
        }
        let source = Memory::beginning(from_s, rate_hz, raw);
        let opened = Opened::plain(Box::new(source), known.scales.clone());
        let opened = open::by_logger(opened, &self.logger);
        let recording = Recording::examine(&self.name, opened)?;
        recording.refuse_absurd(&self.name)?;
        self.zeros = recording.zeros_at_end();
        Ok(recording)
    }

    /// How much of it has come, s; `None` until its head has.
    pub fn length_s(&self) -> Option<f64> {
        let frames = self.frames.dropped as f64 + self.frames.len() as f64;
        Some(frames / self.feed.known()?.rate_hz)
    }

    /// Drops what was looked at: samples are missing behind it.
    pub fn drop_looked(&mut self) {
        self.frames.drop_first(self.looked);
        self.looked = 0;
    }
}

/// Straight lines between rows whose times are not quite even.
fn even_out(times: &[f64], raw: &mut Raw, rate_hz: f64) {
    let first = times[0];
    for column in raw.iter_mut().filter(|column| !column.is_empty()) {
        let mut next = 1;
        let even = (0..times.len()).map(|k| {
            let t = first + k as f64 / rate_hz;
            while next + 1 < times.len() && times[next] < t {
                next += 1;
            }
            let width = times[next] - times[next - 1];
            let part = match width > 0.0 {
                true => ((t - times[next - 1]) / width).clamp(0.0, 1.0),
                false => 1.0,
            };
            column[next - 1] + (column[next] - column[next - 1]) * part
        });
        *column = even.collect();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The head of a 16-bit mono stream has come.
    fn live(rate: u32) -> Live {
        let logger = "current = { channel = 1, amps_at_full_scale = 300 }";
        let mut live = Live::new("stream", &toml::from_str(logger).unwrap()).unwrap();
        let mut head = Vec::from(*b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0");
        head.extend(rate.to_le_bytes());
        head.extend((2 * rate).to_le_bytes());
        head.extend(b"\x02\0\x10\0data\0\0\0\0");
        live.push(&head).unwrap();
        live
    }

    #[test]
    fn the_highest_rate_makes_it_hold_no_more() {
        let mut live = live(1_000_000_000);
        for _ in 0..50 {
            live.push(&[0; 1 << 17]).unwrap();
            while live.step().is_some() {}
            assert!(live.frames.len() <= HELD_FRAMES + HELD_FRAMES / 2 + (1 << 16));
        }
    }

    #[test]
    fn an_end_on_a_step_is_told_when_it_is_known() {
        let mut live = live(2000);
        live.push(&[0; 1000]).unwrap();
        assert!(live.step().is_some_and(|step| !step.ends));
        assert_eq!(live.step(), None);
        live.finish().unwrap();
        let end = Step {
            farthest: Vec::new(),
            ends: true,
        };
        assert_eq!(live.step(), Some(end));
        live.drop_looked();
        assert_eq!(live.step(), None);
    }

    #[test]
    fn no_more_is_held_however_long_it_goes_on() {
        let rate = 2000_u32;
        let mut live = live(rate);
        let mut steps = 0;
        for _ in 0..600 {
            live.push(&vec![0; 2 * rate as usize]).unwrap();
            while live.step().is_some() {
                steps += 1;
            }
            assert!(
                live.frames.len() <= (1.25 * HELD_S * f64::from(rate)) as usize + rate as usize
            );
        }
        assert_eq!(steps, 2400);
        let recording = live.recording().unwrap();
        assert!((recording.time_s(recording.frames()) - 600.0).abs() < 1e-9);
    }
}
