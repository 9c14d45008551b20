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

/// At fewer samples a second, Hz, a state is told sample by sample.
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

    /// Walks on until about so many starts are over; none are left when the segment is.
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
