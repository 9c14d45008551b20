//! Did this batch start clean, which starts were bad, is a tip going off?

use std::collections::{BTreeMap, BTreeSet};

use rand::seq::index;
use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};

use super::direction::Better;
use super::gather::{Detail, Gathered};
use super::stats;
use super::wear::{REGRIND_SCORE, WEAR_MEASURES, wear};
use super::words::number;
use super::{Alarm, Chart, ChartPoint, Flagged, NotRead, RecordingLine, Rule, Sampling, Screening};
use crate::error::{Error, Result};
use crate::flag::{Flag, counted};
use crate::prep::{CRISP, ROUGH, ROUGH_ATTEMPTS, StartRow, Verdict};

/// How to screen.
#[derive(Debug, Clone, PartialEq)]
pub struct ScreenOptions {
    /// One chart a value of this: `prep` or a column of the run sheet, such as the cell.
    pub by: String,
    /// Measures to chart.
    pub charts: Vec<String>,
    /// Starts at the head of each chart that its limits are made from.
    pub baseline: usize,
    /// Known good starts that the limits are made from instead.
    pub baseline_rows: Option<Vec<StartRow>>,
    /// Confidence level of the wear answers.
    pub level: f64,
    /// Regrind limits of measures, where the user sets them.
    pub regrind: BTreeMap<String, f64>,
    /// Acceptance sampling.
    pub sampling: Option<SamplingOptions>,
}

/// Acceptance sampling by attributes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SamplingOptions {
    /// Acceptance quality limit, rough starts in a hundred.
    pub aql: f64,
    /// Starts in the lot; `None`: those screened.
    pub lot: Option<usize>,
    /// Seed of the draw.
    pub seed: u64,
}

impl Default for ScreenOptions {
    fn default() -> Self {
        ScreenOptions {
            by: "prep".into(),
            charts: vec!["score".into()],
            baseline: 20,
            baseline_rows: None,
            level: 0.95,
            regrind: BTreeMap::new(),
            sampling: None,
        }
    }
}

/// Weight of the newest start in the moving average (NIST/SEMATECH e-Handbook 6.3.2.4: 0.2 to 0.3).
const LAMBDA: f64 = 0.2;

/// Screens a batch.
///
/// # Errors
/// A column or measure that no start has; a sampling limit that is not in the standard's table.
pub fn screen(gathered: &Gathered, options: &ScreenOptions) -> Result<Screening> {
    let rows = &gathered.rows;
    let charts = charts(rows, options)?;
    let mut alarms = limit_alarms(rows, &gathered.details);
    for chart in &charts {
        alarms.extend(chart_alarms(chart));
    }
    worst_first(&mut alarms, rows);
    let sampling = match &options.sampling {
        Some(asked) => Some(sample(rows, asked)?),
        None => None,
    };
    let over = match &sampling {
        Some(verdict) => {
            let charted = |a: &Alarm| matches!(a.rule, Rule::Individuals | Rule::Ewma);
            verdict.accepted != Some(true) || alarms.iter().any(charted)
        }
        None => !alarms.is_empty(),
    };
    let mut screening = Screening {
        over_limits: over || rows.is_empty(),
        pass: !over && !rows.is_empty() && gathered.not_read.is_empty(),
        starts: rows.len(),
        by: options.by.clone(),
        not_read: not_read(gathered),
        recordings: recordings(gathered, &alarms),
        groups: charts,
        alarms,
        regrind: wear(rows, options.level, |prep, measure| {
            regrind_limit(gathered, options, prep, measure)
        }),
        flags: flags(rows),
        sampling,
        warnings: warnings(gathered, options),
        answer: String::new(),
    };
    screening.answer = answer(&screening, rows);
    Ok(screening)
}

