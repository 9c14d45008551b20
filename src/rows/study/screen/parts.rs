//! A batch too large to hold: its groups are screened one part after the other, and the answers put together.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicBool, Ordering};

use crate::error::Result;
use crate::flag::Flag;
use crate::measuring::gather::StartSet;
use crate::parallel;
use crate::score::StartRow;
use crate::study::groups::counts;
use crate::study::screen::answer::{in_order_of, judge, screen_in};
use crate::study::screen::batch::{Batch, group_id, worst_first};
use crate::study::screen::found::{Chart, Flagged, Screening};
use crate::study::screen::options::{Family, ScreenOptions};
use crate::study::screen::{alarms, charts, sampling};

/// This many of the worst alarms of a part are kept; all are counted.
const ALARMS: usize = 1000;

/// At most about this many points of a chart are kept, besides those at which it goes out.
const POINTS: usize = 500;

/// What some groups bring to the family.
fn family_of(rows: &[StartRow], options: &ScreenOptions) -> Family {
    let worn = rows.iter().filter(|row| counts(row));
    let worn: BTreeSet<_> = worn
        .map(|row| (group_id(row, &options.by), &row.prep))
        .collect();
    Family {
        values: charts::values(&Batch::of(rows, &options.by), options),
        worn: worn.len(),
    }
}

/// Screens the parts of a batch of which each holds whole groups. The answer is that of the whole batch, with the worst
/// alarms of each part and thinned charts. Since its limits depend on how many starts there are in all, those are counted
/// first: for that a part is read by the columns of [`ScreenOptions::counts_by`] alone.
///
/// # Errors
/// What reading a part gives, or a sampling limit that is not in the standard's table.
pub fn screen_parts<P: Sync>(
    parts: &[P],
    options: &ScreenOptions,
    read: impl Fn(&P, Reads) -> Result<Vec<StartRow>> + Sync,
) -> Result<Screening> {
    let families = of_each(parts, |part| {
        Ok(family_of(&read(part, Reads::ToCount)?, options))
    })?;
    let family = Family {
        values: families.iter().map(|family| family.values).sum(),
        worn: families.iter().map(|family| family.worn).sum(),
    };
    let screened = of_each(parts, |part| {
        let set = StartSet {
            rows: read(part, Reads::ToJudge)?,
            ..StartSet::default()
        };
        let mut screening = screen_in(&set, options, Some(family))?;
        screening.alarms.truncate(ALARMS);
        screening.alarms.shrink_to_fit();
        screening.charts.iter_mut().for_each(thin);
        Ok(screening)
    })?;
    together(screened, options)
}

/// What a part is read for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reads {
    /// To count what is judged: columns of [`ScreenOptions::counts_by`].
    ToCount,
    /// To judge it: everything that the answer rests on.
    ToJudge,
}

/// Does the same with every part, each thread with one part at a time; what fails ends it.
fn of_each<P: Sync, T: Send>(parts: &[P], of: impl Fn(&P) -> Result<T> + Sync) -> Result<Vec<T>> {
    let failed = AtomicBool::new(false);
    let given = parallel::each_apart(parts, |part| {
        if failed.load(Ordering::Relaxed) {
            return None;
        }
        let given = of(part);
        failed.fetch_or(given.is_err(), Ordering::Relaxed);
        Some(given)
    });
    given.into_iter().flatten().collect()
}

/// Leaves every n-th point of a long chart, and those at which it goes out with what led there first.
fn thin(chart: &mut Chart) {
    let step = chart.points.len() / POINTS;
    if step < 2 {
        return;
    }
    let out = |k: usize| chart.points[k].out;
    let first = (0..chart.points.len()).find(|k| out(*k));
    let led = first.map(|k| (k + 1).saturating_sub(chart.points[k].since.max(1))..k + 1);
    let kept: Vec<bool> = (0..chart.points.len())
        .map(|k| {
            let goes_out = out(k) && !(k > 0 && out(k - 1));
            k % step == 0 || goes_out || led.as_ref().is_some_and(|led| led.contains(&k))
        })
        .collect();
    let mut kept = kept.into_iter();
    chart.points.retain(|_| kept.next() == Some(true));
    // The room of those taken out is most of what the answer would hold.
    chart.points.shrink_to_fit();
}

fn together(parts: Vec<Screening>, options: &ScreenOptions) -> Result<Screening> {
    let mut parts = parts.into_iter();
    let mut all = match parts.next() {
        Some(first) => first,
        None => screen_in(&StartSet::default(), options, None)?,
    };
    for part in parts {
        all.starts += part.starts;
        all.rough += part.rough;
        all.no_light += part.no_light;
        all.doubtful += part.doubtful;
        all.set_aside += part.set_aside;
        all.unscored += part.unscored;
        all.groups.extend(part.groups);
        all.charts.extend(part.charts);
        all.alarms.extend(part.alarms);
        all.regrind.extend(part.regrind);
        all.flags.extend(part.flags);
        all.recordings.extend(part.recordings);
        all.short_charts.extend(part.short_charts);
    }
    let (rough, starts) = (all.rough, all.starts);
    let accepted = options
        .accept
        .map(|rate| sampling::accepted(rough, starts, rate, options.level));
    let sample = options.sampling.as_ref();
    let sample = sample.map(|asked| sampling::sample(rough, starts, asked));
    (all.accepted, all.sampling) = (accepted, sample.transpose()?);
    all.groups.sort_by(worst_first);
    all.charts = in_order_of(&all.groups, all.charts);
    all.alarms.sort_by(alarms::worst_first);
    all.flags = flags(all.flags);
    judge(&mut all);
    Ok(all)
}

/// Each flag once.
fn flags(of_parts: Vec<Flagged>) -> Vec<Flagged> {
    let mut all: BTreeMap<Flag, Flagged> = BTreeMap::new();
    for one in of_parts {
        match all.get_mut(&one.flag) {
            Some(known) => {
                known.starts += one.starts;
                known.groups.extend(one.groups);
            }
            None => drop(all.insert(one.flag, one)),
        }
    }
    all.into_values().collect()
}
