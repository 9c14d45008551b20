//! Walks a recording once and gives its starts: by both traces where there are two that bear witness, else by the current.

use std::ops::Range;

use crate::error::Result;
use crate::job::measuring::Measuring;
use crate::recording::{Block, Cell, Recording, Segment, block_frames, blocks};
use crate::start::find::joint::JointDetector;
use crate::start::find::levels::{Levels, PairLevels};
use crate::start::find::phases::EventGroup;
use crate::start::find::scan::Scanner;
use crate::start::find::states::BlockView;
use crate::stats::order;

/// At fewer samples a second, Hz, each sample decides the state.
const SLOW_HZ: f64 = 2_000.0;

/// A walk over one segment.
pub(crate) enum Walk {
    /// The current decides, a voltage by fixed levels beside it.
    Current(Box<Scanner>),
    /// Both traces decide.
    Joint(Box<JointWalk>),
}

impl Walk {
    pub fn new(recording: &Recording, segment: Segment, measuring: &Measuring) -> Walk {
        let survey = recording.survey();
        let pair = PairLevels::of(survey, measuring).filter(|_| recording.rate_hz() >= SLOW_HZ);
        match pair {
            Some(levels) => Walk::Joint(Box::new(JointWalk::new(
                recording, segment, levels, measuring,
            ))),
            None => {
                let levels = Levels::of(survey, measuring);
                Walk::Current(Box::new(Scanner::new(
                    recording, segment, levels, measuring,
                )))
            }
        }
    }

    /// Walks on until about this many starts are over; none are left when the segment is.
    pub fn some(&mut self, recording: &Recording, count: usize) -> Result<Vec<EventGroup>> {
        match self {
            Walk::Current(scanner) => scanner.some(recording, count),
            Walk::Joint(walk) => walk.some(recording, count),
        }
    }
}

/// A walk by both traces. Cells of one state are passed over unread, the rest is cut into blocks.
pub(crate) struct JointWalk {
    detector: JointDetector,
    /// Range of the segment's cells in the survey.
    cells: Range<usize>,
    read: Block,
    block: usize,
    scratch: Vec<f64>,
}

impl JointWalk {
    fn new(
        recording: &Recording,
        segment: Segment,
        levels: PairLevels,
        measuring: &Measuring,
    ) -> JointWalk {
        let cells = &recording.survey().cells;
        let index = |frame: u64| cells.partition_point(|c| c.first < frame);
        let rate_hz = recording.rate_hz();
        JointWalk {
            detector: JointDetector::new(levels, measuring, rate_hz, segment.first),
            cells: index(segment.first)..index(segment.first + segment.frames),
            read: Block::default(),
            block: block_frames(rate_hz),
            scratch: Vec::new(),
        }
    }

    fn some(&mut self, recording: &Recording, count: usize) -> Result<Vec<EventGroup>> {
        while self.detector.done.len() < count {
            let Some(k) = self.cells.next() else {
                self.detector.finish();
                break;
            };
            let cell = recording.survey().cells[k];
            match self.detector.levels.state_of_cell(&cell) {
                Some(_) => self.detector.push(self.whole(&cell)),
                None => self.by_blocks(recording, &cell)?,
            }
        }
        Ok(std::mem::take(&mut self.detector.done))
    }

    /// A cell that shows one thing only.
    fn whole(&self, cell: &Cell) -> BlockView {
        BlockView {
            on: cell.first as f64,
            off: (cell.first + u64::from(cell.frames)) as f64,
            blocks: (cell.frames / self.block as u32).max(1),
            amps: f64::from(cell.amps[2]),
            volts: f64::from(cell.volts[2]),
        }
    }

    fn by_blocks(&mut self, recording: &Recording, cell: &Cell) -> Result<()> {
        let end = cell.first + u64::from(cell.frames);
        recording.read(cell.first..end, &mut self.read)?;
        for range in blocks(self.read.amps.len(), self.block) {
            let amps = middle(&self.read.amps[range.clone()], &mut self.scratch);
            let volts = middle(&self.read.volts[range.clone()], &mut self.scratch);
            self.detector.push(BlockView {
                on: (cell.first + range.start as u64) as f64,
                off: (cell.first + range.end as u64) as f64,
                blocks: 1,
                amps,
                volts,
            });
        }
        Ok(())
    }
}

