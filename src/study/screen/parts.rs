//! A batch too large to hold: its groups are screened one part after the other, and the answers put together.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use crate::error::Result;
use crate::flag::Flag;
use crate::measuring::gather::StartSet;
use crate::score::StartRow;
use crate::study::groups::counts;
use crate::study::screen::answer::{in_order_of, judge, screen_in};
use crate::study::screen::batch::{Batch, group_id, worst_first};
use crate::study::screen::found::{Chart, Flagged, Screening};
use crate::study::screen::options::{Family, ScreenOptions};
use crate::study::screen::{alarms, charts, sampling};

/// Of the alarms of a part the worst so many are kept; all are counted.
const ALARMS: usize = 1000;

/// Of a chart at most about so many points are kept, besides those at which it goes out.
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
/// alarms of each part and thinned charts. Each part is read twice, since its limits depend on how many there are in all.
///
/// # Errors
/// What reading a part gives, or a sampling limit that is not in the standard's table.
pub fn screen_parts<P: Sync>(
    parts: &[P],
    options: &ScreenOptions,
    read: impl Fn(&P) -> Result<Vec<StartRow>> + Sync,
) -> Result<Screening> {
    let families = parts.par_iter();
    let families = families.map(|part| Ok(family_of(&read(part)?, options)));
    let family = families.try_reduce(Family::default, |a, b| {
        Ok(Family {
            values: a.values + b.values,
            worn: a.worn + b.worn,
        })
    })?;
    let screened = parts.par_iter().map(|part| {
        let set = StartSet {
            rows: read(part)?,
            ..StartSet::default()
        };
        let mut screening = screen_in(&set, options, Some(family))?;
        screening.alarms.truncate(ALARMS);
        screening.charts.iter_mut().for_each(thin);
        Ok(screening)
    });
    together(screened.collect::<Result<_>>()?, options)
}

/// Leaves every so many-th point of a long chart, and those at which it goes out with what led there first.
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
