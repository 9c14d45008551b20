//! The work: metal against polarity, amps against thickness; and the balance on AC.

use crate::fit::case::Case;
use crate::fit::concern::Concern;
use crate::fit::tables::{
    CLEANING_END_PCT, LITTLE_CLEANING_PCT, WORK_HIGH, WORK_LOW, amps_for_work,
};

/// Aluminium and magnesium on DC electrode negative: nothing cleans the oxide off.
pub(super) fn direct_on_light_metal(case: &Case) -> Option<Concern> {
    let metal = case.metal.filter(|metal| metal.needs_cleaning())?;
    // Helium's arc is hot enough to go without; how much of it is needed no source here says.
    let pure_helium = |gas: crate::job::shielding::Gas| gas.helium_pct == Some(100.0);
    case.on_dc().then(|| Concern::DirectOnLightMetal {
        metal,
        helium: case.gas.is_some_and(pure_helium),
    })
}

/// AC on a metal whose oxide melts with it.
pub(super) fn alternating_on_heavy_metal(case: &Case) -> Option<Concern> {
    let metal = case.metal.filter(|metal| !metal.needs_cleaning())?;
    case.on_ac()
        .then_some(Concern::AlternatingOnHeavyMetal { metal })
}

/// A balance or a frequency in a DC row: one of the two is wrong.
pub(super) fn ac_setting_on_dc(case: &Case) -> Option<Concern> {
    let set = case.run.set_en_pct.is_some() || case.run.ac_hz.is_some();
    (!case.on_ac() && set).then_some(Concern::AcSettingOnDc)
}

/// The amps against the thickness.
pub(super) fn amps_for_thickness(case: &Case) -> Option<Concern> {
    let (amps, thickness, metal) = (case.run.set_a?, case.run.thickness?, case.metal?);
    let mm = thickness.mm();
    let range = amps_for_work(metal, mm)?;
    match amps {
        amps if amps > WORK_HIGH * range.1 => Some(Concern::TooHotForWork {
            amps,
            mm,
            metal,
            range,
        }),
        amps if amps < WORK_LOW * range.0 => Some(Concern::TooColdForWork {
            amps,
            mm,
            metal,
            range,
        }),
        _ => None,
    }
}

/// The electrode-negative share on AC.
pub(super) fn balance(case: &Case) -> Option<Concern> {
    if !case.on_ac() {
        return None;
    }
    match case.run.set_en_pct {
        None => Some(Concern::NoBalance),
        Some(en_pct) if en_pct < CLEANING_END_PCT => Some(Concern::CleaningEnd { en_pct }),
        Some(en_pct) if en_pct > LITTLE_CLEANING_PCT => Some(Concern::LittleCleaning { en_pct }),
        Some(_) => None,
    }
}
