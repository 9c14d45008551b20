//! Walks a recording once and groups what happens into starts, in fixed memory.
//!
//! Cells of the survey that cannot change the state are passed over unread; the rest goes through the trackers
//! sample by sample, so the answer does not depend on how the recording is cut into blocks.

use std::ops::Range;

use crate::error::Result;
use crate::job::measuring::Measuring;
use crate::recording::{Block, Cell, Recording, Segment};
use crate::start::find::levels::Levels;
use crate::start::find::phases::EventGroup;
use crate::start::find::tracker::{ConductRun, Event, Span, Tracker};
use crate::stats::order;

/// Spikes up to this long, s, are ignition hash and no conduction …
const HF_NOISE_S: f64 = 50e-6;
/// … and so are spikes of fewer samples than this: a logger's own filter smears a spike over two.
const HF_NOISE_FRAMES: u64 = 3;
/// The open state ends at this part of the open level.
const OPEN_RELEASE: f64 = 0.8;
/// Frames of a piece of a cell.
const PIECE: usize = 512;
/// Runs a group keeps before what lies long after its window is dropped.
const MANY_RUNS: usize = 4096;

/// As many samples as ignition hash can cover, and one more.
pub(crate) fn hf_noise_frames(rate_hz: f64) -> u64 {
    HF_NOISE_FRAMES.max((HF_NOISE_S * rate_hz) as u64 + 2)
}

/// A walk over one segment, cell by cell.
pub(crate) struct Scanner {
    detector: StartDetector,
    /// Range of the segment's cells in the survey.
    cells: Range<usize>,
    passed_over: bool,
    block: Block,
    /// Frames of a piece of a cell.
    piece: usize,
}

impl Scanner {
    pub fn new(
        recording: &Recording,
        segment: Segment,
        levels: Levels,
        measuring: &Measuring,
    ) -> Scanner {
        let cells = &recording.survey().cells;
        let index = |frame: u64| cells.partition_point(|c| c.first < frame);
        Scanner {
            detector: StartDetector::new(levels, measuring, recording.rate_hz(), segment.first),
            cells: index(segment.first)..index(segment.first + segment.frames),
            passed_over: false,
            block: Block::default(),
            piece: PIECE,
        }
    }

    /// Walks on until about this many starts are over; none are left when the segment is.
    pub fn some(&mut self, recording: &Recording, count: usize) -> Result<Vec<EventGroup>> {
        while self.detector.done.len() < count {
            let Some(k) = self.cells.next() else {
                self.detector.finish();
                break;
            };
            let cell = recording.survey().cells[k];
            if self.detector.can_skip(&cell, recording) {
                self.detector.skip(&cell);
                self.passed_over = true;
            } else {
                self.read(recording, &cell)?;
            }
        }
        Ok(std::mem::take(&mut self.detector.done))
    }

    /// Reads a cell. The cells of a long recording are long: pieces of it that change nothing are passed over too.
    fn read(&mut self, recording: &Recording, cell: &Cell) -> Result<()> {
        let end = cell.first + u64::from(cell.frames);
        // One sample earlier, for what follows pieces that were passed over.
        let before = u64::from(self.passed_over);
        recording.read(cell.first - before..end, &mut self.block)?;
        let frames = self.block.amps.len();
        let mut at = before as usize;
        while at < frames {
            let to = frames.min(at + self.piece);
            let piece = piece(&self.block, at..to, self.detector.now);
            if self.detector.can_skip(&piece, recording) {
                self.detector.skip(&piece);
                self.passed_over = true;
            } else {
                if std::mem::take(&mut self.passed_over) {
                    let volts = self.block.volts.get(at - 1).copied();
                    self.detector.resume_after(self.block.amps[at - 1], volts);
                }
                self.detector.push(&self.block, at..to);
            }
            at = to;
        }
        Ok(())
    }
}

/// A piece of a block as a cell of its own; its frames begin at `first`.
fn piece(block: &Block, range: Range<usize>, first: u64) -> Cell {
    let ends = |values: &[f64]| {
        let (low, high) = order::range(values);
        [low as f32, high as f32, 0.0]
    };
    Cell {
        first,
        frames: range.len() as u32,
        amps: ends(&block.amps[range.clone()]),
        volts: block.volts.get(range).map_or([0.0; 3], ends),
    }
}

