//! The first sheet: the verdict, the one reason, one picture, the counts, who and when, what was left out.

use std::collections::{BTreeMap, HashMap};

use maud::{Markup, PreEscaped, html};

use crate::figure;
use crate::figure::{Block, Difference, Dot, EveryStart, OnTip};
use crate::fit::Level;
use crate::format::{counted, list};
use crate::measure::Quantity;
use crate::page::facts::facts;
use crate::page::parts::{PageInput, name};
use crate::page::starts::costs;
use crate::parallel;
use crate::score::{CRISP, ROUGH, StartRow, Verdict};
use crate::stats::median;
use crate::study::{PairVerdict, prep_names, starts_by};
use crate::words;
use crate::words::verdict::{self, Headline, Tone, measure_of, rough_words};

/// Width of the picture on paper and on a screen, and on a phone, px.
const WIDE: u32 = 900;
const NARROW: u32 = 358;

/// Differences drawn beside the starts.
const DIFFERENCES: usize = 3;

/// Reasons for leaving starts out that are named; the others are counted.
const REASONS: usize = 3;

/// The whole sheet.
pub(super) fn sheet(input: &PageInput) -> Markup {
    let said = headline(input);
    let tone = match said.tone {
        Tone::Clear => "clear",
        Tone::Failed => "failed",
        Tone::Open => "open",
    };
    html! {
        div class={ "verdict " (tone) } {
            h2 id="answer-head" { (name(&said.words)) }
            p.reason { (name(&said.reason)) }
        }
        (picture(input))
        ul.tally { @for line in tally(input) { li { (line) } } }
        @let left_out = left_out(input);
        @if !left_out.is_empty() { ul.warn { @for text in left_out { li { (name(&text)) } } } }
        (facts(input))
        div.sign { @for what in ["Name", "Signature", "Date"] { span { (what) } } }
        p.caution { "A score is a comparison aid: it accepts no weld." }
    }
}

fn headline(input: &PageInput) -> Headline {
    match (input.comparison, input.screening) {
        (Some(comparison), _) => verdict::of_comparison(comparison),
        (None, Some(screening)) => verdict::of_screening(screening),
        (None, None) => verdict::of_starts(input.rows, worst(input)),
    }
}

/// What cost the worst start its score.
fn worst(input: &PageInput) -> Option<String> {
    let counts = |(row, _): &(&StartRow, _)| row.exclude.is_none() && row.doubt.is_none();
    let scored = input.detailed().filter(counts);
    let (row, detail) = scored.min_by(|(a, _), (b, _)| {
        let score = |row: &StartRow| row.score.unwrap_or(0.0);
        score(a).total_cmp(&score(b))
    })?;
    let costs = costs(row, detail.score.as_ref());
    (!costs.is_empty()).then(|| format!("The worst, start {}: {}.", row.named(), costs))
}

/// Names of the groups that the page speaks of, in the order of their colours, and the columns that tell them.
pub(super) fn groups(input: &PageInput) -> (Vec<String>, Vec<String>) {
    let by: Vec<String> = match (input.comparison, input.screening) {
        (Some(comparison), _) => vec![comparison.by.clone()],
        (None, Some(screening)) => screening.by.clone(),
        (None, None) => vec!["prep".to_owned()],
    };
    let names = match (input.comparison, input.screening) {
        (Some(comparison), _) => comparison
            .groups
            .iter()
            .map(|group| group.id.clone())
            .collect(),
        (None, Some(screening)) => {
            let mut names: Vec<String> = screening.groups.iter().map(|g| g.id.clone()).collect();
            names.sort_unstable();
            names
        }
        (None, None) => prep_names(input.rows)
            .into_iter()
            .map(str::to_owned)
            .collect(),
    };
    (names, by)
}

/// Every start that counts, by group and tip, with the difference of the groups.
fn picture(input: &PageInput) -> Markup {
    let measure = input.comparison.map_or("score", measure_of);
    let (names, by) = groups(input);
    let rows = starts_by(input.rows, &by);
    let names: Vec<(usize, String)> = names.into_iter().enumerate().collect();
    let block = |(group, name): &(usize, String)| {
        let own = rows.get(&**name).map_or(&[][..], Vec::as_slice);
        let tips = on_tips(own.iter().copied(), measure);
        (!tips.is_empty()).then(|| Block {
            name: name.clone(),
            group: *group,
            told: told(&tips),
            tips,
        })
    };
    let blocks = parallel::each(&names, block);
    let mut blocks: Vec<Block> = blocks.into_iter().flatten().collect();
    let left_out = thin(&mut blocks);
    let shown = EveryStart {
        measure: measure.to_owned(),
        blocks,
        lines: lines(input, measure),
        differences: differences(input, measure),
    };
    if shown.blocks.is_empty() {
        return html! {};
    }
    html! {
        figure.first {
            div.wide { (PreEscaped(figure::every_start(&shown, WIDE))) }
            div.narrow { (PreEscaped(figure::every_start(&shown, NARROW))) }
            figcaption {
                "One mark a start, by tip, in the order struck; the bar is the middle of a tip. Filled (red): rough. Cross at the foot: did not light."
                @if let Some(text) = left_out { (text) }
                @if !shown.differences.is_empty() { " At the right the difference with its interval; in the shaded band it would not be worth having." }
            }
        }
    }
}

