//! What the measured starts say about the sheet, and which causes are possible where they went badly.

use crate::fit::tables::CLEANING_END_PCT;
use crate::fit::{Cause, Concern, FitFinding, Kind, Seen, judge};
use crate::flag::Flag;
use crate::job::Job;
use crate::job::prep::Prep;
use crate::job::run::{Run, StartMethod};
use crate::job::tip_state::TipState;
use crate::score::StartRow;
use crate::score::row::BALANCE_TOLERANCE_PCT;

/// Amps run at and amps set may differ by this share (this project's own number; the in-service
/// tolerance usual for a machine's setting is of that order).
const AMPS_TOLERANCE: f64 = 0.1;
/// And by this much at least, A.
const AMPS_TOLERANCE_A: f64 = 3.0;
/// Amps lit at, as a share of the amps set, that are no news.
const LIT_SHARE: (f64, f64) = (0.5, 1.3);
/// Starts needed before the first half of a run is held against its second.
const TREND_STARTS: usize = 10;
/// A fall of the median score from the first half to the second that is called going off, points.
const GONE_OFF_POINTS: f64 = 10.0;
/// A flag is told of a run from this share of its starts on, and from two starts on.
const TOLD_SHARE: f64 = 0.25;
/// A slope of the arc voltage that is called walking away, V/s: about half a millimetre of arc length a second.
const WALKING_V_PER_S: f64 = 0.5;
/// A rise without a written slope that is called one, ms.
const UNWRITTEN_RISE_MS: f64 = 200.0;
/// A touch before the arc is called one from here on, ms; under a tenth of it there was none.
const TOUCH_MS: f64 = 20.0;

/// The lit starts of one run, with what was written down of it.
struct RunSeen<'a> {
    run: &'a Run,
    rows: Vec<&'a StartRow>,
    /// Causes that the sheet itself speaks for.
    likely: Vec<Cause>,
}

/// Findings of every run, from the rows measured of it.
pub fn after(job: &Job, rows: &[StartRow]) -> Vec<FitFinding> {
    let mut findings = Vec::new();
    for run in &job.runs {
        let of_run = |row: &&StartRow| row.run == run.number && *row.recording == *run.file;
        let counts = |row: &&StartRow| row.lit() && row.doubt.is_none() && row.exclude.is_none();
        let seen = RunSeen {
            run,
            rows: rows.iter().filter(of_run).filter(counts).collect(),
            likely: likely(job.prep_of(run), run),
        };
        let found = [
            seen.process(),
            seen.balance(),
            seen.amps(),
            seen.lit_amps(),
            seen.slope(job.measuring.observe_s),
            seen.method(),
            seen.late(),
            seen.retries(),
            seen.wander(),
            seen.dropouts(),
            seen.overshoot(),
            seen.tip(),
        ];
        findings.extend(found.into_iter().flatten().map(|seen| FitFinding {
            prep: run.prep.clone(),
            rows: vec![run.line],
            kind: Kind::Seen(seen),
        }));
    }
    findings
}

/// Causes that findings of the sheet speak for.
fn likely(prep: &Prep, run: &Run) -> Vec<Cause> {
    let cause = |concern: Concern| match concern {
        Concern::GapLong { .. } => Some(Cause::LongGap),
        Concern::FlowLow { .. }
        | Concern::FlowHigh { .. }
        | Concern::CupSmall { .. }
        | Concern::Stickout { .. }
        | Concern::ActiveGas => Some(Cause::Gas),
        Concern::TipSeen { state, .. } => match state {
            TipState::Oxidised => Some(Cause::Gas),
            _ => Some(Cause::Tip),
        },
        Concern::Crosswise
        | Concern::CoarseWheel { .. }
        | Concern::FlatTooWide { .. }
        | Concern::BallOnDc { .. }
        | Concern::BallOnInverter => Some(Cause::Grind),
        Concern::UnderRange { .. } | Concern::TooBlunt { .. } => Some(Cause::ThickElectrode),
        Concern::CleaningEnd { .. } => Some(Cause::Balance),
        Concern::DirectOnLightMetal { .. } | Concern::LittleCleaning { .. } => Some(Cause::Oxide),
        _ => None,
    };
    judge(prep, run).into_iter().filter_map(cause).collect()
}

