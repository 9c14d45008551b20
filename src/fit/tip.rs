//! Taper and tip against the current.

use crate::fit::current::{column, ranges};
use crate::fit::tables::{GRINDER_DEG, HABITS, Habit, TIP_SOURCE, TIPS, TipRow};
use crate::fit::{Case, Level, Remark, holds, range};
use crate::job::electrode::Oxide;
use crate::job::length::Length;
use crate::job::prep::{Prep, Tip};
use crate::job::run::Process;

/// A taper up to this is called a needle, degrees (this project's own line).
const NEEDLE_DEG: f64 = 25.0;
/// From this part of the range on a needle is at the top of it (this project's own line).
const TOP_OF_RANGE: f64 = 0.8;
/// A taper from this on is called blunt, degrees (this project's own line).
const BLUNT_DEG: f64 = 45.0;
/// A start under this current is a low-amp start, A (this project's own line).
const LOW_A: f64 = 30.0;

const PRACTICE: &str = "common practice";

/// The grind to set on the machine, and the length that it gives.
pub(super) fn grind_to_set(prep: &Prep) -> Option<Remark> {
    let (length, angle, diameter) = (prep.taper_length()?, prep.taper_deg?, prep.diameter?);
    let (low, high) = GRINDER_DEG;
    let reach = match holds(GRINDER_DEG, angle) {
        true => String::new(),
        false => format!(
            "; {angle}° lies outside the {low:.0}–{high:.0}° that adjustable grinders reach"
        ),
    };
    Some(Remark {
        level: Level::Note,
        about: "grind",
        what: format!(
            "an included angle of {angle}° on {diameter} makes a taper {length} long, {:.2} × the diameter{reach}",
            length.mm() / diameter.mm()
        ),
        why: "a taper measured with a rule tells whether the grinder's setting is the full angle or half of it"
            .to_owned(),
        source: format!(
            "geometry; {TIP_SOURCE}, asks 2–3 × the diameter; manual OM-880, p. 20, asks 2.5 × on DC electrode negative, 1.5 × on AC; grinders: {PRACTICE}"
        ),
        to_try: format!(
            "set the grinder to {angle}° full angle ({}° to the axis)",
            angle / 2.0
        ),
    })
}

/// A flat wider than half the electrode.
pub(super) fn flat_over_half(prep: &Prep) -> Option<Remark> {
    let (flat, diameter) = (prep.tip_flat?, prep.diameter?);
    (flat.mm() > diameter.mm() / 2.0).then(|| Remark {
        level: Level::Look,
        about: "tip",
        what: format!("the flat ({flat}) is over half of the diameter ({diameter})"),
        why: "the wider the flat, the harder the start and the likelier the arc wanders on it"
            .to_owned(),
        source: format!("{TIP_SOURCE}: flat ¼–½ × the diameter; a machine manual, p. 16"),
        to_try: format!("a flat of {}", usual_flat(diameter)),
    })
}

fn usual_flat(diameter: Length) -> String {
    format!("{:.1}–{:.1} mm", diameter.mm() / 4.0, diameter.mm() / 2.0)
}

fn is_needle(prep: &Prep) -> bool {
    let slim = prep.taper_deg.is_some_and(|angle| angle <= NEEDLE_DEG);
    let ended = match (prep.tip_flat, prep.diameter) {
        (Some(flat), Some(diameter)) => flat.mm() >= diameter.mm() / 4.0,
        _ => matches!(prep.tip, Some(Tip::Flat | Tip::Rounded | Tip::Balled)),
    };
    slim && !ended
}

/// A needle near the top of the range: its tip can go into the weld.
pub(super) fn needle_near_the_top(prep: &Prep, case: &Case) -> Option<Remark> {
    let (amps, size, angle) = (case.set_a?, prep.size_mm()?, prep.taper_deg?);
    let &(source, top) = ranges(prep, column(prep, case)).first()?;
    if case.process == Process::Ac || !is_needle(prep) || amps < TOP_OF_RANGE * top.1 {
        return None;
    }
    Some(Remark {
        level: Level::Change,
        about: "taper",
        what: format!(
            "a needle of {angle}° at {amps} A, near the top of the {} of {size} mm",
            range(top)
        ),
        why: "the thin end cannot carry the heat: it melts off and the tungsten goes into the weld"
            .to_owned(),
        source: format!(
            "{PRACTICE}; range by {source}; {TIP_SOURCE}, asks a flat of ¼–½ × the diameter"
        ),
        to_try: format!(
            "{BLUNT_DEG}° or more, with a flat of {}",
            usual_flat(prep.diameter?)
        ),
    })
}

