//! A session at the bench: starts that are heard and marks that the welder makes become rows of the run sheet.
//!
//! A pure state machine: it knows no clock, no terminal and no file. Each start belongs to the first row of the plan that is not
//! full; the sheet is what is kept, so a session goes on from it. Marks can be undone: what came since is done again without them.

use crate::error::{Error, ErrorKind, Place, Result};
use crate::job::{Filling, Job, Run, SHEET_FILE, SheetText};
use crate::score::{StartRow, start_row};
use crate::start::Start;

/// What happened since the session began.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Event {
    /// A start, in the part of the recording that begins there, s.
    Heard(Option<f64>),
    /// The last start was fumbled.
    Fumbled,
    /// The tip was ground anew.
    Reground,
}

/// What an event came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Did {
    /// A start went to its row.
    Heard,
    /// A start that the sheet had already.
    Known,
    /// The last start was set aside.
    SetAside,
    /// There is no start to set aside, or it is set aside already.
    NothingToSetAside,
    /// The tip to strike with is a new grinding of this name.
    Reground(String),
    /// The tip is fresh already, or nothing is left to strike.
    FreshAnyway,
    /// The last start counts again.
    CountsAgain,
    /// The tip is the old one again.
    NotReground,
    /// No mark of this session is left.
    NothingToUndo,
    /// Starts that the sheet has are still being read.
    StillReading,
}

impl Did {
    /// Whether the sheet is another one now.
    pub fn changed_the_sheet(&self) -> bool {
        matches!(
            self,
            Did::Heard | Did::SetAside | Did::Reground(_) | Did::CountsAgain | Did::NotReground
        )
    }
}

/// What to strike next.
#[derive(Debug, Clone, PartialEq)]
pub struct Next<'a> {
    /// The row it is for.
    pub run: &'a Run,
    /// Which start on its tip and coupon, from 1 …
    pub number: u32,
    /// … of this many.
    pub of: u32,
    /// The tip is to be ground first.
    pub grind: bool,
}

/// A session at the bench, from one recording.
#[derive(Debug, Clone)]
pub struct Session {
    job: Job,
    recording: String,
    /// The sheet as the session found it.
    found: Filling,
    filling: Filling,
    /// Rows of the sheet.
    runs: Vec<Run>,
    /// Starts of the recording that the sheet had.
    known: usize,
    events: Vec<Event>,
    /// Every start of the recording that was heard.
    starts: Vec<Start>,
    /// Starts of other recordings of the job.
    earlier: Vec<StartRow>,
}

impl Session {
    /// Opens a session of a job: `recording` is the name by which the sheet knows what is followed, `is_there` tells which
    /// recordings exist, `earlier` are the starts struck in others.
    ///
    /// # Errors
    /// A sheet that plans nothing, or a row of the plan without its number of starts.
    pub fn open(
        job: Job,
        sheet: SheetText,
        recording: &str,
        is_there: impl Fn(&str) -> bool,
        earlier: Vec<StartRow>,
    ) -> Result<Session> {
        let at = job.folder.join(SHEET_FILE).display().to_string();
        let lines: Vec<u64> = job.runs.iter().map(|run| run.line).collect();
        let filling = Filling::begin(sheet, recording, is_there).map_err(|row| {
            let place = Place::from(at.as_str()).row(lines.get(row).copied().unwrap_or(0));
            let problem = "does not say how many starts to strike";
            Error::new(ErrorKind::NothingPlanned, place.column("starts"), problem)
                .hint("Give each row to come its number of starts")
        })?;
        let runs = job.runs_of(filling.sheet())?;
        if runs.iter().all(|run| run.planned.is_none()) {
            let problem = "every row has its recording already: there is nothing to strike";
            return Err(Error::new(ErrorKind::NothingPlanned, at, problem)
                .hint("Write rows for what is to be struck, or let plan --sheet or begin --tips write them"));
        }
        let own = runs.iter().filter(|run| run.file == recording);
        let known = own.filter_map(|run| run.starts).sum::<u32>() as usize;
        Ok(Session {
            recording: recording.to_owned(),
            found: filling.clone(),
            filling,
            runs,
            known,
            events: Vec::new(),
            starts: Vec::new(),
            earlier,
            job,
        })
    }

    /// The sheet as it stands.
    pub fn sheet(&self) -> &SheetText {
        self.filling.sheet()
    }

    /// Rows of the sheet as it stands.
    pub fn runs(&self) -> &[Run] {
        &self.runs
    }

    /// A start was heard.
    ///
    /// # Errors
    /// A start that lies elsewhere than the sheet has it: the recording is another one.
    pub fn heard(&mut self, start: Start) -> Result<Did> {
        let from_s = self.starts.last().map(|last| between(last, &start));
        let nth = self.starts.len();
        self.starts.push(start);
        if nth >= self.known {
            self.events.push(Event::Heard(from_s));
            self.filling.heard(from_s);
            self.read()?;
            return Ok(Did::Heard);
        }
        let (run, _) = self.run_of(nth).expect("the sheet has this start");
        let (from, to) = run.span_s();
        let at = begins(&self.starts[nth]);
        if !(from..to).contains(&at) {
            let place = Place::from(self.recording.as_str()).second(at);
            let problem = format!(
                "start {} does not lie where the run sheet has it: this is another recording than the one it was filled from",
                nth + 1
            );
            return Err(Error::new(ErrorKind::AnotherRecording, place, problem)
                .hint("Give each recording a name of its own, and follow the new one"));
        }
        self.found.knows(from_s);
        self.filling.knows(from_s);
        Ok(Did::Known)
    }

