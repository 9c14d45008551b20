//! The rules in their order: everything that speaks against a prep on one row of the sheet.

use crate::fit::case::Case;
use crate::fit::concern::Concern;
use crate::fit::{common_practice, current, gas, tip, work};
use crate::job::prep::Prep;
use crate::job::run::Run;

type Rule = fn(&Case) -> Option<Concern>;

/// Every rule, in the order in which findings of one level are listed.
const RULES: [Rule; 32] = [
    gas::active,
    current::positive,
    work::direct_on_light_metal,
    work::alternating_on_heavy_metal,
    work::ac_setting_on_dc,
    current::amps_for_electrode,
    work::balance,
    tip::too_sharp,
    tip::too_blunt,
    tip::needle_on_ac,
    tip::point_on_ac,
    tip::ball_on_dc,
    tip::ball_on_inverter,
    tip::flat_too_wide,
    tip::unusual_taper,
    common_practice::class_for_process,
    common_practice::start_method,
    common_practice::marks,
    common_practice::tip_seen,
    gas::hydrogen,
    gas::nitrogen,
    gas::helium_near_top,
    gas::flow,
    gas::cup,
    gas::stickout,
    gas::gap,
    work::amps_for_thickness,
    common_practice::thorium,
    common_practice::unspecified,
    common_practice::not_written,
    current::no_amps,
    gas::unread,
];

/// Everything that speaks against a prep on one row of the sheet.
pub fn judge(prep: &Prep, run: &Run) -> Vec<Concern> {
    let case = Case::new(prep, run);
    RULES.iter().filter_map(|rule| rule(&case)).collect()
}
