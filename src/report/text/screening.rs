//! A screening for the terminal: the answer, the worst starts, the groups, the recordings, wear.

use comfy_table::Cell;

use crate::format::{clock, counted, percent, short, short_or_dash, trimmed};
use crate::study::{Alarm, Flagged, RecordingLine, ScreenGroup, Screening};
use crate::text::tables::{empty, name, printed, right, wrapped};
use crate::text::{TermStyle, plain};
use crate::words::screen::{listed, notes, verdict, why};
use crate::words::wear;

/// More alarms, groups or recordings than this are counted, not listed: the JSON has them all.
const LISTED: usize = 20;

/// The answer, then what is past a limit, each group, each recording, wear, and what to know before
/// trusting it.
pub fn screening(found: &Screening, look: TermStyle) -> String {
    let mut parts = vec![verdict_line(found, look)];
    let mut part = |title: &str, text: String| {
        if !text.is_empty() {
            parts.push(format!("{}\n{text}", look.heading(title)));
        }
    };
    part("Past a limit, worst first", alarms(found, look));
    let by = format!("By {}, worst first", plain(&found.by.join(" and ")));
    part(&by, groups(&found.groups, look));
    part("Recordings", recordings(&found.recordings, look));
    part("Reasons to look", flags(found, look));
    let says = found.regrind.iter().map(wear::says);
    part(
        "Wear",
        says.map(|text| wrapped(&plain(&text), look)).collect(),
    );
    let left_out = found
        .not_read
        .iter()
        .map(|r| format!("Not read: {}: {}", plain(&r.recording), plain(&r.why)));
    let notes = notes(found).into_iter();
    let notes = notes.map(|text| format!("Note: {}", plain(&text)));
    parts.extend(left_out.chain(notes).map(|line| wrapped(&line, look)));
    parts.join("\n")
}

/// The verdict with the answer: all that a night's job needs to say.
pub fn verdict_line(found: &Screening, look: TermStyle) -> String {
    wrapped(&plain(&verdict(found)), look)
}

/// One entry a start, its recording's name whole: it is what somebody has to find.
fn alarms(found: &Screening, look: TermStyle) -> String {
    let several = found.groups.len() > 1;
    let entry = |alarm: &Alarm| {
        let at = alarm
            .at_s
            .map_or(String::new(), |at| format!(", {}", clock(at)));
        let prep = format!("prep {}", alarm.prep);
        let tip = alarm.tip_id.as_ref().map(|tip| format!("tip {tip}"));
        let group = (several && found.by != ["prep"]).then(|| alarm.group.clone());
        let about = group
            .into_iter()
            .chain([prep])
            .chain(tip)
            .chain(alarm.date.as_ref().map(|date| date.to_string()));
        let about: Vec<String> = about.collect();
        let text = format!(
            "{} start {} (run {}{at}; {}): {}",
            alarm.recording,
            alarm.start,
            alarm.run,
            about.join(", "),
            why(alarm)
        );
        wrapped(&plain(&text), look)
    };
    let shown: String = found.alarms.iter().take(LISTED).map(entry).collect();
    shown + &rest(found.past_limits(), "start")
}

/// "and 12 more starts", where a list is cut.
fn rest(all: usize, noun: &str) -> String {
    match all.saturating_sub(LISTED) {
        0 => String::new(),
        more => format!("and {} more\n", counted(more, noun)),
    }
}

/// The groups, where there are several.
fn groups(groups: &[ScreenGroup], look: TermStyle) -> String {
    if groups.len() < 2 {
        return String::new();
    }
    let head = [
        "group",
        "verdict",
        "starts",
        "rough",
        "rate",
        "interval",
        "no\nlight",
        "not\njudged",
        "chart\nlimit",
    ];
    let mut table = empty(look, &head, &[0, 1, 5]);
    for group in groups.iter().take(LISTED) {
        let interval = group.rough_lo.zip(group.rough_hi);
        let interval = interval.map(|(lo, hi)| format!("{} to {}", percent(lo), percent(hi)));
        let chart = match (group.charts_out, group.limit) {
            (0, limit) => limit.map_or("–".to_owned(), trimmed),
            _ => "out".to_owned(),
        };
        table.add_row(vec![
            name(&plain(&group.id)),
            Cell::new(if group.pass { "pass" } else { "not passed" }),
            right(group.starts.to_string()),
            right(group.rough.to_string()),
            right(group.rough_rate.map_or("–".to_owned(), percent)),
            Cell::new(interval.unwrap_or_default()),
            right(group.no_light.to_string()),
            right((group.doubtful + group.set_aside).to_string()),
            right(chart),
        ]);
    }
    printed(&table) + &rest(groups.len(), "group")
}

/// The flags that starts carry, in which groups, with what each means.
fn flags(found: &Screening, look: TermStyle) -> String {
    let line = |f: &Flagged| {
        let starts = counted(f.starts, "start");
        let of = match found.groups.len() > 1 && f.groups.len() < found.groups.len() {
            true => format!(" of {}", plain(&listed(&f.groups, "more"))),
            false => String::new(),
        };
        let (name, sentence) = (f.flag.name(), f.flag.sentence());
        wrapped(&format!("{name}, {starts}{of}: {sentence}"), look)
    };
    found.flags.iter().map(line).collect()
}

/// Every recording; of very many those with something in them.
fn recordings(lines: &[RecordingLine], look: TermStyle) -> String {
    let mut shown: Vec<&RecordingLine> = lines.iter().collect();
    if shown.len() > LISTED {
        shown.retain(|line| line.alarms + line.not_judged > 0 || line.starts == 0);
    }
    let head = [
        "recording",
        "prep",
        "starts",
        "rough",
        "no light",
        "not\njudged",
        "median\nscore",
        "worst",
        "alarms",
    ];
    let mut table = empty(look, &head, &[0, 1]);
    let rows = shown.iter().take(LISTED);
    for line in rows.clone() {
        table.add_row(vec![
            Cell::new(plain(&line.recording)),
            name(&line.prep),
            right(line.starts.to_string()),
            right(line.rough.to_string()),
            right(line.no_light.to_string()),
            right(line.not_judged.to_string()),
            right(line.score_median.map_or("–".into(), short)),
            right(short_or_dash(line.score_worst)),
            right(line.alarms.to_string()),
        ]);
    }
    let (listed, left) = (rows.len(), lines.len() - rows.len());
    let table = if listed > 0 {
        printed(&table)
    } else {
        String::new()
    };
    match left {
        0 => table,
        left => format!("{table}and {} more\n", counted(left, "recording")),
    }
}