/// Tips drawn at the most.
const TIPS: usize = 400;

/// Leaves tips and starts out that would not be told apart, and says so.
fn thin(blocks: &mut [Block]) -> Option<String> {
    let tips: usize = blocks.iter().map(|block| block.tips.len()).sum();
    let tip = tips.div_ceil(TIPS).max(1);
    for block in &mut *blocks {
        let all = std::mem::take(&mut block.tips);
        block.tips = all.into_iter().step_by(tip).collect();
    }
    let drawn = blocks.iter().flat_map(|block| &block.tips);
    let start = figure::one_in(drawn.map(|tip| tip.dots.len()).sum());
    for on_tip in blocks.iter_mut().flat_map(|block| &mut block.tips) {
        let all = std::mem::take(&mut on_tip.dots);
        on_tip.dots = all.into_iter().step_by(start).collect();
    }
    let left_out = match (tip, start) {
        (1, 1) => return None,
        (1, start) => format!("One start in {start} is drawn"),
        (tip, 1) => format!("One tip in {tip} is drawn"),
        (tip, start) => format!("One tip in {tip} is drawn, and one in {start} of its starts"),
    };
    Some(format!(
        " {left_out}; the bars and every number are of all."
    ))
}

/// How many starts some tips have, rough ones, and ones that did not light.
fn told(tips: &[OnTip]) -> [usize; 3] {
    let dots = || tips.iter().flat_map(|tip| &tip.dots);
    let count = |so: fn(&&Dot) -> bool| dots().filter(so).count();
    [
        dots().count(),
        count(|dot| dot.rough),
        count(|dot| !dot.lit),
    ]
}

/// The starts that count by tip, in their order.
fn on_tips<'a>(rows: impl Iterator<Item = &'a StartRow>, measure: &str) -> Vec<OnTip> {
    let quantity = Quantity::named(measure);
    let mut tips: Vec<OnTip> = Vec::new();
    let mut places: HashMap<&str, usize> = HashMap::new();
    let mut last: Option<(&str, usize)> = None;
    for row in rows.filter(|row| row.exclude.is_none() && row.doubt.is_none()) {
        let tip = row.tip_id.as_deref().unwrap_or("");
        // Starts on a tip follow each other.
        let place = match last.filter(|(name, _)| *name == tip) {
            Some((_, place)) => place,
            None => *places.entry(tip).or_insert(tips.len()),
        };
        last = Some((tip, place));
        if place == tips.len() {
            tips.push(OnTip {
                name: tip.to_owned(),
                dots: Vec::new(),
                middle: None,
            });
        }
        tips[place].dots.push(Dot {
            value: row.value_of(&quantity),
            lit: row.lit(),
            rough: row.verdict == Some(Verdict::Rough),
        });
    }
    for tip in &mut tips {
        let values: Vec<f64> = tip.dots.iter().filter_map(|dot| dot.value).collect();
        tip.middle = median(&values);
    }
    tips
}

/// The ends of the words for a score, of the target for another measure where all starts have the same.
fn lines(input: &PageInput, measure: &str) -> Vec<(f64, String)> {
    if measure == "score" {
        return vec![
            (CRISP, format!("crisp {CRISP}")),
            (ROUGH, format!("rough {ROUGH}")),
        ];
    }
    let scores = input
        .details
        .iter()
        .filter_map(|detail| detail.score.as_ref());
    let parts = scores.flat_map(|score| &score.parts);
    let mut ends: Vec<(f64, f64)> = parts
        .filter(|part| part.measure.name() == measure)
        .map(|part| (part.good, part.poor))
        .collect();
    ends.dedup();
    match ends.as_slice() {
        [(good, poor)] => vec![(*good, "good".to_owned()), (*poor, "poor".to_owned())],
        _ => Vec::new(),
    }
}

