//! The answer of a comparison of three groups or more.

use crate::format::{label, list, percent};
use crate::study::{Comparison, Group, Pair, PairVerdict, tips_to_begin_with};
use crate::words::lead::{headline, winner};
use crate::words::pieces::{grinds, more, rough_counts};

pub(super) fn many_groups(comparison: &Comparison, pairs: &[&Pair]) -> Vec<String> {
    let beats = |id: &str| {
        pairs
            .iter()
            .filter(|p| winner(p).is_some_and(|w| w.0 == id))
            .count()
    };
    let others = comparison.groups.len() - 1;
    let name = label(&pairs[0].measure);
    let first = match comparison.groups.iter().find(|g| beats(&g.id) == others) {
        Some(best) => {
            let rest = comparison.groups.iter().filter(|g| g.id != best.id);
            let rest: Vec<String> = rest.map(|g| g.id.clone()).collect();
            format!("{} is better than {} in {name}.", best.id, list(&rest))
        }
        None => some_pairs(pairs),
    };
    let tips: Vec<String> = comparison
        .groups
        .iter()
        .map(|g| format!("{} {}", g.id, g.tips))
        .collect();
    let mut sentences = vec![first];
    let told = pairs.iter().filter_map(|pair| Some((pair, winner(pair)?)));
    sentences.extend(told.map(|(pair, (better, worse))| headline(comparison, pair, better, worse)));
    sentences.push(format!("Tips: {}.", tips.join(", ")));
    sentences.extend(single_tips(comparison));
    sentences.push(rough_counts(&comparison.groups, comparison.level));
    sentences
}

/// Which groups have one tip, and what that leaves unsaid.
fn single_tips(comparison: &Comparison) -> Option<String> {
    let single: Vec<&Group> = comparison.groups.iter().filter(|g| g.tips == 1).collect();
    let names: Vec<String> = single.iter().map(|g| g.id.clone()).collect();
    let starts: usize = single.iter().map(|g| g.starts).sum();
    let anew = tips_to_begin_with(starts.checked_div(names.len())?, comparison.level);
    let (level, grinds) = (percent(comparison.level), grinds(comparison));
    let names = list(&names);
    Some(match single.len() {
        1 => format!(
            "{names} has one tip, so what is said of it is about this tip ({level} intervals) and not of the {grinds}. Grind it anew at least {anew} times to say so of the {grinds}."
        ),
        _ => format!(
            "{names} have one tip each, so what is said of them is about these tips ({level} intervals) and not of the {grinds}. Grind each anew at least {anew} times to say so of the {grinds}."
        ),
    })
}

/// Which pairs can be told apart and which not, where no group beats all others.
fn some_pairs(pairs: &[&Pair]) -> String {
    let told: Vec<String> = pairs
        .iter()
        .filter_map(|p| winner(p))
        .map(|(better, worse)| format!("{better} is better than {worse}"))
        .collect();
    let open: Vec<&&Pair> = pairs
        .iter()
        .filter(|p| p.verdict == PairVerdict::NotEnough)
        .collect();
    let name = label(&pairs[0].measure);
    let mut text = match (told.as_slice(), open.len()) {
        ([], 0) => return format!("No difference worth having in {name} between any two of them."),
        ([], _) => format!("No winner yet in {name}."),
        _ => format!("In {name} {}.", list(&told)),
    };
    if !open.is_empty() {
        let names: Vec<String> = open
            .iter()
            .map(|p| format!("{} from {}", p.a, p.b))
            .collect();
        text += &format!(" Not enough to tell {}", list(&names));
        let most = open
            .iter()
            .max_by_key(|p| p.more_tips.map(|range| range.hi));
        text += &most
            .and_then(|p| more(p))
            .map_or(".".into(), |more| format!(": about {more} of each."));
    }
    text
}

/// Groups that are named in the answer.
const NAMED: usize = 10;

/// Which of many groups are worse and better than all others together, the clearest first.
pub(super) fn each_against_others(comparison: &Comparison, pairs: &[&Pair]) -> Vec<String> {
    let mut told: Vec<&Pair> = pairs
        .iter()
        .copied()
        .filter(|p| winner(p).is_some())
        .collect();
    let p = |pair: &Pair| pair.p_holm.unwrap_or(1.0);
    told.sort_by(|a, b| p(a).total_cmp(&p(b)));
    let named = |better: bool| {
        let own = told
            .iter()
            .filter(|pair| winner(pair).is_some_and(|w| (w.0 == pair.a) == better));
        let ids: Vec<String> = own.map(|pair| pair.a.clone()).collect();
        let rest = match ids.len().saturating_sub(NAMED) {
            0 => String::new(),
            rest => format!(" and {rest} more"),
        };
        match ids.len() {
            0 => "none".to_owned(),
            n => format!("{n} ({}{rest})", ids[..n.min(NAMED)].join(", ")),
        }
    };
    let (groups, name) = (comparison.groups.len(), label(&pairs[0].measure));
    vec![
        format!("{groups} groups, each against all others together, in {name}:"),
        format!("worse are {}, better are {};", named(false), named(true)),
        format!("{} cannot be told from the others.", groups - told.len()),
    ]
}
