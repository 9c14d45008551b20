//! A session at the bench, in the words of the bench: what to strike next, how it was, where it stands.

use crate::format::{clock, counted, trimmed};
use crate::job::{Job, Prep};
use crate::measuring::session::{Did, Next};
use crate::score::{StartRow, Verdict};
use crate::study::{PairVerdict, Standing, WhileStriking};
use crate::words::sequential;

/// What to strike, in as few letters as can be read from afar: tip (or prep), coupon, amps.
pub fn in_large(next: &Next) -> String {
    let run = next.run;
    let tip = run.tip_id.as_ref().unwrap_or(&run.prep);
    let amps = run.set_a.map(|amps| format!("{} A", trimmed(amps)));
    let all = [Some(tip.clone()), run.coupon.clone(), amps];
    all.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// The same in a line: "prep A, tip A3, coupon L1, 80 A, start 2 of 4".
pub fn next(next: &Next) -> String {
    let Next {
        run, number, of, ..
    } = next;
    let amps = match (run.set_a, run.process) {
        (Some(amps), process) => Some(format!(
            "{} A{}",
            trimmed(amps),
            process.map_or(String::new(), |p| format!(" {}", p.name()))
        )),
        (None, process) => process.map(|p| p.name().to_owned()),
    };
    let parts = [
        Some(format!("prep {}", run.prep)),
        run.tip_id.as_ref().map(|tip| format!("tip {tip}")),
        run.coupon.as_ref().map(|coupon| format!("coupon {coupon}")),
        amps,
        Some(format!("start {number} of {of}")),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    parts.join(", ")
}

/// How to grind before the next start, where the sheet asks for a fresh tip.
pub fn grind(next: &Next, job: &Job) -> Option<String> {
    let what = shape(job.prep_of(next.run));
    let as_ground = match what.is_empty() {
        true => String::new(),
        false => format!(" ({what})"),
    };
    let tip = next.run.tip_id.as_ref();
    let name = tip.map_or(String::new(), |tip| format!(": it is tip {tip}"));
    next.grind
        .then(|| format!("Grind {} anew first{as_ground}{name}", next.run.prep))
}

fn shape(prep: &Prep) -> String {
    let parts = [
        prep.diameter.map(|length| length.to_string()),
        prep.taper_deg.map(|deg| format!("{}°", trimmed(deg))),
        prep.tip.map(|tip| tip.name().to_owned()),
        prep.tip_flat.map(|flat| format!("flat {flat}")),
        prep.marks.map(|marks| marks.name().to_owned()),
        prep.wheel.clone(),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// How the last start was, in as few letters as can be read from afar.
pub fn verdict(row: &StartRow) -> String {
    match (&row.exclude, row.verdict, row.score) {
        (Some(_), ..) => "set aside".to_owned(),
        (None, Some(Verdict::Doubtful), _) => "doubtful".to_owned(),
        (None, Some(verdict), Some(score)) => format!("{} {score:.0}", verdict.word()),
        (None, Some(verdict), None) => verdict.word().to_owned(),
        (None, None, _) => "not scored".to_owned(),
    }
}

/// Which start it was, and what was measured.
pub fn start(row: &StartRow, number: usize) -> String {
    let m = &row.measures;
    let whole = |value: Option<f64>, noun: &str| value.map(|n| counted(n as usize, noun));
    let parts = [
        m.start_ms().map(|ms| format!("start time {ms:.0} ms")),
        whole(m.attempts(), "attempt"),
        whole(m.dropouts(), "dropout"),
        m.lit_a().map(|amps| format!("lit at {amps:.0} A")),
        m.wander_v().map(|volts| format!("wander {volts:.2} V")),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    let mut says = format!(
        "Start {number}{}, run {}{}: {}.",
        row.began_s()
            .map_or(String::new(), |at| format!(" at {}", clock(at))),
        row.run,
        row.tip_id
            .as_ref()
            .map_or(String::new(), |tip| format!(", tip {tip}")),
        match parts.is_empty() {
            true => "nothing could be measured".to_owned(),
            false => parts.join(", "),
        }
    );
    if let Some(reason) = &row.exclude {
        says += &format!(" Set aside: {reason}.");
    }
    if let Some(doubt) = &row.doubt {
        says += &format!(" Doubtful: {doubt}.");
    }
    says
}

/// "A 9, B 8 of 12": how much is struck.
pub fn counts(standing: &Standing) -> String {
    let preps = &standing.preps;
    let same = preps.windows(2).all(|two| two[0].of == two[1].of);
    let each = preps.iter().enumerate().map(|(k, prep)| {
        let of = match !same || k + 1 == preps.len() {
            true => format!(" of {}", prep.of),
            false => String::new(),
        };
        format!("{} {}{of}", prep.prep, prep.struck)
    });
    let mut says = each.collect::<Vec<_>>().join(", ");
    if standing.set_aside > 0 {
        says += &format!("; {} set aside", standing.set_aside);
    }
    if standing.doubtful > 0 {
        says += &format!("; {} doubtful, in no answer", standing.doubtful);
    }
    says
}

/// Where the session stands: how much is struck, and whether that is enough.
pub fn stands(standing: &Standing) -> String {
    let mut says = vec![format!("{}.", counts(standing))];
    let several = standing.pairs.len() > 1;
    says.extend(standing.pairs.iter().map(|pair| enough(pair, several)));
    match (standing.is_enough(), standing.is_done()) {
        (true, _) => {}
        (false, true) if standing.pairs.is_empty() => says.push("All is struck.".to_owned()),
        (false, true) => says.push(
            "All is struck: compare gives the answer of the number that was planned.".to_owned(),
        ),
        (false, false) => {}
    }
    says.join(" ")
}

/// Whether a pair is settled, by the sequential comparison that looking does not spoil.
fn enough(pair: &WhileStriking, named: bool) -> String {
    if pair.verdict != PairVerdict::NotEnough {
        return format!("Enough: {}", sequential::says(pair));
    }
    let of = match named {
        true => format!(" for {} and {}", pair.a, pair.b),
        false => String::new(),
    };
    match pair.more_tips {
        _ if pair.tips_a.min(pair.tips_b) < 2 => {
            format!("Not enough yet{of}: one tip of a grind does not tell how its tips differ.")
        }
        Some(0) => format!("Not enough yet{of}: scores and rough starts contradict each other."),
        Some(more) => format!(
            "Not enough yet{of}: about {} more of each, if it goes on like this.",
            counted(more, "tip")
        ),
        None => format!("Not enough yet{of}: no difference that more tips would soon settle."),
    }
}

/// What a key did; nothing where the start or the sheet itself shows it.
pub fn did(did: &Did) -> Option<String> {
    Some(match did {
        Did::Heard | Did::Known => return None,
        Did::SetAside => "The last start is set aside as fumbled: strike it again.".to_owned(),
        Did::NothingToSetAside => {
            "There is no start to set aside, or the last one is set aside already.".to_owned()
        }
        Did::Reground(tip) => format!("The tip is ground anew: it is tip {tip} now."),
        Did::FreshAnyway => "The next tip is a fresh one anyway: nothing to mark.".to_owned(),
        Did::CountsAgain => "Taken back: that start counts again.".to_owned(),
        Did::NotReground => "Taken back: the tip was not ground anew.".to_owned(),
        Did::NothingToUndo => "There is no mark of this session to take back.".to_owned(),
        Did::StillReading => {
            "The starts before are still being read: try again in a moment.".to_owned()
        }
    })
}

/// What stands in the sheet already, when a session goes on.
pub fn goes_on(known: usize) -> String {
    format!(
        "{} of this recording in the sheet already: going on from there.",
        counted(known, "start")
    )
}
