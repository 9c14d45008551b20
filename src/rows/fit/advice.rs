//! What to try against a finding: candidates, each carried out and judged by the same rules before it is suggested.

use crate::fit::case::Case;
use crate::fit::concern::Concern;
use crate::fit::edit::Edit;
use crate::fit::gas::usual_flow;
use crate::fit::judge::judge;
use crate::fit::range::top_of;
use crate::fit::tables::{FLAT, HELIUM_PART, STICKOUT};
use crate::job::electrode::{Class, SIZES_MM};
use crate::job::prep::Prep;
use crate::job::run::{Process, Run, StartMethod};

/// At most this many ways out are suggested.
const WAYS: usize = 2;
/// As many further changes may mend what the first one spoils.
const MENDS: usize = 2;
/// As many ways to mend are tried.
const MENDS_TRIED: usize = 3;

/// A row with everything found of it before anything is changed.
pub(super) struct Before<'a> {
    /// The row.
    pub run: &'a Run,
    /// What was found.
    pub concerns: Vec<Concern>,
}

/// Ways out of a concern, the best first; each list is to be carried out whole.
///
/// A way out is suggested only where it removes the concern for every row and raises none that asks for as
/// much or more.
pub(super) fn advise(concern: &Concern, prep: &Prep, rows: &[&Before]) -> Vec<Vec<Edit>> {
    let Some(first) = rows.first() else {
        return Vec::new();
    };
    let mut ways: Vec<Vec<Edit>> = Vec::new();
    for edit in candidates(concern, &Case::new(prep, first.run)) {
        let Some(way) = mended(vec![edit], concern, prep, first, MENDS) else {
            continue;
        };
        let others = rows.iter().skip(1);
        let holds = others
            .map(|row| carried_out(&way, prep, row.run))
            .zip(&rows[1..]);
        let holds = holds
            .map(|((prep, run), row)| spoilt(concern, row, &prep, &run))
            .all(|spoilt| spoilt == Some(None));
        if holds && !ways.contains(&way) {
            ways.push(way);
        }
        if ways.len() == WAYS {
            break;
        }
    }
    ways
}

/// The way with what it takes to mend what it spoils; `None` where that cannot be done.
fn mended(
    way: Vec<Edit>,
    concern: &Concern,
    prep: &Prep,
    row: &Before,
    mends: usize,
) -> Option<Vec<Edit>> {
    let (new_prep, new_run) = carried_out(&way, prep, row.run);
    let spoilt = match spoilt(concern, row, &new_prep, &new_run)? {
        None => return Some(way),
        Some(spoilt) => spoilt,
    };
    if mends == 0 {
        return None;
    }
    let edits = candidates(&spoilt, &Case::new(&new_prep, &new_run));
    edits.into_iter().take(MENDS_TRIED).find_map(|edit| {
        let longer = [way.as_slice(), &[edit]].concat();
        mended(longer, concern, prep, row, mends - 1)
    })
}

fn carried_out(way: &[Edit], prep: &Prep, run: &Run) -> (Prep, Run) {
    let (mut prep, mut run) = (prep.clone(), run.clone());
    way.iter().for_each(|edit| edit.apply(&mut prep, &mut run));
    (prep, run)
}

/// `None`: the concern stays. Else the first new concern that asks for as much, if any.
fn spoilt(concern: &Concern, before: &Before, prep: &Prep, run: &Run) -> Option<Option<Concern>> {
    let after = judge(prep, run);
    if after.iter().any(|c| c.same_kind(concern)) {
        return None;
    }
    let known = |c: &Concern| {
        let mut before = before.concerns.iter();
        before.any(|b| b.same_kind(c) && b.level() <= c.level())
    };
    let new = |c: &Concern| c.level() <= concern.level() && !known(c);
    Some(after.into_iter().find(new))
}

fn class(name: &str) -> Edit {
    Edit::Class(Class::parse(name).expect("a class of the list"))
}

/// What a foreman would try, in his order.
fn candidates(concern: &Concern, case: &Case) -> Vec<Edit> {
    use Concern::*;
    match concern {
        OverRange { .. } | NoRange { .. } => over_range(case),
        UnderRange { .. } => thinner(case),
        Positive { metal, .. } => match metal.is_some_and(|metal| metal.needs_cleaning()) {
            true => vec![Edit::Alternating],
            false => vec![Edit::Negative],
        },
        DirectOnLightMetal { .. } => vec![Edit::Alternating],
        AlternatingOnHeavyMetal { .. } => vec![Edit::Negative],
        AcSettingOnDc => vec![Edit::NoAcSetting, Edit::Alternating],
        TooSharp { .. } => [blunter(case), thicker(case)].concat(),
        TooBlunt { .. } => [
            vec![Edit::Grind(20.0, None), Edit::Grind(30.0, None)],
            thinner(case),
        ]
        .concat(),
        NeedleOnAc { .. } => vec![with_flat(case, 40.0)],
        PointOnAc { pure: true } => vec![Edit::Rounded],
        PointOnAc { pure: false } | FlatTooWide { .. } => small_flat(case),
        BallOnDc { .. } => tapers(case),
        BallOnInverter => vec![with_flat(case, 40.0)],
        UnusualTaper { .. } => tapers(case),
        Thorium { .. } | ThoriumOnAc { .. } | ZirconiumOnDc { .. } | PureOnDc { .. } => {
            vec![class("WLa20"), class("WLa15"), class("WCe20")]
        }
        PureOnInverter { .. } => vec![class("WLa20"), class("WLa15")],
        Crosswise => vec![Edit::Lengthwise],
        CoarseWheel { .. } => vec![Edit::FineWheel],
        CleaningEnd { .. } | LittleCleaning { .. } => vec![Edit::Balance],
        Scratch | LiftOnAc | LiftPure => vec![
            Edit::Strike(StartMethod::Hf),
            Edit::Strike(StartMethod::Lift),
        ],
        ActiveGas | Hydrogen { .. } | Nitrogen => vec![Edit::Argon],
        HeliumNearTop { top_a, .. } => [
            thicker(case),
            vec![Edit::Amps((HELIUM_PART * top_a).floor()), Edit::Argon],
        ]
        .concat(),
        FlowLow { .. } | FlowHigh { .. } => flow(case),
        CupSmall { range, .. } => vec![Edit::Cup(range.0), Edit::Cup((range.0 + 1.0).min(range.1))],
        Stickout { diameter_mm, .. } => vec![Edit::Stickout(tenths_down(STICKOUT.0 * diameter_mm))],
        GapLong { longest_mm, .. } => gap(case, *longest_mm),
        GapShort { .. } => gap(case, 1.5),
        TooHotForWork { range, .. } | TooColdForWork { range, .. } => {
            vec![Edit::Amps(((range.0 + range.1) / 2.0).round())]
        }
        SizeNotListed { .. }
        | UnspecifiedClass { .. }
        | NoBalance
        | TipSeen { .. }
        | NotWritten { .. }
        | NoAmps
        | Unread { .. }
        | NoRuns
        | Unlike { .. }
        | InTurn { .. } => Vec::new(),
    }
}