/// The state machine over one segment.
struct StartDetector {
    levels: Levels,
    measuring: Measuring,
    rate_hz: f64,
    out_gap: f64,
    first: u64,
    now: u64,
    current: Tracker,
    open: Tracker,
    last_open_off: f64,
    /// Where the last group was let go.
    last_end: f64,
    low_since: Option<f64>,
    previous_volts: f64,
    group: Option<EventGroup>,
    /// (runs seen, lit) when last asked: asking again is only worth while after another run.
    lit_known: (usize, bool),
    /// Starts that are over, in order.
    done: Vec<EventGroup>,
}

impl StartDetector {
    fn new(levels: Levels, measuring: &Measuring, rate_hz: f64, first: u64) -> Self {
        let guard = hf_noise_frames(rate_hz);
        StartDetector {
            levels,
            measuring: measuring.clone(),
            rate_hz,
            out_gap: measuring.out_gap_ms * 1e-3 * rate_hz,
            first,
            now: first,
            current: Tracker::new(levels.conduct_a, levels.release_a, guard),
            open: Tracker::new(levels.open_v, OPEN_RELEASE * levels.open_v, guard),
            last_open_off: f64::NEG_INFINITY,
            last_end: f64::NEG_INFINITY,
            low_since: None,
            previous_volts: 0.0,
            group: None,
            lit_known: (0, false),
            done: Vec::new(),
        }
    }

    /// Whether a cell leaves every state as it is, so that its samples need not be read.
    fn can_skip(&self, cell: &Cell, recording: &Recording) -> bool {
        if !self.current.unchanged_by(cell.amps[0], cell.amps[1]) {
            return false;
        }
        if !recording.has_volts() {
            // A cell does not tell what the trigger does, which matters while there is no current.
            return !recording.has_trigger() || self.current.is_on();
        }
        let [low, high, _] = cell.volts;
        if !self.current.is_on() {
            return self.open.unchanged_by(low, high);
        }
        let (nearest, farthest) = (low.abs().min(high.abs()), high.max(-low));
        if self.low_since.is_some() {
            f64::from(farthest) < self.levels.short_v * 0.9999
        } else {
            low * high > 0.0 && f64::from(nearest) > self.levels.short_v * 1.0001
        }
    }

    /// Passes over a cell that [`Watcher::can_skip`].
    fn skip(&mut self, cell: &Cell) {
        self.now = cell.first + u64::from(cell.frames);
        self.end_if_over();
    }

    /// Tells the sample before the next one, after cells were passed over.
    fn resume_after(&mut self, amps: f64, volts: Option<f64>) {
        self.current.resume_after(amps);
        if let Some(volts) = volts {
            self.open
                .resume_after(if self.current.is_on() { 0.0 } else { volts });
            self.previous_volts = volts;
        }
    }

    /// Takes the samples that follow, a part of a block.
    fn push(&mut self, block: &Block, range: Range<usize>) {
        for k in range {
            let amps = block.amps[k];
            let open = block.volts.get(k).copied();
            let open = open.or_else(|| {
                block
                    .trigger
                    .get(k)
                    .map(|&on| if on { f64::INFINITY } else { 0.0 })
            });
            self.sample(amps, open, !block.volts.is_empty());
        }
    }

    fn sample(&mut self, amps: f64, volts: Option<f64>, measured: bool) {
        let n = self.now;
        for event in self.current.push(n, amps).into_iter().flatten() {
            match event {
                Event::On(on) => self.conducting_from(on),
                Event::Off(run) => self.conducted(run),
            }
        }
        if let Some(volts) = volts {
            if measured {
                self.touching(n, volts);
            }
            let volts = if self.current.is_on() { 0.0 } else { volts };
            for event in self.open.push(n, volts.min(f64::MAX)).into_iter().flatten() {
                match event {
                    Event::On(on) => self.opened(on),
                    Event::Off(run) => self.last_open_off = run.span.off,
                }
            }
        }
        self.now = n + 1;
        self.end_if_over();
    }

