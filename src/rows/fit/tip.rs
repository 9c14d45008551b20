//! Taper and tip against current and process.

use crate::fit::case::Case;
use crate::fit::concern::Concern;
use crate::fit::tables::{
    FLAT, GRINDER_DEG, LOW_A, LOW_PART, NEEDLE_DEG, SHARP_DEG, TIPS, carried_amps, holds,
};
use crate::job::electrode::Oxide;
use crate::job::prep::Tip;

/// From this electrode-negative share on a point lasts on AC, percent (TWI, technical FAQ "What
/// types of power source are available for TIG (GTA) welding?": about 90 % keeps a pointed tip).
const POINT_LASTS_PCT: f64 = 85.0;

/// A taper too slim for the amps: its end melts back.
pub(super) fn too_sharp(case: &Case) -> Option<Concern> {
    let (amps, size_mm, deg) = (case.run.set_a?, case.prep.size_mm()?, case.taper()?);
    if !case.on_dc() {
        return None;
    }
    let (top_a, ended) = (case.top_a?, case.ended());
    let carries_a = carried_amps(size_mm, top_a, deg, ended);
    // What lies over the range of the diameter is said of the diameter.
    (amps.min(top_a) > carries_a).then_some(Concern::TooSharp {
        deg,
        ended,
        size_mm,
        amps,
        carries_a,
        top_a,
    })
}

/// A blunt taper at few amps: the arc starts late, off the tip, or not at all.
pub(super) fn too_blunt(case: &Case) -> Option<Concern> {
    let (amps, deg) = (case.run.set_a?, case.taper()?);
    let low = amps < LOW_A && case.top_a.is_none_or(|top| amps < LOW_PART * top);
    (case.on_dc() && deg >= SHARP_DEG && low).then_some(Concern::TooBlunt { deg, amps })
}

/// A needle on AC: the positive half-cycles melt it.
pub(super) fn needle_on_ac(case: &Case) -> Option<Concern> {
    let deg = case.taper()?;
    let slim = deg <= NEEDLE_DEG && !case.ended();
    (case.on_ac() && slim && !point_lasts(case)).then_some(Concern::NeedleOnAc { deg })
}

/// A sharp point on AC.
pub(super) fn point_on_ac(case: &Case) -> Option<Concern> {
    let sharp = case.prep.tip == Some(Tip::Point) && !case.ended();
    let told = needle_on_ac(case).is_some();
    (case.on_ac() && sharp && !told && !point_lasts(case)).then_some(Concern::PointOnAc {
        pure: case.is(Oxide::None),
    })
}

fn point_lasts(case: &Case) -> bool {
    let negative = case
        .run
        .set_en_pct
        .is_some_and(|pct| pct >= POINT_LASTS_PCT);
    negative && !case.is(Oxide::None)
}

/// A ball or a round end on DC electrode negative.
pub(super) fn ball_on_dc(case: &Case) -> Option<Concern> {
    let tip = case.rounded()?;
    case.on_dc().then_some(Concern::BallOnDc { tip })
}

/// A ball on tungsten with oxide, where the balance makes one needless.
pub(super) fn ball_on_inverter(case: &Case) -> Option<Concern> {
    let balled = case.prep.tip == Some(Tip::Balled) && !case.is(Oxide::None);
    (balled && case.on_inverter()).then_some(Concern::BallOnInverter)
}

/// A flat wider than half the electrode.
pub(super) fn flat_too_wide(case: &Case) -> Option<Concern> {
    let (flat, diameter) = (case.prep.tip_flat?, case.prep.diameter?);
    (flat.mm() > FLAT.1 * diameter.mm()).then_some(Concern::FlatTooWide {
        flat_mm: flat.mm(),
        diameter_mm: diameter.mm(),
    })
}

/// An included angle outside what welders grind, and not in the tip table for the diameter.
pub(super) fn unusual_taper(case: &Case) -> Option<Concern> {
    let deg = case.taper()?;
    let size_mm = case.prep.size_mm();
    let listed = TIPS
        .iter()
        .any(|row| Some(row.mm) == size_mm && row.angle_deg == deg);
    (!holds(GRINDER_DEG, deg) && !listed).then_some(Concern::UnusualTaper { deg })
}
