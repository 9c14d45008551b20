//! What the measured starts say, in sentences.

use crate::fit::remark::Remark;
use crate::fit::seen::{Cause, Seen};
use crate::fit::tables::{CLEANING_END_PCT, USUAL_EN_PCT};
use crate::fit::words::quantity::amps;
use crate::format::{short, trimmed};
use crate::job::tip_state::TipState;

/// The sentences of what was seen.
pub(in crate::fit) fn of_seen(seen: &Seen) -> Remark {
    Remark {
        what: what(seen),
        why: why(seen),
        source: source(seen).to_owned(),
        to_try: to_try(seen),
    }
}

fn what(seen: &Seen) -> String {
    match seen {
        Seen::Process { ac, written } => {
            format!(
                "{} was measured, {written} is written down",
                if *ac { "AC" } else { "DC" }
            )
        }
        Seen::Balance {
            measured_pct,
            set_pct,
        } => {
            let against = set_pct.map_or(String::new(), |set| {
                format!(", {} % written down", trimmed(set))
            });
            format!("{measured_pct:.0} % electrode negative was measured{against}")
        }
        Seen::Amps { ran_a, set_a, .. } => {
            format!("it ran at {ran_a:.0} A, {} were set", amps(*set_a))
        }
        Seen::LitAmps { lit_a, set_a } => {
            format!("it lit at {lit_a:.0} A, {} were set", amps(*set_a))
        }
        Seen::Slope { rise_ms, upslope_s } => slope(*rise_ms, *upslope_s),
        Seen::Method { written, touch_ms } => method(written.name(), *touch_ms),
        Seen::Late {
            starts,
            of,
            delay_ms,
            ..
        } => format!(
            "{starts} of {of} starts were late: they waited about {} ms for the first current",
            short(*delay_ms)
        ),
        Seen::Retries { starts, of, .. } => {
            format!("{starts} of {of} starts took more than one attempt")
        }
        Seen::Wander {
            starts,
            of,
            drift_v,
            ..
        } => {
            let walked = drift_v.map_or(String::new(), |slope| {
                format!(", and walked away at {} V/s", short(slope.abs()))
            });
            format!("the arc voltage of {starts} of {of} starts wandered{walked}")
        }
        Seen::Dropouts { starts, of, .. } => {
            format!("{starts} of {of} starts went out for a moment after they lit")
        }
        Seen::Overshoot {
            starts,
            of,
            overshoot_pct,
            ..
        } => format!(
            "the current of {starts} of {of} starts shot past its level, by about {} %",
            short(*overshoot_pct)
        ),
        Seen::Tip {
            text,
            before,
            later,
            gone_off,
            ..
        } => {
            let starts = if *gone_off { "went off" } else { "held" };
            format!(
                "tip after the run: \"{text}\"; the starts {starts}: median score {before:.0}, then {later:.0}"
            )
        }
    }
}

fn slope(rise_ms: f64, upslope_s: f64) -> String {
    let rise = short(rise_ms);
    if upslope_s > 0.0 {
        let upslope = trimmed(upslope_s);
        format!("the current rose within {rise} ms, an up-slope of {upslope} s is written down")
    } else {
        format!("the current took {rise} ms to rise, no up-slope is written down")
    }
}

fn method(written: &str, touch_ms: f64) -> String {
    if touch_ms > 0.0 {
        let touch = short(touch_ms);
        format!("the tip touched for about {touch} ms before the arc, {written} is written down")
    } else {
        format!("the arc lit without a touch, {written} is written down")
    }
}

fn why(seen: &Seen) -> String {
    match seen {
        Seen::Process { .. } => "targets and tables for the one do not fit the other".to_owned(),
        Seen::Balance { measured_pct, .. } => match *measured_pct < CLEANING_END_PCT {
            true => "this is the cleaning end: usually left there after a tip was balled, it overheats the tip and spoils it for the next starts",
            false => "the run was not welded as written down, or the machine shows the cleaning side",
        }
        .to_owned(),
        Seen::LitAmps { lit_a, set_a } => match lit_a > set_a {
            true => "a hot start lights well and can burn a thin edge or the tip",
            false => "fewer amps heat the tip more slowly: part of the start time is the machine's, not the prep's",
        }
        .to_owned(),
        Seen::Slope { .. } => "settling is judged by the slope that is written down".to_owned(),
        Seen::Method { .. } => "a touch leaves metal on the tip, so starts with and without one are not alike".to_owned(),
        Seen::Tip { gone_off, state, .. } => match (gone_off, state) {
            (true, Some(TipState::Sound)) => "the figures see it before the eye does",
            (true, _) => "eye and recording tell the same story: this tip is worn",
            (false, _) => "the eye sees wear that the starts do not show yet",
        }
        .to_owned(),
        Seen::Amps { causes, .. }
        | Seen::Late { causes, .. }
        | Seen::Retries { causes, .. }
        | Seen::Wander { causes, .. }
        | Seen::Dropouts { causes, .. }
        | Seen::Overshoot { causes, .. } => {
            let words: Vec<&str> = causes.iter().map(|cause| cause.words()).collect();
            format!("possible causes, the likeliest first: {}", words.join("; "))
        }
    }
}

fn source(seen: &Seen) -> &'static str {
    match seen {
        Seen::Balance { .. } => "measured; 68–70 % is common practice, no source",
        Seen::LitAmps { .. } => "measured: mean of the first 20 ms",
        Seen::Tip { .. } => "measured: first half of the run against the second",
        Seen::Process { .. } | Seen::Slope { .. } | Seen::Method { .. } => "measured",
        _ => "measured; the causes and their order are common practice, no source",
    }
}

fn to_try(seen: &Seen) -> String {
    let (low, high) = USUAL_EN_PCT;
    match seen {
        Seen::Process { .. } => {
            "correct the process in the run sheet, or look at the machine's switch".to_owned()
        }
        Seen::Balance { .. } => format!(
            "set the balance to {low:.0}–{high:.0} % electrode negative, grind the tip anew, and strike the run again"
        ),
        Seen::LitAmps { .. } => {
            "compare preps only at the same start settings; write an up-slope into the sheet"
                .to_owned()
        }
        Seen::Slope { .. } => {
            "write the slope that was set into upslope_s, and 0 where there was none".to_owned()
        }
        Seen::Method { .. } => {
            "correct start_method in the run sheet; where a touch was not meant, widen the gap"
                .to_owned()
        }
        Seen::Tip { gone_off: true, .. } => "grind before a run as long as this one".to_owned(),
        Seen::Tip { .. } => "strike on with it, and grind when the starts go off".to_owned(),
        Seen::Amps { causes, .. }
        | Seen::Late { causes, .. }
        | Seen::Retries { causes, .. }
        | Seen::Wander { causes, .. }
        | Seen::Dropouts { causes, .. }
        | Seen::Overshoot { causes, .. } => {
            causes.first().map_or(String::new(), |cause: &Cause| {
                format!("first: {}", cause.first())
            })
        }
    }
}
