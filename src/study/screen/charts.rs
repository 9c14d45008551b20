//! Control charts of a batch: individual values and their moving average, a chart a group and measure.

use std::collections::BTreeMap;

use crate::error::{Error, Result};
use crate::measure::{Better, Quantity};
use crate::score::{CRISP, StartRow};
use crate::stats;
use crate::study::screen::ScreenOptions;
use crate::study::wear::WEAR_MEASURES;
use crate::study::{Alarm, Chart, ChartPoint, Rule, known_measure};

/// Weight of the newest start in the moving average (NIST/SEMATECH e-Handbook 6.3.2.4: 0.2 to 0.3).
const LAMBDA: f64 = 0.2;

/// A chart of every group and measure that has starts enough for limits.
pub(super) fn charts(rows: &[StartRow], options: &ScreenOptions) -> Result<Vec<Chart>> {
    let groups = by_group(rows, &options.by);
    if groups.is_empty() && !rows.is_empty() {
        return Err(
            Error::input(format!("--by {}", options.by), "no start has this column")
                .hint("Group by prep, coupon, recording or a column of the run sheet"),
        );
    }
    let known = options
        .baseline_rows
        .as_deref()
        .map(|rows| by_group(rows, &options.by));
    for measure in &options.charts {
        known_measure(rows, measure, "--chart")?;
    }
    if let Some(measure) = options
        .regrind
        .keys()
        .find(|m| !WEAR_MEASURES.contains(&m.as_str()))
    {
        let problem = format!("no wear is looked for in {measure}");
        return Err(Error::input("--regrind-at", problem)
            .hint(format!("It is in {}", WEAR_MEASURES.join(", "))));
    }
    let mut charts = Vec::new();
    for (id, rows) in groups {
        for measure in &options.charts {
            let baseline = known
                .as_ref()
                .map(|known| values(known.get(id).map_or(&[][..], Vec::as_slice), measure));
            charts.extend(chart(id, measure, &rows, baseline, options.baseline));
        }
    }
    Ok(charts)
}

pub(super) fn by_group<'a>(rows: &'a [StartRow], by: &str) -> BTreeMap<&'a str, Vec<&'a StartRow>> {
    let mut groups: BTreeMap<&str, Vec<&StartRow>> = BTreeMap::new();
    for row in rows {
        if let Some(id) = row.group(by) {
            groups.entry(id).or_default().push(row);
        }
    }
    groups
}

/// Values that belong on a chart: a start that did not light has its own rule.
fn values(rows: &[&StartRow], measure: &str) -> Vec<f64> {
    let lit = rows.iter().filter(|row| row.lit());
    lit.filter_map(|row| row.value(measure)).collect()
}

/// `None` with fewer than two values to make limits from.
fn chart(
    id: &str,
    measure: &str,
    rows: &[&StartRow],
    known: Option<Vec<f64>>,
    first: usize,
) -> Option<Chart> {
    let charted = values(rows, measure);
    let baseline = known.unwrap_or_else(|| charted[..first.min(charted.len())].to_vec());
    let limits = stats::individuals(&baseline)?;
    let ewma = stats::ewma(&charted, limits.centre, LAMBDA);
    let half = stats::ewma_half_width(limits.sigma, LAMBDA, None);
    let on_chart = rows
        .iter()
        .filter(|r| r.lit() && r.value(measure).is_some());
    let points = on_chart
        .zip(charted.iter().zip(&ewma))
        .map(|(row, (&value, &ewma))| ChartPoint {
            recording: row.recording.clone(),
            run: row.run,
            start: row.start,
            value,
            ewma,
        });
    Some(Chart {
        id: id.into(),
        measure: measure.into(),
        n: charted.len(),
        baseline: baseline.len(),
        centre: limits.centre,
        upper: limits.limits.hi,
        lower: limits.limits.lo,
        ewma_upper: limits.centre + half,
        ewma_lower: limits.centre - half,
        points: points.collect(),
    })
}

/// Points past a limit on the bad side; of a moving average only where it goes out, not all the
/// while it stays out. A score that is crisp is no alarm, however steady the others were.
pub(super) fn chart_alarms(chart: &Chart) -> Vec<Alarm> {
    let better = Quantity::named(&chart.measure).better();
    // Baseline values that are all alike give limits without width, which say nothing.
    if chart.upper <= chart.lower {
        return Vec::new();
    }
    let past = |value: f64, lower: f64, upper: f64| {
        let low = better != Better::Lower && value < lower;
        let high = better != Better::Higher && value > upper;
        let crisp = chart.measure == "score" && value >= CRISP;
        ((low || high) && !crisp).then_some(if low { lower } else { upper })
    };
    let mut alarms = Vec::new();
    let mut out = false;
    for point in &chart.points {
        let raised = |value, limit, rule| Alarm {
            recording: point.recording.clone(),
            run: point.run,
            start: point.start,
            measure: chart.measure.clone(),
            value: Some(value),
            limit: Some(limit),
            rule,
            why: rule.says().to_owned(),
        };
        if let Some(limit) = past(point.value, chart.lower, chart.upper) {
            alarms.push(raised(point.value, limit, Rule::Individuals));
        }
        let limit = past(point.ewma, chart.ewma_lower, chart.ewma_upper);
        if let Some(limit) = limit.filter(|_| !out) {
            alarms.push(raised(point.ewma, limit, Rule::Ewma));
        }
        out = limit.is_some();
    }
    alarms
}
