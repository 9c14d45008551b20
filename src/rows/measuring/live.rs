//! Reports starts while the recording is still running, each once its observation window has passed.

use crate::error::Result;
use crate::flag::Flag;
use crate::job::{Context, Job, Run};
use crate::recording::{Live, Recording, Step};
use crate::score::{StartRow, start_row};
use crate::start;
use crate::start::{Levels, Start};

/// Time after its window when a start is reported, s.
const BEHIND_S: f64 = 0.05;
/// No start is looked for while the voltage lies under this part of the open level.
const QUIET: f64 = 0.5;

/// Follows a recording that is still running.
pub struct Follow<'a> {
    job: &'a Job,
    run: Run,
    context: Context,
    live: Live,
    /// Levels found in the last look.
    levels: Option<Levels>,
    /// Something may have begun that was not reported yet.
    pending: bool,
    /// The arc of a reported start is still burning.
    burning: bool,
    /// Starts before this time were reported, s.
    told_to: f64,
    told: u32,
}

impl<'a> Follow<'a> {
    /// Follows a run of a job; pass its bytes to [`Follow::push`].
    ///
    /// # Errors
    /// A `[logger]` that needs a whole recording.
    pub fn new(job: &'a Job, run: &Run) -> Result<Follow<'a>> {
        Ok(Follow {
            job,
            run: run.clone(),
            context: job.context_of(run),
            live: Live::new(&run.file, &job.logger)?,
            levels: None,
            pending: true,
            burning: false,
            told_to: f64::NEG_INFINITY,
            told: 0,
        })
    }

    /// Takes the next bytes; returns the starts whose windows have passed.
    ///
    /// # Errors
    /// Not a recording, or one that does not fit the job file.
    pub fn push(&mut self, bytes: &[u8]) -> Result<Vec<StartRow>> {
        let starts = self.hear(bytes)?;
        Ok(self.rows(&starts))
    }

    /// As [`Follow::push`], for starts that are not all of one run: measured, not yet scored.
    ///
    /// # Errors
    /// As [`Follow::push`].
    pub fn hear(&mut self, bytes: &[u8]) -> Result<Vec<Start>> {
        self.live.push(bytes)?;
        self.go_on()
    }

    /// How much of the recording has come, s; `None` until its head has.
    pub fn length_s(&self) -> Option<f64> {
        self.live.length_s()
    }

    /// What follows is of another run of the job.
    pub fn is_now(&mut self, run: &Run) {
        self.context = self.job.context_of(run);
        self.run = run.clone();
    }

    /// Ends the recording; returns the remaining starts.
    ///
    /// # Errors
    /// As [`Follow::push`].
    pub fn finish(&mut self) -> Result<Vec<StartRow>> {
        let starts = self.hear_the_rest()?;
        Ok(self.rows(&starts))
    }

    /// As [`Follow::finish`], measured and not yet scored.
    ///
    /// # Errors
    /// As [`Follow::push`].
    pub fn hear_the_rest(&mut self) -> Result<Vec<Start>> {
        self.live.finish()?;
        self.go_on()
    }

    fn rows(&mut self, starts: &[Start]) -> Vec<StartRow> {
        let rows = starts.iter().map(|start| {
            self.told += 1;
            start_row(self.job, &self.run, self.told, start).0
        });
        rows.collect()
    }

    fn go_on(&mut self) -> Result<Vec<Start>> {
        let mut told = Vec::new();
        while let Some(step) = self.live.step() {
            self.notice(&step);
            if self.pending || step.ends {
                let recording = self.live.recording()?;
                told.extend(self.look(&recording, step.ends)?);
            }
            if step.ends {
                self.live.drop_looked();
                (self.pending, self.burning) = (true, false);
            }
        }
        Ok(told)
    }

    /// Notes whether something may have begun in a step.
    fn notice(&mut self, step: &Step) {
        let Some(levels) = self.levels else { return };
        for (amps, volts) in &step.farthest {
            // Noise stays under the release level, so that it ends an arc; where there is a voltage, its rest does too.
            let conducts = *amps >= levels.release_a;
            let live = *volts >= levels.short_v.min(QUIET * levels.open_v);
            if self.burning {
                self.burning = conducts && (live || *volts == 0.0);
            } else {
                self.pending |= conducts || live;
            }
        }
    }

    /// Measures the last seconds and reports new starts.
    fn look(&mut self, recording: &Recording, last: bool) -> Result<Vec<Start>> {
        let now = recording.time_s(recording.frames().saturating_sub(1));
        self.levels = Some(Levels::of(recording.survey(), &self.job.measuring));
        let starts = start::find(recording, &self.job.measuring, &self.context)?;
        let mut told = Vec::new();
        let mut waiting = false;
        for start in starts {
            let i = &start.instants;
            if i.t_first_s.or(i.t_open_s).is_none_or(|t| t <= self.told_to) {
                continue;
            }
            if !last && !self.is_over(&start, now) {
                waiting = true;
                continue;
            }
            let window_end = i
                .t_lit_s
                .map(|lit| lit + self.context.window(&self.job.measuring).observe_s);
            self.told_to = i.t_out_s.or(window_end).unwrap_or(now);
            told.push(start);
        }
        self.burning = !waiting && burns_on(recording, self.levels);
        self.pending = waiting;
        Ok(told)
    }

    /// Whether later samples cannot change the measures of a start.
    fn is_over(&self, start: &Start, now: f64) -> bool {
        let cut = start.flags.contains(&Flag::CutOff);
        match (start.instants.t_out_s, start.instants.t_lit_s) {
            // It goes on where current flows again before the arc is out for good.
            (Some(out), _) => now - out >= self.job.measuring.out_gap_ms * 1e-3,
            (None, Some(lit)) => {
                !cut && now >= lit + self.context.window(&self.job.measuring).observe_s + BEHIND_S
            }
            (None, None) => !cut,
        }
    }
}

/// Whether current flows at the end of a recording.
fn burns_on(recording: &Recording, levels: Option<Levels>) -> bool {
    let last = recording.survey().cells.last();
    let farthest = last.map_or(0.0, |cell| f64::from(cell.amps[1].max(-cell.amps[0])));
    levels.is_some_and(|levels| farthest >= levels.release_a)
}
