//! Class, grind marks, balance, start method, stick-out: the craft around the numbers.

use crate::fit::tables::{COMPOSITE, TIP_SOURCE, USUAL_EN_PCT};
use crate::fit::{Case, Level, Remark};
use crate::job::electrode::Oxide;
use crate::job::prep::{Marks, Prep, Tip};
use crate::job::run::{Process, StartMethod};

const PRACTICE: &str = "common practice";

/// Under this share of electrode negative the balance stands at the cleaning end, percent.
///
/// This project's own line: well under the 65 % that a machine manual sets from the works.
pub const CLEANING_END_PCT: f64 = 60.0;

/// Over this share little cleaning is left, percent (this project's own line).
const LITTLE_CLEANING_PCT: f64 = 80.0;

/// A grit number under this is coarse (this project's own line).
const COARSE_GRIT: f64 = 120.0;

/// Thoriated tungsten: the dust, and what stands in for it.
pub(super) fn thorium(prep: &Prep) -> Option<Remark> {
    let class = prep.class.filter(|class| class.oxide == Oxide::Thorium)?;
    Some(Remark {
        level: Level::Look,
        about: "thorium",
        what: format!("{} holds thorium, which is radioactive", class.both_names()),
        why: "the grinding dust must not be breathed in or swallowed; the welding itself adds little"
            .to_owned(),
        source: "AWS Safety and Health Fact Sheet 27".to_owned(),
        to_try: "WLa20, WLa15 or WCe20 in its place; else extract at the wheel, never sweep dry or blow off, keep the dust closed and dispose of it as the local rules say"
            .to_owned(),
    })
}

/// EWG says nothing about what is in it.
pub(super) fn unspecified_class(prep: &Prep) -> Option<Remark> {
    let class = prep
        .class
        .filter(|class| class.oxide == Oxide::Unspecified)?;
    Some(Remark {
        level: Level::Note,
        about: "class",
        what: format!("{} leaves the oxide to its maker", class.name()),
        why: "no table lists it, so it is judged as tungsten with oxide".to_owned(),
        source: "AWS A5.12 (SFA-5.12, 3.3: what meets another class may not be sold as EWG)"
            .to_owned(),
        to_try: "read the current range on the packet".to_owned(),
    })
}

/// Crosswise or coarse grind marks.
pub(super) fn marks(prep: &Prep) -> Option<Remark> {
    let wheel = prep.wheel.as_deref().unwrap_or("").to_lowercase();
    let coarse = wheel.contains("coarse")
        || wheel.contains("rough")
        || prep.grit().is_some_and(|grit| grit < COARSE_GRIT);
    match (prep.marks, coarse) {
        (Some(Marks::Crosswise), _) => Some(Remark {
            level: Level::Change,
            about: "marks",
            what: "the grind marks run crosswise".to_owned(),
            why: "the arc can start on a ridge behind the tip and wander along it; lengthwise marks start better even when they are rough"
                .to_owned(),
            source: format!("{TIP_SOURCE}: grind along, never around; {PRACTICE}"),
            to_try: "grind with the electrode pointing along the wheel's motion".to_owned(),
        }),
        (Some(Marks::Polished), _) | (_, false) => None,
        (_, true) => Some(Remark {
            level: Level::Note,
            about: "marks",
            what: format!("a coarse wheel ({wheel})"),
            why: "deep marks wear faster and can hold dirt; lengthwise ones still start better than any crosswise"
                .to_owned(),
            source: PRACTICE.to_owned(),
            to_try: "finish on a fine wheel, lengthwise".to_owned(),
        }),
    }
}

/// What the job file does not say of the prep.
pub(super) fn not_written_down(prep: &Prep) -> Option<Remark> {
    // A round end or a ball has no taper that matters.
    let round = matches!(prep.tip, Some(Tip::Rounded | Tip::Balled));
    let empty: Vec<&str> = [
        ("class", prep.class.is_none()),
        ("diameter", prep.diameter.is_none()),
        ("taper_deg", prep.taper_deg.is_none() && !round),
        ("tip", prep.tip.is_none()),
        ("marks", prep.marks.is_none()),
    ]
    .into_iter()
    .filter_map(|(key, empty)| empty.then_some(key))
    .collect();
    (!empty.is_empty()).then(|| Remark {
        level: Level::Note,
        about: "sheet",
        what: format!("not written down: {}", empty.join(", ")),
        why: "what is not written down is not checked here, and nobody can grind it again"
            .to_owned(),
        source: "docs/job.md".to_owned(),
        to_try: "add it to the job file".to_owned(),
    })
}