fn differences(input: &PageInput, measure: &str) -> Vec<Difference> {
    let pairs = input
        .comparison
        .iter()
        .flat_map(|comparison| &comparison.pairs);
    let mut pairs: Vec<_> = pairs.filter(|pair| pair.measure == measure).collect();
    pairs.sort_by_key(|pair| !matches!(pair.verdict, PairVerdict::ABetter | PairVerdict::BBetter));
    let difference = |pair: &&crate::study::Pair| Difference {
        name: format!("{} − {}", pair.b, pair.a),
        shift: pair.shift,
        interval: pair.shift_lo.zip(pair.shift_hi),
        margin: pair.margin,
    };
    pairs.iter().take(DIFFERENCES).map(difference).collect()
}

/// One line a group: its starts, its tips, the rough ones and those of them that did not light.
fn tally(input: &PageInput) -> Vec<Markup> {
    let line = |id: &str, starts: usize, tips: Option<usize>, rough: usize, no_light: usize| {
        html! {
            b { (name(id)) } ": " (counted(starts, "start"))
            @if let Some(tips) = tips.filter(|tips| *tips > 0) { " on " (counted(tips, "tip")) }
            ", " (rough_words(rough, no_light)) "."
        }
    };
    if let Some(comparison) = input.comparison {
        let groups = comparison.groups.iter();
        return groups
            .map(|g| line(&g.id, g.starts, Some(g.tips), g.rough, g.no_light))
            .collect();
    }
    if let Some(found) = input.screening {
        let all = line("All", found.starts, None, found.rough, found.no_light);
        let groups = found.groups.iter().filter(|_| found.groups.len() > 1);
        let groups = groups.map(|g| line(&g.id, g.starts, g.tips, g.rough, g.no_light));
        return std::iter::once(all).chain(groups.take(6)).collect();
    }
    let of = |row: &&StartRow| row.exclude.is_none() && row.doubt.is_none();
    let all: Vec<&StartRow> = input.rows.iter().filter(of).collect();
    let word = |word| all.iter().filter(|row| row.verdict == Some(word)).count();
    let no_light = word(Verdict::NoLight);
    vec![line(
        "All",
        all.len(),
        None,
        word(Verdict::Rough) + no_light,
        no_light,
    )]
}

/// Why a start is left out, if it is.
type Why = fn(&StartRow) -> Option<&str>;

/// What is not counted, each reason with its number of starts, and what could not be read.
fn left_out(input: &PageInput) -> Vec<String> {
    let mut said = Vec::new();
    let kinds: [(&str, Why); 2] = [
        ("set aside", |row| row.exclude.as_deref()),
        ("doubtful", |row| {
            row.doubt.as_deref().filter(|_| row.exclude.is_none())
        }),
    ];
    for (kind, why) in kinds {
        let mut reasons: BTreeMap<&str, usize> = BTreeMap::new();
        input
            .rows
            .iter()
            .filter_map(why)
            .for_each(|why| *reasons.entry(why).or_default() += 1);
        let all: usize = reasons.values().sum();
        if all > 0 {
            let mut reasons: Vec<_> = reasons.into_iter().collect();
            reasons.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
            let named = reasons.iter().take(REASONS);
            let mut named: Vec<_> = named
                .map(|(why, count)| format!("{why} ({count})"))
                .collect();
            let more = reasons.len().saturating_sub(REASONS);
            named.extend((more > 0).then(|| format!("and {more} more reasons")));
            said.push(format!(
                "Not counted: {} {kind}: {}.",
                counted(all, "start"),
                named.join("; ")
            ));
        }
    }
    said.extend(disagreements(input));
    if !input.not_read.is_empty() {
        let names: Vec<String> = input
            .not_read
            .iter()
            .take(REASONS)
            .map(|(n, _)| n.clone())
            .collect();
        let more = if input.not_read.len() > REASONS {
            " and others"
        } else {
            ""
        };
        said.push(format!(
            "Not counted: {} that could not be read: {}{more}.",
            counted(input.not_read.len(), "recording"),
            list(&names)
        ));
    }
    said
}

/// Where the sheet and the starts disagree, one line a prep and matter, with the rows of the sheet.
fn disagreements(input: &PageInput) -> Vec<String> {
    let mut seen: Vec<(&str, &str)> = Vec::new();
    let mut said = Vec::new();
    for finding in input
        .after
        .iter()
        .filter(|finding| finding.level() != Level::Note)
    {
        let matter = (finding.prep.as_str(), finding.about());
        if !seen.contains(&matter) {
            seen.push(matter);
            let rows = words::in_rows(&finding.rows);
            said.push(format!(
                "Prep {}, {}{rows}: {}.",
                finding.prep,
                finding.about(),
                finding.remark().what
            ));
        }
    }
    let more = said.len().saturating_sub(REASONS);
    said.truncate(REASONS);
    said.extend((more > 0).then(|| format!("And {more} more disagreements of sheet and starts.")));
    said
}