    fn group(&mut self) -> &mut EventGroup {
        self.group.get_or_insert_with(EventGroup::default)
    }

    fn conducting_from(&mut self, on: f64) {
        let mid_arc = on <= self.first as f64;
        self.group().mid_arc |= mid_arc;
    }

    fn conducted(&mut self, run: ConductRun) {
        let group = self.group();
        group.runs.push(run);
        group.last_off = run.span.off;
        let many = group.runs.len();
        if many >= MANY_RUNS && many.is_power_of_two() {
            let (measuring, rate_hz) = (self.measuring.clone(), self.rate_hz);
            self.group().forget_after_window(&measuring, rate_hz);
        }
    }

    fn opened(&mut self, on: f64) {
        if self.group.is_none() {
            let cut_begin = on <= self.first as f64;
            let open = (!cut_begin).then_some(on);
            self.group = Some(EventGroup {
                open,
                cut_begin,
                // At a few samples a second an arc is over before its open circuit has outlasted the guard.
                after_arc: on < self.last_end,
                ..EventGroup::default()
            });
        }
    }

    /// Follows |voltage| under the short level while conducting.
    fn touching(&mut self, n: u64, volts: f64) {
        let short = self.levels.short_v;
        let low = self.current.is_on() && volts.abs() < short;
        let (a, b) = (self.previous_volts.abs(), volts.abs());
        let crossing = || n as f64 - 1.0 + (short - a) / (b - a);
        match (self.low_since, low) {
            (None, true) => {
                let began = self.current.began();
                self.low_since = Some(if a < short {
                    began
                } else {
                    crossing().max(began)
                });
            }
            (Some(on), false) => {
                let off = if self.current.is_on() {
                    crossing()
                } else {
                    n as f64
                };
                self.low_since = None;
                self.group().low.push(Span { on, off });
            }
            _ => {}
        }
        self.previous_volts = volts;
    }

    /// Ends the group where the arc is out, or where the circuit closed without one.
    fn end_if_over(&mut self) {
        let Some(group) = &self.group else { return };
        let now = self.now as f64;
        let quiet = |since: f64| now - since >= self.out_gap;
        if self.current.is_on() || (!group.runs.is_empty() && !quiet(group.last_off)) {
            return;
        }
        let open = self.open.is_on() || !quiet(self.last_open_off);
        if open && !self.is_lit() {
            return;
        }
        self.end_group(false);
        self.last_end = now;
        if self.open.is_told() {
            let began = self.open.began();
            self.group = Some(EventGroup {
                open: Some(began),
                after_arc: true,
                ..EventGroup::default()
            });
        }
    }

    /// Whether an arc has held in the group under way.
    fn is_lit(&mut self) -> bool {
        let Some(group) = &self.group else {
            return false;
        };
        if self.lit_known.0 != group.runs.len() {
            let lit = group.phases(&self.measuring, self.rate_hz).lit.is_some();
            self.lit_known = (group.runs.len(), lit);
        }
        self.lit_known.1
    }

    /// Lets a group go. An open circuit that no current followed is a start that did not light, unless it is only
    /// what an arc leaves behind, or a blip.
    fn end_group(&mut self, cut_end: bool) {
        self.lit_known = (0, false);
        let Some(mut group) = self.group.take() else {
            return;
        };
        group.cut_end = cut_end;
        let hold = self.measuring.hold_ms * 1e-3 * self.rate_hz;
        let open_until = if self.open.is_on() {
            self.now as f64
        } else {
            self.last_open_off
        };
        let held_open = group
            .open
            .is_some_and(|on| !group.after_arc && open_until - on >= hold);
        if !group.runs.is_empty() || held_open {
            self.done.push(group);
        }
    }

    /// The segment is over: what is under way is cut off here.
    fn finish(&mut self) {
        let end = self.now as f64;
        let conducting = self.current.is_told();
        if let Some(on) = self.low_since.take() {
            self.group().low.push(Span { on, off: end });
        }
        if let Some(run) = self.current.end_at(end) {
            self.conducted(run);
        }
        let open = self.open.is_on() && !self.is_lit();
        self.end_group(conducting || open);
    }
}

#[cfg(test)]
mod tests;