/// The median; the mean where nothing sticks out by more than a part of it.
fn middle(values: &[f64], scratch: &mut Vec<f64>) -> f64 {
    const EVEN: f64 = 0.02;
    let (low, high) = order::range(values);
    let middle = 0.5 * (low + high);
    if high - low <= EVEN * middle.abs() {
        return middle;
    }
    scratch.clear();
    scratch.extend_from_slice(values);
    order::median_in_place(scratch).expect("a block holds a sample")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::start::find::tracker::{ConductRun, Span};
    use proptest::prelude::*;

    const RATE_HZ: f64 = 5000.0;

    /// What a group tells of its start, without what it was made of.
    type Told = (Option<f64>, Vec<ConductRun>, Vec<Span>, f64, [bool; 4]);

    fn told(groups: &[EventGroup]) -> Vec<Told> {
        let one = |g: &EventGroup| {
            let cut = [g.cut_begin, g.mid_arc, g.cut_end, g.after_arc];
            (g.open, g.runs.clone(), g.low.clone(), g.last_off, cut)
        };
        groups.iter().map(one).collect()
    }

    fn walk(recording: &Recording) -> JointWalk {
        let (segment, measuring) = (recording.segments()[0], Measuring::default());
        JointWalk::new(recording, segment, PairLevels::example(), &measuring)
    }

    /// The slow twin: every cell is read and cut into blocks.
    fn every_cell(recording: &Recording) -> Vec<EventGroup> {
        let mut walk = walk(recording);
        for cell in &recording.survey().cells {
            walk.by_blocks(recording, cell).unwrap();
        }
        walk.detector.finish();
        std::mem::take(&mut walk.detector.done)
    }

    /// The way the tool takes, this many starts at a time.
    fn some_at_a_time(recording: &Recording, count: usize) -> Vec<EventGroup> {
        let mut walk = walk(recording);
        let mut found = Vec::new();
        loop {
            let groups = walk.some(recording, count).unwrap();
            if groups.is_empty() {
                return found;
            }
            found.extend(groups);
        }
    }

    /// Stretches of one state each: idle, open, arcing either way, touching, the voltage on its way, ignition hash.
    fn traces() -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
        let stretch = (0..7usize, 1..2600usize, 10.0..120.0f64);
        proptest::collection::vec(stretch, 1..24).prop_map(|stretches| {
            let (mut amps, mut volts) = (Vec::new(), Vec::new());
            for (state, frames, level) in stretches {
                for k in 0..frames {
                    let ripple = 0.02 * ((k * 7919) % 101) as f64;
                    let (i, v) = match state {
                        0 => (0.1 * ripple, ripple),
                        1 => (0.3 * ripple, 70.0 + ripple),
                        2 => (level + ripple, 12.0 + ripple),
                        3 => (-level - ripple, -12.0),
                        4 => (level, 1.0 + ripple),
                        5 => (0.1, 50.0 * (k as f64 / frames as f64)),
                        _ if k % 40 == 0 => (level, 70.0),
                        _ => (0.0, 70.0),
                    };
                    amps.push(i);
                    volts.push(v);
                }
            }
            (amps, volts)
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        #[test]
        fn cells_passed_over_and_starts_taken_at_a_time_change_no_bit((amps, volts) in traces(), count in 1..40usize) {
            let recording = Recording::from_samples("made", RATE_HZ, amps, volts);
            let whole = told(&every_cell(&recording));
            prop_assert_eq!(&told(&some_at_a_time(&recording, count)), &whole);
            prop_assert_eq!(&told(&some_at_a_time(&recording, usize::MAX)), &whole);
        }
    }

    /// The slow twin sorts.
    #[test]
    fn the_middle_of_a_block_is_its_median_within_two_percent() {
        let mut chance = tipstrike_demo::Chance::new(15, 3);
        for _ in 0..2000 {
            let level = chance.between(-90.0, 90.0);
            let spread = chance.log_between(0.001, 20.0);
            let mut values: Vec<f64> = (0..3 + chance.below(10))
                .map(|_| level + spread * chance.normals().0)
                .collect();
            let seen = middle(&values, &mut Vec::new());
            values.sort_by(f64::total_cmp);
            let n = values.len();
            let median = 0.5 * (values[(n - 1) / 2] + values[n / 2]);
            let within = 0.02 * median.abs() + 1e-9;
            assert!((seen - median).abs() <= within, "{seen} {median}");
        }
    }
}