/// Puts the flag `tip_off` on the starts at which a moving average went out.
pub fn mark_tip_off(rows: &mut [StartRow], screening: &Screening) {
    let ewma = screening.alarms.iter().filter(|a| a.rule == Rule::Ewma);
    let off: BTreeSet<(&str, u32, u32)> = ewma
        .map(|a| (a.recording.as_str(), a.run, a.start))
        .collect();
    for row in rows {
        let key = (row.recording.as_str(), row.run, row.start);
        if off.contains(&key) && !row.flags.contains(&Flag::TipOff) {
            row.flags.push(Flag::TipOff);
            row.flags.sort_unstable();
        }
    }
}

fn not_read(gathered: &Gathered) -> Vec<NotRead> {
    let told = gathered.not_read.iter().map(|(recording, why)| NotRead {
        recording: recording.clone(),
        why: why.to_string(),
    });
    told.collect()
}

/// The user's limit, else the project's for the score and the target's poor end for the others.
fn regrind_limit(
    gathered: &Gathered,
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
        .rows
        .iter()
        .zip(&gathered.details)
        .filter(|(row, _)| row.prep == prep)
        .filter_map(|(_, detail)| detail.score.as_ref())
        .filter_map(|score| score.parts.iter().find(|part| part.measure == measure))
        .map(|part| part.poor)
        .collect();
    stats::median(&poor)
}

/// Starts that did not light, rough ones, and measures past the poor end of their target.
fn limit_alarms(rows: &[StartRow], details: &[Detail]) -> Vec<Alarm> {
    let mut alarms = Vec::new();
    for (i, row) in rows.iter().enumerate() {
        let score = details.get(i).and_then(|d| d.score.as_ref());
        if !row.lit() {
            alarms.push(alarm(row, "score", row.score, None, Rule::NoLight));
            continue;
        }
        if row.verdict == Some(Verdict::Rough) {
            let attempts = score.map_or(ROUGH_ATTEMPTS, |score| score.rough_attempts);
            let mut rough = alarm(row, "score", row.score, None, Rule::Rough);
            rough.why = why_rough(row, attempts);
            alarms.push(rough);
        }
        match score {
            Some(score) => alarms.extend(
                score
                    .parts
                    .iter()
                    .filter(|part| part.desirability == 0.0)
                    .map(|part| {
                        alarm(row, part.measure, part.value, Some(part.poor), Rule::Target)
                    }),
            ),
            None => alarms.extend(flag_alarms(row)),
        }
    }
    alarms
}

/// A table carries no targets, but the flags that its measuring raised.
fn flag_alarms(row: &StartRow) -> impl Iterator<Item = Alarm> {
    let measure_of = |flag: &Flag| match flag {
        Flag::Slow | Flag::NotSettled => Some("start_ms"),
        Flag::Wander => Some("wander_v"),
        Flag::Overshoot => Some("overshoot_pct"),
        _ => None,
    };
    row.flags
        .iter()
        .filter_map(measure_of)
        .map(|measure| alarm(row, measure, row.value(measure), None, Rule::Target))
}

fn alarm(
    row: &StartRow,
    measure: &str,
    value: Option<f64>,
    limit: Option<f64>,
    rule: Rule,
) -> Alarm {
    Alarm {
        recording: row.recording.clone(),
        run: row.run,
        start: row.start,
        measure: measure.into(),
        value,
        limit,
        rule,
        why: rule.says().to_owned(),
    }
}

/// What made a start rough: the same three rules that its verdict goes by.
fn why_rough(row: &StartRow, rough_attempts: u32) -> String {
    let count = |measure: &str| row.value(measure).unwrap_or(0.0);
    let (dropouts, attempts) = (count("dropouts"), count("attempts"));
    let mut why = Vec::new();
    if dropouts > 0.0 {
        why.push(counted(dropouts as usize, "dropout"));
    }
    if attempts > f64::from(rough_attempts) {
        why.push(format!("{attempts} attempts"));
    }
    if row.score.is_some_and(|score| score < ROUGH) {
        why.push(format!("score under {ROUGH}"));
    }
    match why.as_slice() {
        [] => Rule::Rough.says().to_owned(),
        _ => format!("{}: {}", Rule::Rough.says(), why.join(", ")),
    }
}

