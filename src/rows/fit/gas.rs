//! Gas, flow, cup, stick-out and arc gap.

use crate::fit::case::Case;
use crate::fit::concern::Concern;
use crate::fit::tables::{
    FLOW_HIGH, FLOW_LOW, HELIUM_FLOW, HELIUM_PART, SHORTEST_GAP_MM, STICKOUT, argon_lpm, cups_for,
    longest_gap_mm,
};
use crate::job::run::StartMethod;
use crate::job::shielding::{Gas, Metal};

/// Carbon dioxide or oxygen.
pub(super) fn active(case: &Case) -> Option<Concern> {
    case.gas?.active.then_some(Concern::ActiveGas)
}

/// Hydrogen is for austenitic stainless steel and nickel.
pub(super) fn hydrogen(case: &Case) -> Option<Concern> {
    let metal = case.metal?;
    let takes_it = matches!(metal, Metal::Stainless | Metal::Nickel);
    (case.gas?.hydrogen && !takes_it).then_some(Concern::Hydrogen { metal })
}

/// Nitrogen in the gas.
pub(super) fn nitrogen(case: &Case) -> Option<Concern> {
    case.gas?.nitrogen.then_some(Concern::Nitrogen)
}

/// Helium, and amps that only argon's range allows.
pub(super) fn helium_near_top(case: &Case) -> Option<Concern> {
    let (gas, amps, top_a) = (case.gas?, case.run.set_a?, case.top_a?);
    let near = amps > HELIUM_PART * top_a && amps <= top_a;
    (gas.with_helium() && near).then_some(Concern::HeliumNearTop {
        helium_pct: gas.helium_pct,
        amps,
        top_a,
    })
}

/// The flow that goes with the case, l/min, and whether it was raised for helium.
pub(super) fn usual_flow(case: &Case) -> ((f64, f64), bool) {
    let cup = case.cup.map(|cup| cup.number);
    let (low, high) = argon_lpm(cup, case.run.set_a, case.on_ac());
    match case.gas.filter(Gas::with_helium) {
        Some(gas) => {
            let part = gas.helium_pct.unwrap_or(50.0) / 100.0;
            let times = 1.0 + part * (HELIUM_FLOW - 1.0);
            ((low * times, high * times), true)
        }
        None => ((low, high), false),
    }
}

/// The flow against the cup and the amps.
pub(super) fn flow(case: &Case) -> Option<Concern> {
    let lpm = case.flow_lpm?;
    let (range, helium) = usual_flow(case);
    match lpm {
        lpm if lpm < FLOW_LOW * range.0 - 1e-9 => Some(Concern::FlowLow { lpm, range, helium }),
        lpm if lpm > FLOW_HIGH * range.1 + 1e-9 => Some(Concern::FlowHigh { lpm, range, helium }),
        _ => None,
    }
}

/// A cup too small for the electrode.
pub(super) fn cup(case: &Case) -> Option<Concern> {
    let (cup, size_mm) = (case.cup?, case.prep.size_mm()?);
    let range = cups_for(size_mm)?;
    (cup.number < range.0).then_some(Concern::CupSmall {
        number: cup.number,
        size_mm,
        range,
    })
}

/// How far the electrode stands out of the cup.
pub(super) fn stickout(case: &Case) -> Option<Concern> {
    let (out, diameter) = (case.run.stickout?, case.prep.diameter?);
    let lens = case.cup.is_some_and(|cup| cup.lens);
    let (mm, diameter_mm) = (out.mm(), diameter.mm());
    (mm > STICKOUT.0 * diameter_mm + 1e-9).then_some(Concern::Stickout {
        mm,
        diameter_mm,
        lens,
    })
}

/// The arc gap.
pub(super) fn gap(case: &Case) -> Option<Concern> {
    let mm = case.run.arc_gap?.mm();
    let longest_mm = longest_gap_mm(case.prep.diameter.map(|d| d.mm()));
    let touching = matches!(
        case.run.start_method,
        Some(StartMethod::Lift | StartMethod::Scratch)
    );
    match mm {
        mm if mm > longest_mm + 1e-9 => Some(Concern::GapLong { mm, longest_mm }),
        mm if mm < SHORTEST_GAP_MM && !touching => Some(Concern::GapShort { mm }),
        _ => None,
    }
}

/// Cells that could not be read as a number with a unit, or as words known here.
pub(super) fn unread(case: &Case) -> Option<Concern> {
    let run = case.run;
    let cells = [
        ("gas", case.gas.is_none()),
        ("flow", case.flow_lpm.is_none()),
        ("cup", case.cup.is_none()),
    ];
    cells.into_iter().find_map(|(column, unread)| {
        let text = run.other.get(column)?;
        (unread && !text.trim().is_empty()).then(|| Concern::Unread {
            column,
            text: text.clone(),
        })
    })
}
