//! Blocks of both traces become states, states become a row of stretches (docs/measures.md).

use crate::recording::Cell;
use crate::start::find::levels::PairLevels;

/// What both traces together say it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum State {
    /// Neither shows anything.
    Rest,
    /// Current without voltage.
    Touch,
    /// The voltage stands at open circuit.
    Open,
    /// Current and an arc's voltage.
    Arc,
    /// A voltage between the two, and no current: it fits no line.
    Odd,
}

impl PairLevels {
    /// The state of a block.
    pub fn state(&self, amps: f64, volts: f64) -> State {
        let (amps, volts) = (amps.abs(), volts.abs());
        if volts <= self.touch_v {
            return match amps > self.flow_a {
                true => State::Touch,
                false => State::Rest,
            };
        }
        if volts >= self.open_v {
            return match amps < self.sure_a {
                true => State::Open,
                false => State::Arc,
            };
        }
        match amps > self.flow_a {
            true => State::Arc,
            false if volts >= self.idle_open_v => State::Open,
            false => State::Odd,
        }
    }

    /// The state of every sample of a cell, and its sign, where its smallest and largest values leave no choice.
    pub fn state_of_cell(&self, cell: &Cell) -> Option<(State, i8)> {
        let near = |[low, high, _]: [f32; 3]| match low * high > 0.0 {
            true => f64::from(low.abs().min(high.abs())),
            false => 0.0,
        };
        let far = |[low, high, _]: [f32; 3]| f64::from(high.max(-low));
        let sign = |volts: f32, amps: f32| self.sign(f64::from(amps), f64::from(volts));
        let states = [
            (near(cell.amps), near(cell.volts)),
            (near(cell.amps), far(cell.volts)),
            (far(cell.amps), near(cell.volts)),
            (far(cell.amps), far(cell.volts)),
        ]
        .map(|(amps, volts)| self.state(amps, volts));
        let signs = (
            sign(cell.volts[0], cell.amps[0]),
            sign(cell.volts[1], cell.amps[1]),
        );
        let same = states.iter().all(|s| *s == states[0]);
        let one_sign = signs.0 == signs.1 || states[0] == State::Rest;
        (same && one_sign).then_some((states[0], signs.0))
    }

    /// The sign of a block: that of its voltage, of its current where the voltage is near zero.
    pub fn sign(&self, amps: f64, volts: f64) -> i8 {
        let told = match volts.abs() > self.touch_v {
            true => volts,
            false => amps,
        };
        if told < 0.0 { -1 } else { 1 }
    }
}

/// What a block, or a cell of one state, shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct BlockView {
    /// Where it begins, frames.
    pub on: f64,
    /// Where it ends, frames.
    pub off: f64,
    /// How many blocks it stands for.
    pub blocks: u32,
    /// Its current, A.
    pub amps: f64,
    /// Its voltage, V.
    pub volts: f64,
}

impl PairLevels {
    /// A block as a stretch of its state.
    pub fn run(&self, block: &BlockView) -> StateRun {
        let count = f64::from(block.blocks);
        StateRun {
            state: self.state(block.amps, block.volts),
            sign: self.sign(block.amps, block.volts),
            on: block.on,
            off: block.off,
            blocks: block.blocks,
            amps: count * block.amps.abs(),
            volts: count * block.volts.abs(),
        }
    }
}

/// A stretch of one state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct StateRun {
    pub state: State,
    /// Sign of the voltage, of the current where there is next to none.
    pub sign: i8,
    /// Where it begins, frames.
    pub on: f64,
    /// Where it ends, frames.
    pub off: f64,
    /// How many blocks it is made of; a cell counts as many.
    pub blocks: u32,
    /// Sum of the blocks' |current|, A.
    pub amps: f64,
    /// Sum of the blocks' |voltage|, V.
    pub volts: f64,
}

impl StateRun {
    pub fn len(&self) -> f64 {
        self.off - self.on
    }

    /// Mean magnitude of the current.
    pub fn mean_a(&self) -> f64 {
        self.amps / f64::from(self.blocks)
    }

    /// Mean magnitude of the voltage.
    pub fn mean_v(&self) -> f64 {
        self.volts / f64::from(self.blocks)
    }

    /// More than a blip.
    pub fn told(&self) -> bool {
        self.blocks > 1
    }

    fn extend(&mut self, run: &StateRun) {
        self.off = run.off;
        self.blocks = self.blocks.saturating_add(run.blocks);
        self.amps += run.amps;
        self.volts += run.volts;
    }
}

/// Stretches in a row, each joined with the next where both are alike; a single block between two that are alike is hash
/// and vanishes.
pub(crate) fn append(row: &mut Vec<StateRun>, run: StateRun) {
    match row.last_mut() {
        Some(last) if last.state == run.state && last.sign == run.sign => last.extend(&run),
        _ => row.push(run),
    }
    let [.., before, blip, last] = &row[..] else {
        return;
    };
    if blip.told() || before.state != last.state {
        return;
    }
    let (blip, last) = (*blip, *last);
    row.truncate(row.len() - 2);
    let before = row.last_mut().expect("there is one before");
    let gone = StateRun {
        blocks: 0,
        amps: 0.0,
        volts: 0.0,
        ..blip
    };
    before.extend(&gone);
    match before.sign == last.sign {
        true => before.extend(&last),
        false => row.push(last),
    }
}
