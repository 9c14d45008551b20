//! Control charts of a batch, one a group and measure.

use std::collections::BTreeMap;

use crate::flag::Flag;
use crate::measure::{Better, Quantity, Transform};
use crate::parallel;
use crate::score::{CRISP, StartRow};
use crate::stats;
use crate::study::screen::batch::{Batch, group_id, is_judged};
use crate::study::screen::found::{Chart, ChartPoint, Reason, Rule, ShortChart, StartName};
use crate::study::screen::options::ScreenOptions;

/// Weight of the newest start in the moving average (NIST/SEMATECH e-Handbook 6.3.2.4: 0.2 to 0.3).
const LAMBDA: f64 = 0.2;

/// A chart starts from this many starts at the least: with fewer no limit holds its promise.
const FEWEST: usize = 20;

/// This many of the newest earlier starts are the baseline.
const NEWEST: usize = 200;

/// The charts of a batch with what they alarm of.
#[derive(Default)]
pub(super) struct Charts {
    pub(super) charts: Vec<Chart>,
    pub(super) short: Vec<ShortChart>,
    /// Place among all starts of the batch, and the reason.
    pub(super) reasons: Vec<(usize, Reason)>,
}

/// A start on a chart.
#[derive(Clone, Copy)]
struct Charted<'a> {
    /// Place among all starts of the batch.
    place: usize,
    row: &'a StartRow,
    value: Option<f64>,
}

impl Charted<'_> {
    /// Its value with the sign that makes worse ones the larger; not lit is the worst.
    fn worse(&self, sign: f64) -> f64 {
        self.value.map_or(f64::INFINITY, |value| sign * value)
    }

    fn name(&self) -> StartName {
        StartName {
            recording: self.row.recording.clone(),
            run: self.row.run,
            start: self.row.start,
        }
    }
}

/// A chart before its limits.
struct Draft<'a> {
    id: &'a str,
    quantity: Quantity,
    better: Better,
    earlier: Vec<Charted<'a>>,
    starts: Vec<Charted<'a>>,
    /// Starts at the head that belong to the baseline.
    own: usize,
}

/// A chart of every group and measure that has starts enough. `values` are those that all charts hold against their limits,
/// where some groups of the batch are elsewhere.
pub(super) fn charts(batch: &Batch, options: &ScreenOptions, values: Option<usize>) -> Charts {
    let (drafts, short) = drafts(batch, options);
    let mut found = Charts {
        short,
        ..Charts::default()
    };
    let values = values.unwrap_or_else(|| drafts.iter().map(Draft::judged).sum());
    let drawn = parallel::each(&drafts, |draft| match options.chart_rule {
        Rule::Individuals | Rule::Ewma => draft.by_limits(options.chart_rule),
        _ => draft.by_ranks(values),
    });
    for (chart, reasons) in drawn {
        found.charts.push(chart);
        found.reasons.extend(reasons);
    }
    found
}

/// Places of the starts during which a rank chart of the batch is out, from where the shift began; as its points have them, which are
/// many.
pub(super) fn off(batch: &Batch, options: &ScreenOptions) -> Vec<usize> {
    let (drafts, _) = drafts(batch, options);
    let values = drafts.iter().map(Draft::judged).sum();
    parallel::each(&drafts, |draft| Vec::from_iter(draft.off(values))).concat()
}

/// Values that the charts of a batch hold against their limits.
pub(super) fn values(batch: &Batch, options: &ScreenOptions) -> usize {
    drafts(batch, options).0.iter().map(Draft::judged).sum()
}

fn drafts<'a>(batch: &'a Batch, options: &'a ScreenOptions) -> (Vec<Draft<'a>>, Vec<ShortChart>) {
    let mut earlier: BTreeMap<String, Vec<&StartRow>> = BTreeMap::new();
    for row in &options.earlier {
        if is_judged(row) && !row.flags.contains(&Flag::TipOff) {
            earlier
                .entry(group_id(row, &options.by))
                .or_default()
                .push(row);
        }
    }
    let (mut drafts, mut short) = (Vec::new(), Vec::new());
    for (id, places) in &batch.groups {
        let known = earlier.get(&**id).map_or(&[][..], Vec::as_slice);
        for measure in &options.charts {
            match Draft::new(id, measure, batch, places, known, options.baseline) {
                Ok(draft) => drafts.push(draft),
                Err(few) => short.push(few),
            }
        }
    }
    (drafts, short)
}

/// Starts that have a place on a chart: with a value, or not lit, which is the worst that a start can be.
fn on_chart<'a>(
    rows: impl Iterator<Item = (usize, &'a StartRow)>,
    quantity: &Quantity,
) -> Vec<Charted<'a>> {
    let worst_known = quantity.better() != Better::Neither;
    rows.map(|(place, row)| Charted {
        place,
        row,
        value: row.value_of(quantity),
    })
    .filter(|start| start.value.is_some() || (!start.row.lit() && worst_known))
    .collect()
}