    /// The welder says that the last start was fumbled.
    ///
    /// # Errors
    /// None is expected: what is written can be read.
    pub fn fumbled(&mut self) -> Result<Did> {
        if self.is_reading() {
            return Ok(Did::StillReading);
        }
        if !self.filling.fumbled() {
            return Ok(Did::NothingToSetAside);
        }
        self.events.push(Event::Fumbled);
        self.read()?;
        Ok(Did::SetAside)
    }

    /// The welder says that the tip was ground anew.
    ///
    /// # Errors
    /// As [`Session::fumbled`].
    pub fn reground(&mut self) -> Result<Did> {
        if self.is_reading() {
            return Ok(Did::StillReading);
        }
        let Some(tip) = self.filling.reground() else {
            return Ok(Did::FreshAnyway);
        };
        self.events.push(Event::Reground);
        self.read()?;
        Ok(Did::Reground(tip))
    }

    /// Takes the last mark back; the starts heard since keep their order.
    ///
    /// # Errors
    /// As [`Session::fumbled`].
    pub fn undo(&mut self) -> Result<Did> {
        let is_mark = |event: &Event| !matches!(event, Event::Heard(_));
        let Some(last) = self.events.iter().rposition(is_mark) else {
            return Ok(Did::NothingToUndo);
        };
        let undone = self.events.remove(last);
        self.filling = self.found.clone();
        for event in &self.events {
            match event {
                Event::Heard(from_s) => self.filling.heard(*from_s),
                Event::Fumbled => _ = self.filling.fumbled(),
                Event::Reground => _ = self.filling.reground(),
            }
        }
        self.read()?;
        Ok(match undone {
            Event::Reground => Did::NotReground,
            _ => Did::CountsAgain,
        })
    }

    /// What to strike next; `None` where all is struck.
    pub fn next(&self) -> Option<Next<'_>> {
        let row = self.filling.to_strike()?;
        let run = &self.runs[row];
        let struck = self.filling.struck(row);
        let tip = |run: &Run| (run.prep.clone(), run.tip_id.clone());
        let in_use = |other: &Run| !other.is_to_come() && tip(other) == tip(run);
        let fresh = match run.since_regrind {
            Some(since) => since == 1,
            None => run.tip_id.is_some() && !self.runs[..row].iter().any(in_use),
        };
        Some(Next {
            run,
            number: struck + 1,
            of: struck + self.filling.left(row),
            grind: fresh && run.is_to_come(),
        })
    }

    /// Rows of all starts: those of other recordings, then those heard.
    pub fn rows(&self) -> Vec<StartRow> {
        let own = (0..self.starts.len()).filter_map(|nth| self.row(nth));
        self.earlier.iter().cloned().chain(own).collect()
    }

    /// The row of the last start that was heard.
    pub fn last(&self) -> Option<StartRow> {
        self.row(self.starts.len().checked_sub(1)?)
    }

    /// How many starts of the recording were heard.
    pub fn heard_so_far(&self) -> usize {
        self.starts.len()
    }

    /// How many of them the sheet had before.
    pub fn known(&self) -> usize {
        self.known.min(self.starts.len())
    }

    fn is_reading(&self) -> bool {
        self.starts.len() < self.known
    }

    fn row(&self, nth: usize) -> Option<StartRow> {
        let (run, number) = self.run_of(nth)?;
        Some(start_row(&self.job, run, number, &self.starts[nth]).0)
    }

    /// The run of a start of the recording, and its number in there, from 1.
    fn run_of(&self, nth: usize) -> Option<(&Run, u32)> {
        let mut before = 0;
        let own = self.runs.iter().filter(|run| run.file == self.recording);
        for run in own {
            let starts = run.starts.unwrap_or(0) as usize;
            if nth < before + starts {
                return Some((run, (nth - before) as u32 + 1));
            }
            before += starts;
        }
        None
    }

    /// Reads what would be written: nothing is ever written that cannot be read.
    fn read(&mut self) -> Result<()> {
        self.runs = self.job.runs_of(self.filling.sheet())?;
        Ok(())
    }
}

/// When a start began, s.
fn begins(start: &Start) -> f64 {
    let i = &start.instants;
    i.t_open_s.or(i.t_first_s).unwrap_or(0.0)
}

/// Half way from the end of a start, as far as it was heard, to the beginning of the next, s.
fn between(last: &Start, next: &Start) -> f64 {
    let i = &last.instants;
    let end = [i.t_open_s, i.t_first_s, i.t_lit_s, i.t_settled_s, i.t_out_s];
    let end = end.into_iter().flatten().fold(0.0, f64::max);
    let begins = begins(next);
    0.5 * (end.min(begins) + begins)
}

#[cfg(test)]
mod tests;
