//! The starts of a batch: which are judged, and in which group each stands.

use std::borrow::Cow;
use std::cmp::Ordering;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::parallel;
use crate::score::{StartRow, Verdict};
use crate::stats;
use crate::study::screen::found::{Alarm, Chart, ScreenGroup};
use crate::study::screen::options::ScreenOptions;
use crate::study::screen::sampling::is_over;
use crate::texts::Texts;

/// Stands for a value that the sheet does not give.
const NOT_GIVEN: &str = "–";

/// Why a start is judged or not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
    Judged,
    Doubtful,
    SetAside,
    Unscored,
}

/// All starts and the groups of those that are judged.
pub(super) struct Batch<'a> {
    pub(super) rows: Vec<&'a StartRow>,
    pub(super) standing: Vec<Standing>,
    /// Group of each start.
    pub(super) group: Vec<Arc<str>>,
    /// Places of the judged starts of each group; empty where none is.
    pub(super) groups: BTreeMap<Arc<str>, Vec<usize>>,
    /// Starts of each group by their standing.
    stood: BTreeMap<Arc<str>, [usize; 4]>,
}

/// Starts that are judged, rough ones and ones that did not light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Counts {
    pub(super) starts: usize,
    pub(super) rough: usize,
    pub(super) no_light: usize,
}

impl<'a> Batch<'a> {
    pub(super) fn of(rows: &'a [StartRow], by: &[String]) -> Batch<'a> {
        let standing: Vec<Standing> = rows.iter().map(standing).collect();
        let mut groups: BTreeMap<Arc<str>, Vec<usize>> = BTreeMap::new();
        let mut stood: BTreeMap<Arc<str>, [usize; 4]> = BTreeMap::new();
        let group = group_ids(rows, by);
        let mut from = 0;
        for run in group.chunk_by(Arc::ptr_eq) {
            let stood = stood.entry(run[0].clone()).or_default();
            let judged = groups.entry(run[0].clone()).or_default();
            for place in from..from + run.len() {
                stood[standing[place] as usize] += 1;
                if standing[place] == Standing::Judged {
                    judged.push(place);
                }
            }
            from += run.len();
        }
        Batch {
            rows: rows.iter().collect(),
            standing,
            group,
            groups,
            stood,
        }
    }

    pub(super) fn judged(&self) -> impl Iterator<Item = (usize, &'a StartRow)> {
        let rows = self.rows.iter().copied().enumerate();
        rows.filter(|(place, _)| self.standing[*place] == Standing::Judged)
    }

    pub(super) fn counts(&self) -> Counts {
        counts(self.judged().map(|(_, row)| row))
    }

    /// Starts of a standing, in all or in one group.
    pub(super) fn standing_so(&self, so: Standing, group: Option<&str>) -> usize {
        let of = |stood: &[usize; 4]| stood[so as usize];
        match group {
            Some(id) => self.stood.get(id).map_or(0, of),
            None => self.stood.values().map(of).sum(),
        }
    }

    /// The groups, worst first.
    pub(super) fn lines(
        &self,
        alarms: &[Alarm],
        charts: &[Chart],
        options: &ScreenOptions,
    ) -> Vec<ScreenGroup> {
        let mut alarmed: HashMap<&str, usize> = HashMap::new();
        for alarm in alarms {
            *alarmed.entry(&alarm.group).or_default() += 1;
        }
        let mut own: HashMap<&str, Vec<&Chart>> = HashMap::new();
        for chart in charts {
            own.entry(&chart.id).or_default().push(chart);
        }
        let line = |&(id, places): &(&Arc<str>, &Vec<usize>)| {
            let charts = own.get(&**id).map_or(&[][..], Vec::as_slice);
            let alarmed = alarmed.get(&**id).copied().unwrap_or(0);
            self.line(id, places, alarmed, charts, options)
        };
        let groups: Vec<(&Arc<str>, &Vec<usize>)> = self.groups.iter().collect();
        let mut lines = parallel::each(&groups, line);
        lines.sort_by(worst_first);
        lines
    }

    fn line(
        &self,
        id: &str,
        places: &[usize],
        alarmed: usize,
        charts: &[&Chart],
        options: &ScreenOptions,
    ) -> ScreenGroup {
        let counts = counts(places.iter().map(|&place| self.rows[place]));
        let (rough, starts) = (counts.rough as u64, counts.starts as u64);
        let interval = stats::clopper_pearson(rough, starts, options.level);
        let given = |value: f64| (starts > 0).then_some(value);
        let tip = |&place: &usize| self.rows[place].tip_id.as_deref();
        // Starts on a tip follow each other.
        let mut tips: Vec<&str> = places.iter().filter_map(tip).collect();
        tips.dedup();
        tips.sort_unstable();
        tips.dedup();
        let chart = charts.first();
        let rows: usize = self.stood.get(id).map_or(0, |stood| stood.iter().sum());
        let unjudged = rows - counts.starts;
        let is_out = |chart: &&&Chart| chart.points.iter().any(|point| point.out);
        let charts_out = charts.iter().filter(is_out).count();
        let past = match options.accepted_rate() {
            None => alarmed > 0,
            Some(_) if charts_out > 0 => true,
            Some(rate) => is_over(counts.rough, counts.starts, rate, options.level),
        };
        ScreenGroup {
            id: id.to_owned(),
            pass: !past && unjudged == 0,
            starts: counts.starts,
            rough: counts.rough,
            rough_rate: given(rough as f64 / starts.max(1) as f64),
            rough_lo: given(interval.lo),
            rough_hi: given(interval.hi),
            no_light: counts.no_light,
            doubtful: self.standing_so(Standing::Doubtful, Some(id)),
            set_aside: self.standing_so(Standing::SetAside, Some(id)),
            tips: (!tips.is_empty()).then_some(tips.len()),
            alarms: alarmed,
            charts_out,
            n: chart.map_or(0, |chart| chart.n),
            baseline: chart.map_or(0, |chart| chart.baseline),
            limit: chart.and_then(|chart| chart.upper.or(chart.lower)),
            rule: chart.map(|chart| chart.rule),
        }
    }
}

/// Groups that fail before those that pass, then by the share of rough starts, and by alarms of charts.
pub(super) fn worst_first(a: &ScreenGroup, b: &ScreenGroup) -> Ordering {
    let worse = (b.charts_out > 0).cmp(&(a.charts_out > 0));
    let rate = |group: &ScreenGroup| group.rough_rate.unwrap_or(0.0);
    a.pass
        .cmp(&b.pass)
        .then(rate(b).total_cmp(&rate(a)))
        .then(worse)
        .then(b.alarms.cmp(&a.alarms))
}

/// Whether the columns to group by are known.
///
/// # Errors
/// A column that no start has.
pub(super) fn check(rows: &[StartRow], by: &[String]) -> Result<()> {
    let unknown = |column: &&String| !rows.iter().any(|row| value_of(row, column).is_some());
    if let Some(column) = by.iter().find(unknown).filter(|_| !rows.is_empty()) {
        let place = Place::parameter("by").value(column);
        return Err(
            Error::new(ErrorKind::UnknownColumn, place, "no start has this column")
                .hint("Group by prep, coupon, recording, folder or a column of the run sheet"),
        );
    }
    Ok(())
}

/// Counts of starts that are judged.
pub(super) fn counts<'a>(rows: impl Iterator<Item = &'a StartRow>) -> Counts {
    let mut counts = Counts::default();
    for row in rows {
        counts.starts += 1;
        counts.rough += usize::from(is_rough(row));
        counts.no_light += usize::from(!row.lit());
    }
    counts
}

