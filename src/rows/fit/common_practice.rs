//! Class, grind marks, start method, the tip as it was seen: the craft around the numbers.

use crate::fit::case::Case;
use crate::fit::concern::Concern;
use crate::job::electrode::{Class, Oxide};
use crate::job::prep::Marks;
use crate::job::run::StartMethod;
use crate::job::tip_state::TipState;

/// A grit number under this is coarse (this project's own line).
const COARSE_GRIT: f64 = 120.0;

fn class_with(case: &Case, oxide: Oxide) -> Option<&'static Class> {
    case.prep.class.filter(|class| class.oxide == oxide)
}

/// Thoriated tungsten: the dust.
pub(super) fn thorium(case: &Case) -> Option<Concern> {
    class_with(case, Oxide::Thorium).map(|class| Concern::Thorium { class })
}

/// EWG says nothing about what is in it.
pub(super) fn unspecified(case: &Case) -> Option<Concern> {
    class_with(case, Oxide::Unspecified).map(|class| Concern::UnspecifiedClass { class })
}

/// Class against DC and AC.
pub(super) fn class_for_process(case: &Case) -> Option<Concern> {
    let class = case.prep.class?;
    match class.oxide {
        Oxide::Zirconium if !case.on_ac() => Some(Concern::ZirconiumOnDc { class }),
        Oxide::None if case.on_dc() => Some(Concern::PureOnDc { class }),
        Oxide::None if case.on_inverter() => Some(Concern::PureOnInverter { class }),
        Oxide::Thorium if case.on_ac() => Some(Concern::ThoriumOnAc { class }),
        _ => None,
    }
}

/// Crosswise or coarse grind marks.
pub(super) fn marks(case: &Case) -> Option<Concern> {
    let prep = case.prep;
    let wheel = prep.wheel.as_deref().unwrap_or("");
    let words = wheel.to_lowercase();
    let coarse = words.contains("coarse")
        || words.contains("rough")
        || prep.grit().is_some_and(|grit| grit < COARSE_GRIT);
    match (prep.marks, coarse) {
        (Some(Marks::Crosswise), _) => Some(Concern::Crosswise),
        (Some(Marks::Polished), _) | (_, false) => None,
        (_, true) => Some(Concern::CoarseWheel {
            wheel: wheel.to_owned(),
        }),
    }
}

/// The way the arc is struck, against class and process.
pub(super) fn start_method(case: &Case) -> Option<Concern> {
    match case.run.start_method? {
        StartMethod::Scratch => Some(Concern::Scratch),
        StartMethod::Lift if case.on_ac() => Some(Concern::LiftOnAc),
        StartMethod::Lift if case.is(Oxide::None) => Some(Concern::LiftPure),
        _ => None,
    }
}

/// The tip as the welder saw it after the run, unless it was sound.
pub(super) fn tip_seen(case: &Case) -> Option<Concern> {
    let state = TipState::parse(case.run.tip_after.as_deref()?)?;
    // On AC a round end is what pure tungsten is used with.
    let usual = case.on_ac() && case.is(Oxide::None) && state == TipState::Melted;
    (state != TipState::Sound && !usual).then(|| Concern::TipSeen {
        state,
        amps: case.run.set_a,
        ac: case.on_ac(),
    })
}

/// What the job file does not say of the prep.
pub(super) fn not_written(case: &Case) -> Option<Concern> {
    let prep = case.prep;
    // A round end or a ball has no taper that matters.
    let round = case.rounded().is_some();
    let keys: Vec<&'static str> = [
        ("class", prep.class.is_none()),
        ("diameter", prep.diameter.is_none()),
        ("taper_deg", prep.taper_deg.is_none() && !round),
        ("tip", prep.tip.is_none()),
        ("marks", prep.marks.is_none() && !round),
    ]
    .into_iter()
    .filter_map(|(key, empty)| empty.then_some(key))
    .collect();
    (!keys.is_empty()).then_some(Concern::NotWritten { keys })
}
