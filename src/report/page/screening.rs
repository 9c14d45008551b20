//! What the screening shows on the page: groups, charts, starts past a limit.

use maud::{Markup, html};

use crate::format::{percent, trimmed};
use crate::report::figure;
use crate::report::page::parts::{PageInput, name, shown};
use crate::report::text::titled;
use crate::report::words::screen::why;
use crate::study::{Alarm, Chart, Rule, ScreenGroup, Screening};

/// Alarms listed at the most.
const ALARMS: usize = 40;

/// Charts drawn at the most, of the worst groups.
const CHARTS: usize = 12;

/// Groups, charts and alarms.
pub(super) fn screening(input: &PageInput) -> Option<Markup> {
    let found = input.screening?;
    let verdict = if found.pass {
        "Pass: everything is within limits."
    } else {
        "Not passed: something is past its limit or cannot be judged."
    };
    Some(html! {
        p { strong { (verdict) } }
        @if found.groups.len() > 1 { (groups(found)) }
        @for chart in found.charts.iter().take(CHARTS) { (control(chart)) }
        @if found.charts.len() > CHARTS { p { "The charts of the " (CHARTS) " worst of " (found.charts.len()) " are shown." } }
        @if found.alarms.is_empty() { p { "No alarm." } } @else { (alarms(&found.alarms)) }
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

fn control(chart: &Chart) -> Markup {
    let (measure, id) = (titled(&chart.measure), name(&chart.id));
    let limit = chart.upper.or(chart.lower).map_or("–".to_owned(), trimmed);
    html! {
        @if chart.rule != Rule::Individuals {
            (shown(&figure::starts(chart), true, html! {
                (measure) " of " (id) ": starts in order (rings), a cross where none lit; filled: the chart is out. Shaded: starts that the chart starts from."
            }))
        }
        (shown(&figure::control(chart), true, html! {
            @match chart.rule {
                Rule::Individuals => { (measure) " of " (id) ": single starts and their limits (dashes) from " (chart.baseline) " starts." }
                Rule::Ewma => { (measure) " of " (id) ": moving average and its limits (dashes) from " (chart.baseline) " starts." }
                _ => { (measure) " of " (id) ": how much worse the starts rank than " (chart.baseline) " earlier ones, summed up. Past " (limit) " they are getting worse; one bad start alone does not reach it." }
            }
        }))
    }
}

fn alarms(alarms: &[Alarm]) -> Markup {
    let place = |alarm: &Alarm| alarm.at_s.map_or("–".to_owned(), |s| format!("{s:.2}"));
    let or_dash = |text: &Option<String>| name(text.as_deref().unwrap_or("–"));
    html! {
        div.scroll tabindex="0" role="region" aria-label="Alarms" {
            table {
                caption { "Past a limit, worst first" @if alarms.len() > ALARMS { " (the first " (ALARMS) " of " (alarms.len()) ")" } "." }
                thead { tr {
                    th scope="col" { "recording" } th.n scope="col" { "start" } th.n scope="col" { "at, s" } th scope="col" { "group" }
                    th scope="col" { "prep" } th scope="col" { "tip" } th scope="col" { "date" } th scope="col" { "why" }
                } }
                tbody { @for alarm in alarms.iter().take(ALARMS) { tr {
                    th scope="row" { (name(&alarm.recording)) }
                    td.n { (alarm.start) } td.n { (place(alarm)) } td { (name(&alarm.group)) } td { (name(&alarm.prep)) }
                    td { (or_dash(&alarm.tip_id)) } td { (or_dash(&alarm.date)) } td { (name(&why(alarm))) }
                } } }
            }
        }
    }
}