/// Less positive first, where it is too much of it; then thicker, another class, fewer amps.
fn over_range(case: &Case) -> Vec<Edit> {
    let mut edits = Vec::new();
    if case.on_ac() && case.run.set_en_pct.is_some_and(|en| en < 65.0) {
        edits.push(Edit::Balance);
    }
    if case.process() == Process::Dcep {
        edits.push(Edit::Alternating);
    }
    edits.extend(thicker(case));
    if case.basis().pure {
        edits.push(class("WLa20"));
    }
    edits.extend(case.top_a.map(|top| Edit::Amps(top.floor())));
    edits
}

/// Trade sizes on one side of the case's own, the nearest first, whose range takes the amps.
fn sizes(case: &Case, fits: impl Fn(f64) -> bool) -> Vec<Edit> {
    let amps = case.run.set_a;
    let takes = |mm: &f64| {
        let top = top_of(case.prep.class, *mm, &case.basis());
        amps.is_none_or(|amps| top.is_some_and(|top| amps <= top))
    };
    SIZES_MM
        .into_iter()
        .filter(|mm| fits(*mm))
        .filter(takes)
        .map(Edit::Diameter)
        .collect()
}

fn thicker(case: &Case) -> Vec<Edit> {
    let own = case.prep.diameter.map_or(0.0, |d| 1.05 * d.mm());
    sizes(case, |mm| mm > own)
}

fn thinner(case: &Case) -> Vec<Edit> {
    let own = case.prep.diameter.map_or(0.0, |d| 0.95 * d.mm());
    let mut edits = sizes(case, |mm| mm < own);
    edits.reverse();
    edits
}

fn diameter_mm(case: &Case) -> f64 {
    case.prep.diameter.map_or(2.4, |d| d.mm())
}

fn tenths(mm: f64) -> f64 {
    (10.0 * mm).round() / 10.0
}

/// Down, so that a limit stays kept: 3 × 1/16 in is 4.7625 mm.
fn tenths_down(mm: f64) -> f64 {
    (10.0 * mm + 1e-6).floor() / 10.0
}

/// A taper with a flat of a quarter of the diameter, rounded up so that it is not less.
fn with_flat(case: &Case, deg: f64) -> Edit {
    Edit::Grind(
        deg,
        Some((10.0 * FLAT.0 * diameter_mm(case) - 1e-9).ceil() / 10.0),
    )
}

/// A flat about a third of the diameter on the taper there is.
fn small_flat(case: &Case) -> Vec<Edit> {
    let mm = diameter_mm(case);
    [0.3, 0.4]
        .map(|part| Edit::Flat((100.0 * part * mm).round() / 100.0))
        .to_vec()
}

/// Tapers from slim to blunt.
fn tapers(case: &Case) -> Vec<Edit> {
    let slim = [20.0, 30.0].map(|deg| Edit::Grind(deg, None));
    let usual = [Edit::Grind(30.0, None), Edit::Grind(20.0, None)];
    let low = case.run.set_a.is_some_and(|amps| amps < 25.0);
    [if low { slim } else { usual }.to_vec(), blunter(case)].concat()
}

/// Blunter than the case's own taper: first the angle, then a flat.
fn blunter(case: &Case) -> Vec<Edit> {
    let own = case.prep.taper_deg.unwrap_or(0.0);
    let at_least = [30.0, 45.0, 60.0].into_iter().filter(|deg| *deg > own);
    let mut edits: Vec<Edit> = at_least
        .flat_map(|deg| match deg {
            60.0 => vec![with_flat(case, 60.0), Edit::Grind(60.0, None)],
            deg => vec![Edit::Grind(deg, None), with_flat(case, deg)],
        })
        .collect();
    if own >= 45.0 {
        edits.insert(0, with_flat(case, own));
    }
    edits
}

/// The middle of the usual flow.
fn flow(case: &Case) -> Vec<Edit> {
    let ((low, high), _) = usual_flow(case);
    vec![Edit::Flow(((low + high) / 2.0).round())]
}

/// A gap of one diameter, between 1 mm and the longest.
fn gap(case: &Case, longest_mm: f64) -> Vec<Edit> {
    vec![Edit::Gap(tenths(
        diameter_mm(case).clamp(1.0_f64.min(longest_mm), longest_mm),
    ))]
}
