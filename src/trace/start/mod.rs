//! Blocks become starts: found, cut into their instants, measured.

pub mod decimate;
pub mod doubt;
pub(crate) mod find;
pub(crate) mod measure;
pub(crate) mod period;
mod record;
#[cfg(test)]
mod tests;
pub(crate) mod trace;

pub use doubt::Doubt;
pub use find::levels::Levels;
pub use measure::preview::Preview;
pub use measure::skew::{Skew, skew};
pub use record::{Instants, Start};

use crate::error::Result;
use crate::job::{Context, Measuring};
use crate::parallel;
use crate::recording::Recording;
use find::check::Check;
use find::instants::Finder;
use find::levels::PairLevels;
use find::phases::EventGroup;
use find::walk::Walk;
use measure::bench::Bench;

/// Starts that are measured side by side: enough for every core, few enough for memory.
const AT_A_TIME: usize = 32;

/// Finds and measures every start of a recording, in order of time.
///
/// # Errors
/// What reading the recording gives.
pub fn find(recording: &Recording, measuring: &Measuring, context: &Context) -> Result<Vec<Start>> {
    Ok(find_begun(recording, measuring, context)?.1)
}

/// As [`find`], and before the starts the second of each that tells which part of the recording it belongs to.
///
/// # Errors
/// As [`find`].
pub fn find_begun(
    recording: &Recording,
    measuring: &Measuring,
    context: &Context,
) -> Result<(Vec<f64>, Vec<Start>)> {
    let measuring = &context.window(measuring);
    let pair = PairLevels::of(recording.survey(), measuring);
    let (mut began, mut starts) = (Vec::new(), Vec::new());
    let mut last_out = None;
    for &segment in recording.segments() {
        let bench = Bench {
            recording,
            segment,
            measuring,
            context,
        };
        let mut walk = Walk::new(recording, segment, measuring);
        let mut groups = walk.some(recording, AT_A_TIME)?;
        while !groups.is_empty() {
            // The next ones are found while these are measured.
            let (measured, next) = parallel::both(
                || parallel::each(&groups, |group| measured(&bench, pair, group)),
                || walk.some(recording, AT_A_TIME),
            );
            for (group, told) in groups.iter().zip(measured) {
                let (last_off, start) = told?;
                if let Some((began_s, mut start)) = start {
                    let first = start.instants.t_first_s.zip(last_out);
                    start.measures.rest_s = first.map(|(first, out)| first - out);
                    began.push(began_s);
                    starts.push(start);
                }
                if !group.runs.is_empty() {
                    last_out = Some(bench.seconds(last_off));
                }
            }
            groups = next?;
        }
    }
    one_sided(&mut starts);
    Ok((began, starts))
}

/// Where a start has current and no voltage for long, or the other way round, a lead is off, or a trace is not what it seems: what else came
/// to nothing and shows no voltage, or a touch, cannot be told from a try, or an arc, of the same kind.
fn one_sided(starts: &mut [Start]) {
    let doubts = starts.iter().flat_map(|start| &start.doubts);
    let Some(off) = doubts.clone().find(|d| is_one_sided(d)).cloned() else {
        return;
    };
    let touches = |start: &Start| start.measures.touches.is_some_and(|count| count > 0.0);
    let mute =
        |start: &&mut Start| start.instants.t_open_s.is_none() && !start.lit() || touches(start);
    starts
        .iter_mut()
        .filter(mute)
        .filter(|start| start.doubts.is_empty())
        .for_each(|start| start.doubt(off.clone()));
    // The lead came off while the circuit was open: the arc of a start that "did not light" is the next one.
    let alone = |s: &Start| s.instants.t_open_s.is_none() && s.doubts.iter().any(is_one_sided);
    let cut: Vec<bool> = starts.windows(2).map(|w| alone(&w[1])).collect();
    let cut = starts.iter_mut().zip(cut).filter(|(_, cut)| *cut);
    cut.map(|(start, _)| start)
        .filter(|start| !start.lit() && start.doubts.is_empty())
        .for_each(|start| start.doubt(off.clone()));
}

fn is_one_sided(doubt: &Doubt) -> bool {
    matches!(doubt, Doubt::NoVoltage { .. } | Doubt::NoCurrent { .. })
}

/// A step of the zero under this part of the run level is none, and one over that part makes the level doubtful.
const ZERO_STEP_PARTS: [f64; 2] = [0.008, 0.025];

/// A mean current of the open circuit over this part of the run level makes that level doubtful.
const PICK_UP_PART: f64 = 0.019;

/// Where a group last conducts; its start and when that began, where it is one of the span asked for.
type Measured = (f64, Option<(f64, Start)>);

/// Where it last conducts, and one start and when it began, its edges sharpened, measured and checked; `None` where it lies outside the span
/// asked for.
fn measured(bench: &Bench<'_>, pair: Option<PairLevels>, group: &EventGroup) -> Result<Measured> {
    let by_both = pair.filter(|_| group.seen.is_some());
    let sharp = match by_both {
        Some(levels) => Finder {
            recording: bench.recording,
            segment: &bench.segment,
            measuring: bench.measuring,
            levels,
        }
        .sharpen(group)?,
        None => group.clone(),
    };
    if !bench.takes(&sharp) {
        return Ok((sharp.last_off, None));
    }
    let mut start = bench.start(&sharp)?;
    if bench.recording.survey().idle.is_empty() {
        start.doubt(Doubt::NoRest);
    }
    let check = Check {
        group,
        measuring: bench.measuring,
        rate_hz: bench.recording.rate_hz(),
    };
    if let Some((explained_pct, doubts)) = check.verdict() {
        start.measures.explained_pct = Some(explained_pct);
        doubts.into_iter().for_each(|doubt| start.doubt(doubt));
    }
    if let Some(run_a) = start.measures.run_a
        && let Some((step_a, beyond)) = bench.recording.zero_step(sharp.began(), sharp.last_off)
        && step_a > ZERO_STEP_PARTS[0] * run_a
        && beyond > ZERO_STEP_PARTS[1] * run_a
    {
        start.doubt(Doubt::ZeroStep { step_a });
    }
    let m = &start.measures;
    if let Some(doubt) = Doubt::of_mean(m.dc_offset_a, m.en_share_pct, m.run_a) {
        start.doubt(doubt);
    }
    if let Some((run_a, open_a)) = start.measures.run_a.zip(check.open_a())
        && open_a.abs() > PICK_UP_PART * run_a
    {
        start.doubt(Doubt::PickUp { open_a });
    }
    Ok((sharp.last_off, Some((bench.seconds(sharp.began()), start))))
}