impl<'a> Draft<'a> {
    fn new(
        id: &'a str,
        measure: &str,
        batch: &Batch<'a>,
        places: &[usize],
        known: &[&'a StartRow],
        asked: usize,
    ) -> Result<Draft<'a>, ShortChart> {
        let quantity = Quantity::named(measure);
        let starts = on_chart(places.iter().map(|&p| (p, batch.rows[p])), &quantity);
        let mut earlier = on_chart(known.iter().map(|&row| (0, row)), &quantity);
        earlier.drain(..earlier.len().saturating_sub(NEWEST));
        let wanted = |size: usize| size.saturating_sub(earlier.len());
        let own = (starts.len() / 2).clamp(wanted(FEWEST), wanted(asked.max(FEWEST)));
        if own >= starts.len() {
            return Err(ShortChart {
                id: id.to_owned(),
                measure: measure.to_owned(),
                starts: earlier.len() + starts.len(),
                needed: FEWEST + 1,
            });
        }
        let better = quantity.better();
        Ok(Draft {
            id,
            quantity,
            better,
            earlier,
            starts,
            own,
        })
    }

    /// Values that the chart holds against its limits; each side of a two-sided one counts.
    fn judged(&self) -> usize {
        let sides = if self.better == Better::Neither { 2 } else { 1 };
        sides * (self.starts.len() - self.own)
    }

