//! The answer about a batch, or about groups of one whose others are elsewhere.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use crate::error::Result;
use crate::flag::Flag;
use crate::measuring::gather::StartSet;
use crate::parallel;
use crate::score::StartRow;
use crate::stats;
use crate::study::screen::alarms::alarms;
use crate::study::screen::batch::{Batch, Standing, counts, group_id, id_of, is_judged};
use crate::study::screen::found::{
    Alarm, Chart, Copied, Flagged, NotRead, RecordingLine, Rule, SCHEMA, ScreenGroup, Screening,
};
use crate::study::screen::options::{Family, ScreenOptions};
use crate::study::screen::{batch, charts, sampling};
use crate::study::wear::{REGRIND_SCORE, Wear, WearLooks, wear_in};

/// Screens a batch.
///
/// # Errors
/// A column or measure that no start has; a sampling limit that is not in the standard's table.
pub fn screen(gathered: &StartSet, options: &ScreenOptions) -> Result<Screening> {
    batch::check(&gathered.rows, &options.by)?;
    options.check(&gathered.rows)?;
    screen_in(gathered, options, None)
}

/// Screens a batch, or groups of one whose others are elsewhere; what is asked for is known.
pub(super) fn screen_in(
    gathered: &StartSet,
    options: &ScreenOptions,
    family: Option<Family>,
) -> Result<Screening> {
    let (screening, regrind) = parallel::both(
        || without_wear(gathered, options, family),
        || regrind(gathered, options, family.map_or(0, |family| family.worn)),
    );
    let mut screening = Screening {
        regrind,
        ..screening?
    };
    judge(&mut screening);
    Ok(screening)
}

/// Places of the starts during which a rank chart of a batch is out, and its wear, as [`screen`] finds them.
///
/// # Errors
/// A column or measure that no start has.
pub fn tip_off_and_wear(
    gathered: &StartSet,
    options: &ScreenOptions,
) -> Result<(Vec<usize>, Vec<Wear>)> {
    batch::check(&gathered.rows, &options.by)?;
    options.check(&gathered.rows)?;
    let off = || charts::off(&Batch::of(&gathered.rows, &options.by), options);
    Ok(parallel::both(off, || regrind(gathered, options, 0)))
}

/// What a screening says but for wear.
fn without_wear(
    gathered: &StartSet,
    options: &ScreenOptions,
    family: Option<Family>,
) -> Result<Screening> {
    let batch = Batch::of(&gathered.rows, &options.by);
    let charted = charts::charts(&batch, options, family.map(|family| family.values));
    let alarms = alarms(&batch, &gathered.details, charted.reasons);
    let counts = batch.counts();
    let (rough, starts) = (counts.rough, counts.starts);
    let asked = options.sampling.as_ref();
    let sampling = asked.map(|asked| sampling::sample(rough, starts, asked));
    let rate = options.accept;
    let groups = batch.lines(&alarms, &charted.charts, options);
    Ok(Screening {
        schema: SCHEMA,
        pass: false,
        over_limits: false,
        starts,
        rough,
        no_light: counts.no_light,
        doubtful: batch.standing_so(Standing::Doubtful, None),
        set_aside: batch.standing_so(Standing::SetAside, None),
        unscored: batch.standing_so(Standing::Unscored, None),
        by: options.by.clone(),
        level: options.level,
        not_read: not_read(gathered),
        miscounted: gathered.miscounted.clone(),
        still_written: gathered.still_written.clone(),
        copies: copies(gathered),
        charts: in_order_of(&groups, charted.charts),
        groups,
        recordings: recordings(gathered, &alarms),
        alarms,
        regrind: Vec::new(),
        flags: flags(&batch),
        accepted: rate.map(|rate| sampling::accepted(rough, starts, rate, options.level)),
        sampling: sampling.transpose()?,
        short_charts: charted.short,
        empty: gathered.empty.clone(),
    })
}

pub(super) fn judge(screening: &mut Screening) {
    screening.over_limits = is_over_limits(screening);
    screening.pass = !screening.over_limits && screening.not_read.is_empty();
}

/// A rate or a sample that is asked for speaks for rough starts and targets; what a chart says, and starts that
/// nobody can judge, stand beside it.
fn is_over_limits(found: &Screening) -> bool {
    let rate = match (&found.accepted, &found.sampling) {
        (None, None) => !found.alarms.is_empty(),
        (accepted, sampling) => {
            accepted.as_ref().is_some_and(|a| !a.shown)
                || sampling.as_ref().is_some_and(|s| s.accepted != Some(true))
        }
    };
    let charts_out = found.groups.iter().any(|group| group.charts_out > 0);
    let unknown = found.starts == 0 || found.not_judged() > 0 || !found.miscounted.is_empty();
    unknown || rate || charts_out
}

/// The charts in the order of their groups.
pub(super) fn in_order_of(groups: &[ScreenGroup], mut charts: Vec<Chart>) -> Vec<Chart> {
    charts.sort_by_cached_key(|chart| groups.iter().position(|group| group.id == chart.id));
    charts
}

/// Puts the flag `tip_off` on the starts during which a chart of ranks or of moving averages was out, from where the shift
/// began: no later chart takes them for its baseline.
pub fn mark_tip_off(rows: &mut [StartRow], charts: &[Chart]) {
    let mut off: BTreeSet<(&str, u32, u32)> = BTreeSet::new();
    let trends = charts.iter();
    for chart in trends.filter(|chart| chart.rule != Rule::Individuals) {
        for (k, _) in chart.points.iter().enumerate().filter(|(_, p)| p.out) {
            let began = (k + 1).saturating_sub(chart.points[k].since.max(1));
            let names = chart.points[began..=k].iter();
            off.extend(names.map(|p| (&*p.recording, p.run, p.start)));
        }
    }
    if off.is_empty() {
        return;
    }
    for row in rows {
        if off.contains(&(&*row.recording, row.run, row.start)) {
            flag_tip_off(row);
        }
    }
}