/// The middle value; `None` of nothing.
fn median(values: impl Iterator<Item = Option<f64>>) -> Option<f64> {
    let mut values: Vec<f64> = values.flatten().collect();
    values.sort_unstable_by(f64::total_cmp);
    let n = values.len();
    (n > 0).then(|| (values[(n - 1) / 2] + values[n / 2]) / 2.0)
}

impl RunSeen<'_> {
    fn median(&self, of: impl Fn(&StartRow) -> Option<f64>) -> Option<f64> {
        median(self.rows.iter().map(|row| of(row)))
    }

    /// Starts with a flag, where there are enough of them to report.
    fn flagged(&self, flag: Flag) -> Option<Vec<&StartRow>> {
        let flagged = |row: &&StartRow| row.flags.contains(&flag);
        let rows: Vec<&StartRow> = self.rows.iter().copied().filter(flagged).collect();
        let enough = rows.len() >= 2 && rows.len() as f64 >= TOLD_SHARE * self.rows.len() as f64;
        enough.then_some(rows)
    }

    /// The causes in their usual order, those that the sheet speaks for first.
    fn ranked(&self, usual: &[Cause]) -> Vec<Cause> {
        let struck_by_touch = matches!(
            self.run.start_method,
            Some(StartMethod::Lift | StartMethod::Scratch)
        );
        let possible = |cause: &&Cause| {
            !(struck_by_touch && matches!(cause, Cause::LongGap | Cause::SparkGap))
        };
        let spoken_for = |cause: &Cause| self.likely.contains(cause);
        let (first, then): (Vec<Cause>, Vec<Cause>) = usual
            .iter()
            .filter(possible)
            .partition(|cause| spoken_for(cause));
        [first, then].concat()
    }

    /// AC where DC is written down, or the other way round.
    fn process(&self) -> Option<Seen> {
        let written = self.run.process?;
        // Every lit start of an AC run has a frequency; one that was too short for it is no proof of DC.
        let alternating = self
            .rows
            .iter()
            .filter(|row| row.measures.ac_hz().is_some());
        let ac = 2 * alternating.count() > self.rows.len();
        (!self.rows.is_empty() && ac != written.is_ac()).then(|| Seen::Process {
            ac,
            written: written.name(),
        })
    }

    fn balance(&self) -> Option<Seen> {
        let measured_pct = self.median(|row| row.measures.en_share_pct())?;
        let set_pct = self.run.set_en_pct;
        let off = set_pct.is_some_and(|set| (set - measured_pct).abs() > BALANCE_TOLERANCE_PCT);
        (measured_pct < CLEANING_END_PCT || off).then_some(Seen::Balance {
            measured_pct,
            set_pct,
        })
    }

    fn amps(&self) -> Option<Seen> {
        let (set_a, ran_a) = (self.run.set_a?, self.median(|row| row.measures.run_a())?);
        let pulsed = self.median(|row| row.measures.pulse_hz()).is_some();
        let off = (ran_a - set_a).abs() > AMPS_TOLERANCE_A.max(AMPS_TOLERANCE * set_a);
        (off && !pulsed).then(|| Seen::Amps {
            ran_a,
            set_a,
            causes: match ran_a < set_a {
                true => vec![Cause::Pedal, Cause::Scale, Cause::Machine],
                false => vec![Cause::Scale, Cause::Machine],
            },
        })
    }

    fn lit_amps(&self) -> Option<Seen> {
        let (set_a, lit_a) = (self.run.set_a?, self.median(|row| row.measures.lit_a())?);
        let ramped = self.run.upslope_s.is_some_and(|s| s > 0.0);
        let usual = (LIT_SHARE.0..=LIT_SHARE.1).contains(&(lit_a / set_a));
        (!usual && !ramped).then_some(Seen::LitAmps { lit_a, set_a })
    }

    /// The rise against the up-slope: a straight ramp spends four fifths of its time between 10 and 90 %.
    fn slope(&self, observe_s: f64) -> Option<Seen> {
        let rise_ms = self.median(|row| row.measures.rise_ms())?;
        let pulsed = self.median(|row| row.measures.pulse_hz()).is_some();
        let upslope_s = self.run.upslope_s.unwrap_or(0.0);
        let expected_ms = 0.8 * 1000.0 * upslope_s;
        let differs = match upslope_s > 0.0 {
            true => rise_ms < 0.5 * expected_ms,
            false => rise_ms > UNWRITTEN_RISE_MS,
        };
        // A ramp longer than the window is not seen whole.
        (differs && !pulsed && upslope_s <= observe_s).then_some(Seen::Slope { rise_ms, upslope_s })
    }

    /// With one attempt, what lies between the first current and the arc is a touch.
    fn method(&self) -> Option<Seen> {
        let written = self.run.start_method?;
        let touch = |row: &StartRow| {
            row.measures.run_v()?;
            row.measures
                .stutter_ms()
                .filter(|_| row.measures.attempts() == Some(1.0))
        };
        let touch_ms = self.median(touch)?;
        match written {
            StartMethod::Hf => (touch_ms >= TOUCH_MS).then_some(Seen::Method { written, touch_ms }),
            _ => (touch_ms < TOUCH_MS / 10.0).then_some(Seen::Method {
                written,
                touch_ms: 0.0,
            }),
        }
    }

    /// Slow starts of which the wait for the first current is the longest part.
    fn late(&self) -> Option<Seen> {
        let waited = |row: &&StartRow| {
            let m = &row.measures;
            let delay = m.delay_ms().unwrap_or(0.0);
            delay > m.stutter_ms().unwrap_or(0.0) && delay > m.settle_ms().unwrap_or(0.0)
        };
        let late: Vec<&StartRow> = self
            .flagged(Flag::Slow)?
            .into_iter()
            .filter(waited)
            .collect();
        let delay_ms = median(late.iter().map(|row| row.measures.delay_ms()))?;
        use Cause::*;
        (late.len() >= 2).then(|| Seen::Late {
            starts: late.len(),
            of: self.rows.len(),
            delay_ms,
            causes: self.ranked(&[LongGap, Gas, SparkGap, Oxide, Tip, Clamp, ThickElectrode]),
        })
    }

    fn retries(&self) -> Option<Seen> {
        use Cause::*;
        Some(Seen::Retries {
            starts: self.flagged(Flag::Retry)?.len(),
            of: self.rows.len(),
            causes: self.ranked(&[LongGap, Oxide, Tip, Gas, SparkGap, Clamp]),
        })
    }

    fn wander(&self) -> Option<Seen> {
        let rows = self.flagged(Flag::Wander)?;
        let slope = median(rows.iter().map(|row| row.measures.drift_v().map(f64::abs)));
        let drift_v = slope.filter(|slope| *slope > WALKING_V_PER_S);
        use Cause::*;
        let usual: &[Cause] = match drift_v.is_some() {
            true => &[Hand, Tip, Grind, Gas],
            false => &[Grind, Tip, Gas, ThickElectrode, Hand],
        };
        Some(Seen::Wander {
            starts: rows.len(),
            of: self.rows.len(),
            drift_v,
            causes: self.ranked(usual),
        })
    }

    fn dropouts(&self) -> Option<Seen> {
        use Cause::*;
        let on_ac = self.run.process.is_some_and(|process| process.is_ac());
        let usual: &[Cause] = match on_ac {
            true => &[Oxide, Balance, LongGap, Gas, Tip, Clamp],
            false => &[LongGap, Gas, Tip, Clamp, ThickElectrode],
        };
        Some(Seen::Dropouts {
            starts: self.flagged(Flag::Dropout)?.len(),
            of: self.rows.len(),
            causes: self.ranked(usual),
        })
    }

    fn overshoot(&self) -> Option<Seen> {
        let rows = self.flagged(Flag::Overshoot)?;
        Some(Seen::Overshoot {
            starts: rows.len(),
            of: self.rows.len(),
            overshoot_pct: median(rows.iter().map(|row| row.measures.overshoot_pct()))?,
            causes: vec![Cause::HotStart, Cause::Pedal],
        })
    }

    /// The welder's eye on the tip beside what the starts did, where one of them saw wear.
    fn tip(&self) -> Option<Seen> {
        let text = self.run.tip_after.as_deref()?;
        let (first, second) = self.rows.split_at(self.rows.len() / 2);
        let score = |rows: &[&StartRow]| median(rows.iter().map(|row| row.score));
        let (before, later) = (score(first)?, score(second)?);
        let gone_off = before - later >= GONE_OFF_POINTS;
        let state = TipState::parse(text);
        let worn = state.is_some_and(|state| state != TipState::Sound);
        (self.rows.len() >= TREND_STARTS && (gone_off || worn)).then(|| Seen::Tip {
            text: text.to_owned(),
            state,
            before,
            later,
            gone_off,
        })
    }
}