/// The group of each start; starts of one group share its name.
fn group_ids(rows: &[StartRow], by: &[String]) -> Vec<Arc<str>> {
    let mut names = Texts::default();
    let of = |row| names.shared(&id_of(row, by));
    rows.iter().map(of).collect()
}

/// The values of the columns grouped by, as the group is named.
pub(super) fn group_id(row: &StartRow, by: &[String]) -> String {
    id_of(row, by).into_owned()
}

/// The name of a start's group, borrowed where one column gives it.
pub(in crate::study) fn id_of<'a>(row: &'a StartRow, by: &[String]) -> Cow<'a, str> {
    let value = |column| value_of(row, column).unwrap_or(NOT_GIVEN);
    match by {
        [column] => value(column).into(),
        _ => {
            let values = by.iter().map(|column| value(column));
            values.collect::<Vec<_>>().join(", ").into()
        }
    }
}

/// The text to group by; `folder` is where the recording lies in the folder that was named.
fn value_of<'a>(row: &'a StartRow, column: &str) -> Option<&'a str> {
    match column {
        "folder" => Some(
            row.recording
                .rsplit_once('/')
                .map_or(".", |(folder, _)| folder),
        ),
        _ => row.group(column),
    }
}

pub(super) fn standing(row: &StartRow) -> Standing {
    if row.exclude.is_some() {
        Standing::SetAside
    } else if row.doubt.is_some() || row.verdict == Some(Verdict::Doubtful) {
        Standing::Doubtful
    } else if row.lit() && row.score.is_none() {
        Standing::Unscored
    } else {
        Standing::Judged
    }
}

pub(super) fn is_judged(row: &StartRow) -> bool {
    standing(row) == Standing::Judged
}

/// Rough, or not lit.
pub(super) fn is_rough(row: &StartRow) -> bool {
    !row.lit() || matches!(row.verdict, Some(Verdict::Rough | Verdict::NoLight))
}
