//! What the screening shows on the page: groups, charts, starts past a limit.

use std::sync::Arc;

use maud::{Markup, html};

use crate::figure;
use crate::figure::ControlScale;
use crate::format::{percent, trimmed};
use crate::page::parts::{PageInput, name, shown};
use crate::page::starts::anchor;
use crate::score::StartRow;
use crate::study::{Alarm, Chart, Rule, ScreenGroup, Screening};
use crate::text::titled;
use crate::words;
use crate::words::screen::why;

/// Alarms listed at the most.
const ALARMS: usize = 40;

/// Charts drawn at the most, of the worst groups.
const CHARTS: usize = 12;

/// Groups, charts and alarms.
pub(super) fn screening(input: &PageInput) -> Option<Markup> {
    let found = input.screening?;
    Some(html! {
        p.answer { (name(&words::screen::verdict(found))) }
        @for text in words::screen::notes(found) { p.warn { (name(&text)) } }
        @if found.alarms.is_empty() { p { "No alarm." } } @else { (alarms(input, &found.alarms)) }
        @if found.groups.len() > 1 { (groups(found)) }
        @for chart in found.charts.iter().take(CHARTS) { (control(input, chart, &ControlScale::of(&found.charts, &chart.measure))) }
        @if found.charts.len() > CHARTS { p { "The charts of the " (CHARTS) " worst of " (found.charts.len()) " are shown." } }
    })
}

fn groups(found: &Screening) -> Markup {
    let level = 100.0 * found.level;
    let rate = |group: &ScreenGroup| match (group.rough_rate, group.rough_lo, group.rough_hi) {
        (Some(rate), Some(lo), Some(hi)) => {
            format!("{} ({} to {})", percent(rate), percent(lo), percent(hi))
        }
        _ => "–".to_owned(),
    };
    html! {
        div.scroll tabindex="0" role="region" aria-label="Groups, worst first" {
            table {
                caption { "By " (name(&found.by.join(" and "))) ", worst first. Rough counts those that did not light too; Clopper–Pearson interval, " (format!("{level:.0}")) " %." }
                thead { tr {
                    th scope="col" { "group" } th scope="col" { "verdict" } th.n scope="col" { "starts" } th.n scope="col" { "rough" }
                    th.n scope="col" { "rate" } th.n scope="col" { "no light" } th.n scope="col" { "doubtful" } th.n scope="col" { "set aside" } th scope="col" { "chart" }
                } }
                tbody { @for group in &found.groups { tr {
                    th scope="row" { (name(&group.id)) } td { @if group.pass { "pass" } @else { "not passed" } }
                    td.n { (group.starts) } td.n { (group.rough) } td.n { (rate(group)) } td.n { (group.no_light) }
                    td.n { (group.doubtful) } td.n { (group.set_aside) } td { (chart_word(group)) }
                } } }
            }
        }
    }
}

fn chart_word(group: &ScreenGroup) -> &'static str {
    match (group.charts_out, group.limit) {
        (0, Some(_)) => "in control",
        (0, None) => "too few starts",
        _ => "went out",
    }
}

/// Link to a start by the names it bears; its number in the page alone where it is not in it.
fn to_start(input: &PageInput, recording: &str, run: u32, start: u32) -> Markup {
    let same =
        |row: &StartRow| *row.recording == *recording && row.run == run && row.start == start;
    match input.rows.iter().position(same) {
        Some(k) => html! { a href={ "#" (anchor(k)) } { (k + 1) } },
        None => html! { "–" },
    }
}

/// Links to the starts of a chart that are out or did not light.
fn noted(input: &PageInput, chart: &Chart) -> Markup {
    let noted: Vec<_> = chart
        .points
        .iter()
        .filter(|point| point.out || !point.lit)
        .collect();
    html! {
        @if !noted.is_empty() {
            " Out or not lit: starts"
            @for point in noted.iter().take(ALARMS) { " " (to_start(input, &point.recording, point.run, point.start)) }
            "."
        }
    }
}

fn control(input: &PageInput, chart: &Chart, scale: &ControlScale) -> Markup {
    let (measure, id) = (titled(&chart.measure), name(&chart.id));
    let limit = chart.upper.or(chart.lower).map_or("–".to_owned(), trimmed);
    html! {
        @if chart.rule != Rule::Individuals {
            (shown(&figure::starts(chart, scale), true, html! {
                (measure) " of " (id) ": starts in order (rings), a cross where none lit; filled: the chart is out. Shaded: starts that the chart starts from."
                @let one_in = figure::one_in(chart.points.len());
                @if one_in > 1 { " One start in " (one_in) " is drawn." }
                (noted(input, chart))
            }))
        }
        (shown(&figure::control(chart, scale), true, html! {
            @match chart.rule {
                Rule::Individuals => { (measure) " of " (id) ": single starts and their limits (dashes) from " (chart.baseline) " starts." }
                Rule::Ewma => { (measure) " of " (id) ": moving average and its limits (dashes) from " (chart.baseline) " starts." }
                _ => { (measure) " of " (id) ": how much worse the starts rank than " (chart.baseline) " earlier ones, summed up. Past " (limit) " they are getting worse; one bad start alone does not reach it." }
            }
        }))
    }
}

fn alarms(input: &PageInput, alarms: &[Alarm]) -> Markup {
    let place = |alarm: &Alarm| alarm.at_s.map_or("–".to_owned(), |s| format!("{s:.2}"));
    let or_dash = |text: &Option<Arc<str>>| name(text.as_deref().unwrap_or("–"));
    html! {
        div.scroll tabindex="0" role="region" aria-label="Alarms" {
            table {
                caption { "Past a limit, worst first, one row a start" @if alarms.len() > ALARMS { " (the first " (ALARMS) " of " (alarms.len()) ")" } "." }
                thead { tr {
                    th.n scope="col" { "no." } th scope="col" { "group" } th scope="col" { "why" } th scope="col" { "recording" } th.n scope="col" { "start" }
                    th.n scope="col" { "at, s" } th scope="col" { "prep" } th scope="col" { "tip" } th scope="col" { "date" }
                } }
                tbody { @for alarm in alarms.iter().take(ALARMS) { tr {
                    th.n scope="row" { (to_start(input, &alarm.recording, alarm.run, alarm.start)) }
                    td { (name(&alarm.group)) } td { (name(&why(alarm))) } td { (name(&alarm.recording)) }
                    td.n { (alarm.start) } td.n { (place(alarm)) } td { (name(&alarm.prep)) }
                    td { (or_dash(&alarm.tip_id)) } td { (or_dash(&alarm.date)) }
                } } }
            }
        }
    }
}