/// A blunt tip asked for a low-amp start.
pub(super) fn blunt_for_low_amps(prep: &Prep, case: &Case) -> Option<Remark> {
    let amps = case.set_a.filter(|amps| *amps < LOW_A)?;
    if case.process != Process::Dc {
        return None;
    }
    let angle = prep.taper_deg.filter(|angle| *angle >= BLUNT_DEG);
    let tip = prep
        .tip
        .filter(|tip| matches!(tip, Tip::Rounded | Tip::Balled));
    let blunt = match (angle, tip) {
        (Some(angle), _) => format!("a blunt taper of {angle}°"),
        (None, Some(tip)) => format!("a {} tip", tip.name()),
        (None, None) => return None,
    };
    Some(Remark {
        level: Level::Look,
        about: "taper",
        what: format!("{blunt} is asked to start at {amps} A"),
        why: "so few amps heat a blunt tip too slowly: the arc starts late, off the tip, or not at all"
            .to_owned(),
        source: format!("{PRACTICE}; {TIP_SOURCE}, gives low currents to slim tapers"),
        to_try: "a needle of about 20°, ground fine and lengthwise, or a hotter start".to_owned(),
    })
}

/// The included angle against the current, by the tip table and by common practice.
pub(super) fn amps_for_taper(prep: &Prep, case: &Case) -> Option<Remark> {
    let (amps, size, angle) = (case.set_a?, prep.size_mm()?, prep.taper_deg?);
    if case.process != Process::Dc
        || needle_near_the_top(prep, case).is_some()
        || blunt_for_low_amps(prep, case).is_some()
    {
        return None;
    }
    let listed = TipRow::amps_at(size, angle).filter(|listed| !holds(*listed, amps))?;
    let over = amps > listed.1;
    let habit = Habit::of(size, angle, amps);
    let (level, practice) = match habit {
        Some(habit) => (Level::Note, format!("; {PRACTICE} takes {}", habit.what)),
        None => (Level::Look, String::new()),
    };
    Some(Remark {
        level,
        about: "taper",
        what: format!(
            "{angle}° on {size} mm stands for {} in the tip table, and {amps} A are set{practice}",
            range(listed)
        ),
        why: match over {
            true => "the slimmer the taper, the less current the end of it carries before it melts",
            false => "the blunter the taper, the more current it takes to heat the tip so that the arc stays on it",
        }
        .to_owned(),
        source: match habit {
            Some(_) => format!("{TIP_SOURCE}; {PRACTICE}, which differs"),
            None => TIP_SOURCE.to_owned(),
        },
        to_try: match habit {
            Some(_) => "keep it if the starts are good: let the recording decide".to_owned(),
            None => other_taper(size, amps),
        },
    })
}

/// What the tip table and common practice grind for these amps.
fn other_taper(size: f64, amps: f64) -> String {
    let row = TIPS
        .iter()
        .find(|row| row.mm == size && holds(row.amps, amps));
    let habit = HABITS.iter().find(|h| h.mm == size && holds(h.amps, amps));
    let mut ways = Vec::new();
    ways.extend(row.map(|row| format!("{}° with a flat of {} mm", row.angle_deg, row.flat_mm)));
    ways.extend(habit.map(|h| format!("{} ({PRACTICE})", h.what)));
    match ways.is_empty() {
        true => {
            "another diameter: the tip table has no taper of this one for these amps".to_owned()
        }
        false => ways.join(", or "),
    }
}

/// A ball or a round end on DC electrode negative.
pub(super) fn ball_on_dc(prep: &Prep, case: &Case) -> Option<Remark> {
    let tip = prep
        .tip
        .filter(|tip| matches!(tip, Tip::Rounded | Tip::Balled))?;
    (case.process == Process::Dc).then(|| Remark {
        level: Level::Change,
        about: "tip",
        what: format!("a {} tip on DC electrode negative", tip.name()),
        why: "the arc has no point to hold on to: it starts late and wanders over the round end"
            .to_owned(),
        source: PRACTICE.to_owned(),
        to_try: "cut the end off and grind a taper".to_owned(),
    })
}

/// A sharp point on AC.
pub(super) fn point_on_ac(prep: &Prep, case: &Case) -> Option<Remark> {
    if case.process != Process::Ac || prep.tip != Some(Tip::Point) {
        return None;
    }
    let pure = prep.class.is_some_and(|class| class.oxide == Oxide::None);
    Some(Remark {
        level: if pure { Level::Look } else { Level::Note },
        about: "tip",
        what: "a sharp point on AC".to_owned(),
        why: "the positive half-cycles melt the point off, so the first starts are not like the later ones"
            .to_owned(),
        source: PRACTICE.to_owned(),
        to_try: match pure {
            true => "round the end before the first run, as pure tungsten is used",
            false => "a small flat at the end, or a few starts on scrap that are not counted",
        }
        .to_owned(),
    })
}