/// Each flag with the number of starts that carry it, in the order of the docs.
fn flags(rows: &[StartRow]) -> Vec<Flagged> {
    let mut counts: BTreeMap<Flag, usize> = BTreeMap::new();
    for flag in rows.iter().flat_map(|row| &row.flags) {
        *counts.entry(*flag).or_default() += 1;
    }
    let flagged = counts
        .into_iter()
        .map(|(flag, starts)| Flagged { flag, starts });
    flagged.collect()
}

impl Rule {
    /// The rule in the words of the terminal and the page.
    fn says(self) -> &'static str {
        match self {
            Rule::NoLight => "no arc held",
            Rule::Rough => "rough",
            Rule::Target => "past the poor end of its target",
            Rule::Individuals => "out of line with the others",
            Rule::Ewma => "going off: the running average is out",
        }
    }
}

/// By rule, and inside a rule the lowest score first; equal ones keep their order.
fn worst_first(alarms: &mut [Alarm], rows: &[StartRow]) {
    let scores: BTreeMap<(&str, u32, u32), f64> = rows
        .iter()
        .filter_map(|row| Some(((row.recording.as_str(), row.run, row.start), row.score?)))
        .collect();
    let score = |a: &Alarm| {
        let key = (a.recording.as_str(), a.run, a.start);
        scores.get(&key).copied().unwrap_or(f64::INFINITY)
    };
    alarms.sort_by(|a, b| a.rule.cmp(&b.rule).then(score(a).total_cmp(&score(b))));
}