/// Puts the flag `tip_off` on a start.
pub fn flag_tip_off(row: &mut StartRow) {
    if !row.flags.contains(&Flag::TipOff) {
        row.flags.push(Flag::TipOff);
        row.flags.sort_unstable();
    }
}

fn not_read(gathered: &StartSet) -> Vec<NotRead> {
    let told = gathered.not_read.iter().map(|(recording, why)| NotRead {
        recording: recording.clone(),
        why: why.to_string(),
    });
    told.collect()
}

fn copies(gathered: &StartSet) -> Vec<Copied> {
    let told = gathered.copies.iter().map(|(recording, same_as)| Copied {
        recording: recording.clone(),
        same_as: same_as.clone(),
    });
    told.collect()
}

/// Wear within the groups of the batch; a tip that goes on from earlier nights brings its starts from there.
fn regrind(gathered: &StartSet, options: &ScreenOptions, worn: usize) -> Vec<Wear> {
    let by = options.by.join(" and ");
    let group = |row| Some(id_of(row, &options.by));
    let tip = |row: &StartRow| {
        let name = row.tip_id.clone()?;
        Some((group_id(row, &options.by), row.prep.clone(), name))
    };
    let mut tonight = HashSet::new();
    if !options.earlier.is_empty() {
        tonight.extend(gathered.rows.iter().filter_map(tip));
    }
    let goes_on = |row: &&StartRow| tip(row).is_some_and(|tip| tonight.contains(&tip));
    let earlier = options.earlier.iter().filter(goes_on);
    let looks = WearLooks {
        by: &by,
        level: options.level,
        batch: Some(worn),
    };
    wear_in(
        earlier.chain(&gathered.rows),
        group,
        looks,
        |prep, measure| regrind_limit(gathered, options, prep, measure),
    )
}

/// The user's limit, else the project's for the score and the target's poor end for the others.
fn regrind_limit(
    gathered: &StartSet,
    options: &ScreenOptions,
    prep: &str,
    measure: &str,
) -> Option<f64> {
    if let Some(limit) = options.regrind.get(measure) {
        return Some(*limit);
    }
    if measure == "score" {
        return Some(REGRIND_SCORE);
    }
    let poor: Vec<f64> = gathered
        .scored()
        .filter(|(row, _)| *row.prep == *prep)
        .filter_map(|(_, score)| {
            let mut parts = score.parts.iter();
            parts.find(|part| part.measure.name() == measure)
        })
        .map(|part| part.poor)
        .collect();
    stats::median(&poor)
}

/// Each flag with the starts that carry it and their groups, in the order of the docs.
fn flags(batch: &Batch) -> Vec<Flagged> {
    let mut carried: BTreeMap<Flag, (usize, BTreeSet<&str>)> = BTreeMap::new();
    for (row, group) in batch.rows.iter().zip(&batch.group) {
        for flag in &row.flags {
            let (starts, groups) = carried.entry(*flag).or_default();
            *starts += 1;
            groups.insert(group);
        }
    }
    let flagged = carried.into_iter().map(|(flag, (starts, groups))| Flagged {
        flag,
        starts,
        groups: groups.into_iter().map(str::to_owned).collect(),
    });
    flagged.collect()
}

fn recordings(gathered: &StartSet, alarms: &[Alarm]) -> Vec<RecordingLine> {
    let runs = || gathered.rows.chunk_by(|a, b| a.recording == b.recording);
    let mut order: Vec<&str> = runs().map(|run| &*run[0].recording).collect();
    order.extend(gathered.sources.iter().map(|s| s.recording.as_str()));
    let mut by_name: BTreeMap<&str, Vec<&StartRow>> = BTreeMap::new();
    for run in runs() {
        by_name.entry(&run[0].recording).or_default().extend(run);
    }
    let mut alarms_in: BTreeMap<&str, usize> = BTreeMap::new();
    for alarm in alarms {
        *alarms_in.entry(&alarm.recording).or_default() += 1;
    }
    let mut seen = BTreeSet::new();
    order.retain(|name| seen.insert(*name));
    let line = |name: &str| {
        let rows = by_name.get(name).map_or(&[][..], Vec::as_slice);
        recording_line(name, rows, alarms_in.get(name).copied().unwrap_or(0))
    };
    order.into_iter().map(line).collect()
}

fn recording_line(name: &str, rows: &[&StartRow], alarms: usize) -> RecordingLine {
    let mut preps: Vec<&str> = rows.iter().map(|r| &*r.prep).collect();
    preps.sort_unstable();
    preps.dedup();
    let judged = || rows.iter().copied().filter(|row| is_judged(row));
    let counts = counts(judged());
    let scores: Vec<f64> = judged().filter_map(|row| row.score).collect();
    RecordingLine {
        recording: name.into(),
        prep: preps.join(" "),
        starts: rows.len(),
        rough: counts.rough - counts.no_light,
        no_light: counts.no_light,
        not_judged: rows.len() - counts.starts,
        score_median: stats::median(&scores),
        score_worst: scores.iter().copied().min_by(f64::total_cmp),
        alarms,
    }
}
