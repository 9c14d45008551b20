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
            let least_a = match volts >= self.stands_v {
                true => self.stands_a,
                false => self.sure_a,
            };
            return match amps < least_a {
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
/// and vanishes, unless it is longer than `hash` frames and an arc's current is gone in it: its samples may show a dropout.
pub(crate) fn append(row: &mut Vec<StateRun>, run: StateRun, hash: f64) {
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
    let gone = matches!(blip.state, State::Open | State::Odd | State::Rest);
    if gone && blip.len() > hash && before.state == State::Arc && before.sign == last.sign {
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

/// Whether the last stretch follows within this many frames on an open circuit, and no current surely flowed since: one that rises slowly
/// through noise passes its level more than once. An arc that went out would leave the circuit open.
pub(crate) fn rises(row: &[StateRun], sure_a: f64, within: f64) -> bool {
    let Some((last, before)) = row.split_last() else {
        return false;
    };
    let mut low = before.iter().rev().take_while(|r| r.mean_a() <= sure_a);
    let open = low.find(|r| r.state == State::Open);
    open.is_some_and(|open| last.off - open.off <= within)
}

#[cfg(test)]
mod tests {
    use super::*;
    use tipstrike_demo::Chance;

    /// The table of both traces in docs/measures.md.
    #[test]
    fn both_traces_together_tell_the_state() {
        let state = |amps, volts| PairLevels::example().state(amps, volts);
        assert_eq!(state(0.2, 0.3), State::Rest);
        assert_eq!(state(-40.0, 0.8), State::Touch);
        assert_eq!(state(-80.0, -12.0), State::Arc);
        // A pick-up of 3 A while the circuit is open is no conduction, and 40 A are.
        assert_eq!(state(3.0, 70.0), State::Open);
        assert_eq!(state(40.0, 70.0), State::Arc);
        // An eighth of the run level is one at the open circuit's own level, and is not where the voltage has begun to fall.
        assert_eq!(state(10.0, 70.0), State::Open);
        assert_eq!(state(10.0, 45.0), State::Arc);
        // An arc's voltage without a current fits no line; where open circuits are as low, one stands open.
        assert_eq!(state(0.2, 12.0), State::Odd);
        let low = PairLevels {
            idle_open_v: 9.0,
            ..PairLevels::example()
        };
        assert_eq!(low.state(0.2, 12.0), State::Open);
    }

    /// The slow twin looks at samples inside the cell.
    #[test]
    fn a_cell_of_one_state_holds_no_sample_of_another() {
        let mut chance = Chance::new(15, 1);
        let mut told = 0;
        for _ in 0..20_000 {
            let mut ends = |most: f64| {
                let at = chance.between(-most, most);
                let to = at + chance.log_between(0.01, most);
                [at as f32, to as f32, 0.5 * (at + to) as f32]
            };
            let cell = Cell {
                first: 0,
                frames: 100,
                amps: ends(100.0),
                volts: ends(80.0),
            };
            let Some((state, sign)) = PairLevels::example().state_of_cell(&cell) else {
                continue;
            };
            told += 1;
            for k in 0..100 {
                let part = |[low, high, _]: [f32; 3], k: usize| {
                    f64::from(low) + f64::from(high - low) * (k % 10) as f64 / 9.0
                };
                let (amps, volts) = (part(cell.amps, k), part(cell.volts, k / 10));
                assert_eq!(PairLevels::example().state(amps, volts), state, "{cell:?}");
                assert!(
                    state == State::Rest || PairLevels::example().sign(amps, volts) == sign,
                    "{cell:?}"
                );
            }
        }
        assert!(told > 2000, "{told}");
    }

    /// States of blocks of ten frames, a letter each: arc, its other sign, open, odd, rest.
    fn row(states: &str, hash: f64) -> Vec<(State, i8, f64, f64)> {
        let mut row = Vec::new();
        for (k, letter) in states.chars().enumerate() {
            let (amps, volts) = match letter {
                'A' => (80.0, 12.0),
                'a' => (-80.0, -12.0),
                'O' => (0.0, 70.0),
                'o' => (0.0, 12.0),
                _ => (0.0, 0.0),
            };
            let block = BlockView {
                on: 10.0 * k as f64,
                off: 10.0 * (k + 1) as f64,
                blocks: 1,
                amps,
                volts,
            };
            append(&mut row, PairLevels::example().run(&block), hash);
        }
        row.iter().map(|r| (r.state, r.sign, r.on, r.off)).collect()
    }

    #[test]
    fn a_single_block_between_two_alike_vanishes_and_two_do_not() {
        let arc = |on, off| (State::Arc, 1, on, off);
        let open = |on, off| (State::Open, 1, on, off);
        assert_eq!(row("AAOAA", 10.0), [arc(0.0, 50.0)]);
        assert_eq!(row("AOAOA", 10.0), [arc(0.0, 50.0)]);
        let parted = [arc(0.0, 20.0), open(20.0, 40.0), arc(40.0, 50.0)];
        assert_eq!(row("AAOOA", 10.0), parted);
        // Between half-waves of either sign it joins the one before it.
        let waves = [arc(0.0, 30.0), (State::Arc, -1, 30.0, 50.0)];
        assert_eq!(row("AAoaa", 10.0), waves);
    }

    /// At few samples a second a block is as long as a dropout: the samples have to be looked at.
    #[test]
    fn a_long_block_without_the_arcs_current_stays() {
        assert_eq!(row("AAOAA", 9.0).len(), 3);
        assert_eq!(row("OOAOO", 9.0).len(), 1);
        assert_eq!(row("AAoaa", 9.0).len(), 2);
    }
}