/// A chart of every group and measure that has starts enough for limits.
fn charts(rows: &[StartRow], options: &ScreenOptions) -> Result<Vec<Chart>> {
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
        super::known_measure(rows, measure, "--chart")?;
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

fn by_group<'a>(rows: &'a [StartRow], by: &str) -> BTreeMap<&'a str, Vec<&'a StartRow>> {
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
fn chart_alarms(chart: &Chart) -> Vec<Alarm> {
    let better = Better::of(&chart.measure);
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

fn is_rough(row: &StartRow) -> bool {
    !row.lit() || matches!(row.verdict, Some(Verdict::Rough | Verdict::NoLight))
}

fn recordings(gathered: &Gathered, alarms: &[Alarm]) -> Vec<RecordingLine> {
    let mut order: Vec<&str> = gathered.rows.iter().map(|r| r.recording.as_str()).collect();
    order.extend(gathered.sources.iter().map(|s| s.recording.as_str()));
    let mut by_name: BTreeMap<&str, Vec<&StartRow>> = BTreeMap::new();
    for row in &gathered.rows {
        by_name.entry(&row.recording).or_default().push(row);
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
    let mut preps: Vec<&str> = rows.iter().map(|r| r.prep.as_str()).collect();
    preps.sort_unstable();
    preps.dedup();
    let no_light = rows.iter().filter(|r| !r.lit()).count();
    let scores: Vec<f64> = rows.iter().filter_map(|r| r.score).collect();
    RecordingLine {
        recording: name.into(),
        prep: preps.join(" "),
        starts: rows.len(),
        rough: rows.iter().filter(|r| is_rough(r)).count() - no_light,
        no_light,
        score_median: stats::median(&scores),
        score_worst: scores.iter().copied().min_by(f64::total_cmp),
        alarms,
    }
}

fn sample(rows: &[StartRow], asked: &SamplingOptions) -> Result<Sampling> {
    let lot = asked.lot.unwrap_or(rows.len());
    let letter = stats::code_letter(lot);
    let plan = stats::sampling_plan(letter, asked.aql).ok_or_else(|| {
        Error::input(
            "--sampling",
            format!("{} is no acceptance limit of ISO 2859-1", asked.aql),
        )
        .hint("Take one of 0.01 0.015 0.025 0.04 0.065 0.1 0.15 0.25 0.4 0.65 1 1.5 2.5 4 6.5.")
    })?;
    // A sample as large as the lot is the lot.
    let n = plan.n.min(lot);
    let judged = n.min(rows.len());
    let mut rng = ChaCha8Rng::seed_from_u64(asked.seed);
    let drawn = index::sample(&mut rng, rows.len(), judged);
    let rough = drawn.iter().filter(|&i| is_rough(&rows[i])).count();
    let accepted = match rough > plan.accept {
        true => Some(false),
        false => (judged == n).then_some(true),
    };
    Ok(Sampling {
        lot,
        aql: asked.aql,
        letter,
        n,
        accept: plan.accept,
        rough,
        judged,
        accepted,
    })
}

fn warnings(gathered: &Gathered, options: &ScreenOptions) -> Vec<String> {
    let mut warnings = gathered.empty.clone();
    let rows = &gathered.rows;
    let unscored = rows.iter().filter(|r| r.score.is_none()).count();
    if unscored > 0 {
        warnings.push(format!(
            "{} without a score could not be judged.",
            counted(unscored, "start")
        ));
    }
    if options.baseline_rows.is_none() {
        for (id, rows) in by_group(rows, &options.by) {
            let lit = rows.iter().filter(|r| r.lit()).count();
            if lit < options.baseline {
                warnings.push(format!(
                    "{id} has {} on its chart, fewer than the {} that its limits should come from.",
                    counted(lit, "start"),
                    options.baseline
                ));
            }
        }
    }
    warnings
}

fn answer(screening: &Screening, rows: &[StartRow]) -> String {
    let starts = screening.starts;
    if starts == 0 {
        return "No start was found: there is nothing to pass.".into();
    }
    let all = counted(starts, "start");
    let rough = rows.iter().filter(|r| is_rough(r)).count();
    let no_light = rows.iter().filter(|r| !r.lit()).count();
    let mut sentences = vec![match (rough, screening.pass) {
        (0, true) => format!("Clean: {all}, none rough, none past a limit."),
        (0, false) if screening.alarms.is_empty() => {
            format!("{all}, none rough, but not all could be judged.")
        }
        (0, false) => format!(
            "{all}, none rough, but {} past a limit.",
            times(screening.alarms.len())
        ),
        _ if no_light > 0 => {
            format!("{rough} of {all} rough, {no_light} of them did not light.")
        }
        _ => format!("{rough} of {all} rough; every one lit."),
    }];
    if rough == 0 {
        let upper = 100.0 * stats::zero_events_upper(starts as u64, 0.95);
        sentences.push(format!(
            "So many clean ones still allow up to {} rough in 100 (one-sided 95 % bound).",
            number(upper)
        ));
    }
    if let Some(sampling) = &screening.sampling {
        sentences.push(sampling_sentence(sampling));
    }
    if !screening.not_read.is_empty() {
        let recordings = counted(screening.not_read.len(), "recording");
        sentences.push(format!("{recordings} could not be read."));
    }
    let wear = screening.regrind.iter().filter(|w| w.at.is_some());
    sentences.extend(wear.map(|w| w.says.clone()));
    sentences.join(" ")
}

fn times(count: usize) -> String {
    match count {
        1 => "once".to_owned(),
        many => format!("{many} times"),
    }
}

fn sampling_sentence(sampling: &Sampling) -> String {
    let plan = format!(
        "{} rough of {} drawn from {}, up to {} allowed (ISO 2859-1, letter {}, AQL {})",
        sampling.rough,
        sampling.judged,
        sampling.lot,
        sampling.accept,
        sampling.letter,
        sampling.aql
    );
    match sampling.accepted {
        Some(true) => format!("The sample passes: {plan}."),
        Some(false) => format!("The sample fails: {plan}."),
        None => format!(
            "The sample is too small, {} are asked for: {plan}.",
            sampling.n
        ),
    }
}