    fn baseline(&self) -> impl Iterator<Item = &Charted<'a>> {
        self.earlier.iter().chain(&self.starts[..self.own])
    }

    /// Values of the baseline that can be reckoned with.
    fn baseline_values(&self) -> Vec<f64> {
        self.baseline().filter_map(|start| start.value).collect()
    }

    fn chart(&self, rule: Rule, centre: f64, limits: (Option<f64>, Option<f64>)) -> Chart {
        Chart {
            id: self.id.to_owned(),
            measure: self.quantity.name().to_owned(),
            rule,
            n: self.starts.len(),
            baseline: self.earlier.len() + self.own,
            own_baseline: self.own,
            centre,
            lower: limits.0,
            upper: limits.1,
            points: Vec::with_capacity(self.starts.len()),
        }
    }

    fn point(&self, start: &Charted) -> ChartPoint {
        let name = start.name();
        ChartPoint {
            recording: name.recording,
            run: name.run,
            start: name.start,
            lit: start.row.lit(),
            value: start.value,
            statistic: None,
            upper: None,
            lower: None,
            out: false,
            since: 0,
        }
    }

    fn reason(&self, rule: Rule, value: Option<f64>, limit: Option<f64>) -> Reason {
        Reason {
            rule,
            measure: self.quantity.name().to_owned(),
            value,
            limit,
            since: None,
        }
    }

    /// The rank chart: a sum to the worse side, or one to each side where neither is worse.
    fn by_ranks(&self, values: usize) -> (Chart, Vec<(usize, Reason)>) {
        let (mut sums, limit) = self.sums(values);
        let centre = stats::median(&self.baseline_values()).unwrap_or(0.0);
        let lower = (sums.len() > 1).then_some(-limit);
        let mut chart = self.chart(Rule::RankCusum, centre, (lower, Some(limit)));
        for (k, start) in self.starts.iter().enumerate() {
            let mut point = self.point(start);
            if k >= self.own {
                let (statistic, step) = self.push(&mut sums, start);
                point.statistic = Some(statistic);
                (point.upper, point.lower) = (chart.upper, chart.lower);
                (point.out, point.since) = (step.out, step.since);
            }
            chart.points.push(point);
        }
        let reasons = self.went_out(&chart).map(|k| {
            let point = &chart.points[k];
            let began = (k + 1).saturating_sub(point.since.max(1));
            let reason = Reason {
                since: Some(self.starts[began].name()),
                ..self.reason(chart.rule, point.statistic, Some(limit))
            };
            (self.starts[k].place, reason)
        });
        let reasons = reasons.collect();
        (chart, reasons)
    }

    /// Places of the starts during which the rank chart is out, from where the shift began.
    fn off(&self, values: usize) -> Vec<usize> {
        let (mut sums, _) = self.sums(values);
        let (mut places, mut told) = (Vec::new(), 0);
        for (k, start) in self.starts.iter().enumerate().skip(self.own) {
            let (_, step) = self.push(&mut sums, start);
            if step.out {
                let began = (k + 1).saturating_sub(step.since.max(1)).max(told);
                places.extend(self.starts[began..=k].iter().map(|start| start.place));
                told = k + 1;
            }
        }
        places
    }

    /// A sum for each worse side, with the sign that makes its worse values the larger ones; and their limit.
    fn sums(&self, values: usize) -> (Vec<(f64, stats::RankCusum)>, f64) {
        let signs: &[f64] = match self.better {
            Better::Lower => &[1.0],
            Better::Higher => &[-1.0],
            Better::Neither => &[1.0, -1.0],
        };
        let of =
            |sign: f64| -> Vec<f64> { self.baseline().map(|start| start.worse(sign)).collect() };
        let limit = stats::rank_limit(values, &of(signs[0]));
        let sum = |&sign: &f64| (sign, stats::RankCusum::new(&of(sign), limit));
        (signs.iter().map(sum).collect(), limit)
    }

    /// Takes a start into the sums; gives the worse of them, with a minus where it is that of low values.
    fn push(
        &self,
        sums: &mut [(f64, stats::RankCusum)],
        start: &Charted,
    ) -> (f64, stats::RankStep) {
        let harmless = self.is_harmless(start.value);
        let two_sided = sums.len() > 1;
        let steps = sums.iter_mut().map(|(sign, sum)| {
            let step = sum.push(start.worse(*sign), harmless);
            let sign = if two_sided { *sign } else { 1.0 };
            (sign * step.sum, step)
        });
        let worse = |a: &stats::RankStep, b: &stats::RankStep| {
            a.out.cmp(&b.out).then(a.sum.total_cmp(&b.sum))
        };
        let worst = steps.max_by(|a, b| worse(&a.1, &b.1));
        worst.expect("a chart has a side")
    }

    /// Points at which a chart goes out, not all the while that it stays out.
    fn went_out<'c>(&self, chart: &'c Chart) -> impl Iterator<Item = usize> + use<'c> {
        let out = |k: usize| chart.points[k].out;
        (0..chart.points.len()).filter(move |&k| out(k) && (k == 0 || !out(k - 1)))
    }

    /// A score that is crisp is no alarm, however steady the others were.
    fn is_harmless(&self, value: Option<f64>) -> bool {
        self.quantity == Quantity::Score && value.is_some_and(|score| score >= CRISP)
    }

    /// Individuals and moving averages: for values that are about normal and do not depend on each other.
    fn by_limits(&self, rule: Rule) -> (Chart, Vec<(usize, Reason)>) {
        let charted: Vec<Charted> = self
            .starts
            .iter()
            .copied()
            .filter(|s| s.value.is_some())
            .collect();
        let values: Vec<f64> = charted.iter().filter_map(|s| s.value).collect();
        let baseline = self.baseline_values();
        let (centre, sigma) =
            stats::individuals(&baseline).map_or((0.0, 0.0), |i| (i.centre, i.sigma));
        let statistic = match rule {
            Rule::Ewma => stats::ewma(&values, centre, LAMBDA),
            _ => values,
        };
        let half = |count: Option<usize>| match rule {
            Rule::Ewma => stats::ewma_half_width(sigma, LAMBDA, count),
            _ => 3.0 * sigma,
        };
        let mut chart = self.chart(rule, centre, self.limits(centre, half(None)));
        chart.n = charted.len();
        let mut reasons = Vec::new();
        for (k, (start, &statistic)) in charted.iter().zip(&statistic).enumerate() {
            let (lower, upper) = self.limits(centre, half(Some(k + 1)));
            let low = lower.filter(|limit| statistic < *limit);
            let passed = low.or(upper.filter(|limit| statistic > *limit));
            let passed = passed.filter(|_| !self.is_harmless(Some(statistic)));
            chart.points.push(ChartPoint {
                statistic: Some(statistic),
                upper,
                lower,
                out: passed.is_some(),
                ..self.point(start)
            });
            let still = rule == Rule::Ewma && k > 0 && chart.points[k - 1].out;
            if passed.is_some() && !still {
                reasons.push((start.place, self.reason(rule, Some(statistic), passed)));
            }
        }
        (chart, reasons)
    }

    /// Lower and upper limit: on the worse side only, inside what the quantity can be, and none
    /// where a baseline all alike gives limits without width, which say nothing.
    fn limits(&self, centre: f64, half: f64) -> (Option<f64>, Option<f64>) {
        if half <= 0.0 {
            return (None, None);
        }
        let (least, most) = possible(&self.quantity);
        let lower = Some(centre - half).filter(|l| self.better != Better::Lower && *l > least);
        let upper = Some(centre + half).filter(|u| self.better != Better::Higher && *u < most);
        (lower, upper)
    }
}

/// The least and the most that a quantity can be.
fn possible(quantity: &Quantity) -> (f64, f64) {
    match quantity {
        Quantity::Score => (0.0, 100.0),
        Quantity::Measure(m) if m.transform() == Transform::Log || m.unit().is_empty() => {
            (0.0, f64::INFINITY)
        }
        _ => (f64::NEG_INFINITY, f64::INFINITY),
    }
}