/// A prep that no run uses.
pub(super) fn no_runs() -> Remark {
    Remark {
        level: Level::Note,
        about: "sheet",
        what: "no row of the run sheet uses this prep".to_owned(),
        why: "current, balance and start method stand in the sheet, so they were not checked"
            .to_owned(),
        source: "docs/job.md".to_owned(),
        to_try: "add its runs, or take the prep out".to_owned(),
    }
}

/// Class against DC and AC.
pub(super) fn class_for_process(prep: &Prep, case: &Case) -> Option<Remark> {
    let class = prep.class?;
    let on_dc = case.process != Process::Ac;
    let remark = |level, why: &str, source: String| Remark {
        level,
        about: "class",
        what: format!("{} on DC", class.both_names()),
        why: why.to_owned(),
        source,
        to_try: "WLa20, WLa15 or WCe20".to_owned(),
    };
    match class.oxide {
        Oxide::Zirconium if on_dc => Some(remark(
            Level::Change,
            "zirconium is for AC: it is not recommended on DC in any size",
            COMPOSITE.source.to_owned(),
        )),
        Oxide::None if on_dc => Some(remark(
            Level::Look,
            "pure tungsten emits poorly: it starts harder and wears faster than any with oxide",
            PRACTICE.to_owned(),
        )),
        _ => None,
    }
}

/// The electrode-negative share to set on AC.
pub(super) fn balance(_: &Prep, case: &Case) -> Option<Remark> {
    if case.process != Process::Ac {
        return None;
    }
    let (low, high) = USUAL_EN_PCT;
    let (level, what, why) = match case.set_en_pct {
        None => (
            Level::Note,
            "set_en_pct is empty".to_owned(),
            "the share measured cannot be held against the share set",
        ),
        Some(pct) if pct < CLEANING_END_PCT => (
            Level::Look,
            format!("{pct} % electrode negative is the cleaning end of the balance"),
            "more positive heats the tip until it rounds or melts; the balance is often left there after a tip was rounded on purpose",
        ),
        Some(pct) if pct > LITTLE_CLEANING_PCT => (
            Level::Note,
            format!("{pct} % electrode negative leaves little cleaning"),
            "oxide that is not cleaned off makes the arc restart poorly and the pool dirty",
        ),
        Some(_) => return None,
    };
    Some(Remark {
        level,
        about: "balance",
        what,
        why: why.to_owned(),
        source: format!(
            "{PRACTICE} runs about {low:.0}–{high:.0} % electrode negative; manual 2448104, p. 31, starts at 65 %"
        ),
        to_try: format!(
            "set {low:.0}–{high:.0} % electrode negative and write it down; mind whether the machine shows the negative or the cleaning side"
        ),
    })
}

/// The way the arc is struck, against class and process.
pub(super) fn start_method(prep: &Prep, case: &Case) -> Option<Remark> {
    let pure = prep.class.is_some_and(|class| class.oxide == Oxide::None);
    let (level, what, why) = match (case.start_method?, case.process) {
        (StartMethod::Scratch, _) => (
            Level::Look,
            "scratch start",
            "the tip touches at full current: it picks up metal, and leaves tungsten in the work",
        ),
        (StartMethod::Lift, Process::Ac) => (
            Level::Look,
            "lift start on AC",
            "many machines lift on DC only; on AC the tip sticks or does not light",
        ),
        (StartMethod::Lift, _) if pure => (
            Level::Look,
            "lift start with pure tungsten",
            "pure tungsten emits poorly while it is cold, so it is touched longer and picks up more",
        ),
        _ => return None,
    };
    Some(Remark {
        level,
        about: "start method",
        what: what.to_owned(),
        why: why.to_owned(),
        source: PRACTICE.to_owned(),
        to_try: "high-frequency start where the place allows it (it disturbs electronics nearby); else lift, with an oxide class, on DC".to_owned(),
    })
}

/// How far the electrode stands out of the cup.
pub(super) fn stickout(prep: &Prep, case: &Case) -> Option<Remark> {
    let (out, diameter) = (case.stickout?, prep.diameter?);
    let times = out.mm() / diameter.mm();
    if times <= 3.0 {
        return None;
    }
    Some(Remark {
        level: if times > 6.0 {
            Level::Change
        } else {
            Level::Note
        },
        about: "stick-out",
        what: format!("the electrode stands out {out}, {times:.1} × its diameter"),
        why: "past the shield of gas the tip oxidises, and an oxidised tip starts badly".to_owned(),
        source: format!(
            "{TIP_SOURCE}: 3 × the diameter, at most 6 × with a gas lens out of draughts"
        ),
        to_try: "shorten it, or fit a gas lens".to_owned(),
    })
}
