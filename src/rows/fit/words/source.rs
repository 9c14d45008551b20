//! Who says so: a document and its page, or that there is no source.

use crate::fit::concern::Concern;
use crate::fit::tables::{
    BALANCE_SOURCE, COMPOSITE, CUP_SOURCE, CUP_SOURCE_2, EUROPEAN, HELIUM_SOURCE, OWN, PRACTICE,
    TIP_SOURCE, WORK_SOURCE,
};
use crate::fit::words::quantity::amps_range;
use crate::job::run::Process;

/// Where the rule and its numbers come from.
pub(super) fn of(concern: &Concern) -> String {
    use Concern::*;
    match concern {
        OverRange { tables, .. } => told_by(tables),
        UnderRange { basis, .. } => match basis.process {
            Process::Dc => format!("{}; {}; {TIP_SOURCE}", COMPOSITE.source, EUROPEAN.source),
            Process::Ac => format!("{}; {CUP_SOURCE}; {WORK_SOURCE}", COMPOSITE.source),
            Process::Dcep => COMPOSITE.source.to_owned(),
        },
        SizeNotListed { .. } | NoRange { .. } | ZirconiumOnDc { .. } => COMPOSITE.source.to_owned(),
        Positive { .. } => format!("{}; {PRACTICE}", COMPOSITE.source),
        TooSharp { .. } => {
            format!("{TIP_SOURCE}; {PRACTICE} (30–35° to 150 A, 45–50° to 185 A on 2.4 mm)")
        }
        TooBlunt { .. } | FlatTooWide { .. } => format!("{TIP_SOURCE}; {OWN}"),
        NeedleOnAc { .. } => {
            format!("manual OM-880, p. 20 (taper of 1.5 × the diameter, 37°, on AC); {PRACTICE}")
        }
        PointOnAc { .. } => format!(
            "{PRACTICE}; TWI, technical FAQ \"What types of power source are available for TIG (GTA) welding?\" (a point lasts at about 90 %)"
        ),
        Thorium { .. } => "AWS Safety and Health Fact Sheet 27".to_owned(),
        UnspecifiedClass { .. } => {
            "ASME SFA-5.12, 3.3 (AWS A5.12-98): what meets another class may not be sold as EWG"
                .to_owned()
        }
        Crosswise => format!("{TIP_SOURCE}: grind along, never around; {PRACTICE}"),
        CleaningEnd { .. } | LittleCleaning { .. } => format!("{BALANCE_SOURCE}; {OWN}"),
        HeliumNearTop { .. } => format!("{HELIUM_SOURCE}; {OWN}"),
        FlowLow { helium, .. } | FlowHigh { helium, .. } => match helium {
            true => {
                format!("{CUP_SOURCE}; {WORK_SOURCE}; twice the flow for helium: {PRACTICE}; {OWN}")
            }
            false => format!("{CUP_SOURCE}; {WORK_SOURCE}; {OWN}"),
        },
        CupSmall { .. } => format!("{CUP_SOURCE}; {CUP_SOURCE_2}"),
        Stickout { .. } => {
            format!("{TIP_SOURCE}: 3 × the diameter, at most 6 × with a gas lens and no draught")
        }
        TooHotForWork { .. } | TooColdForWork { .. } => format!("{WORK_SOURCE} (fillets); {OWN}"),
        InTurn { .. } => "randomisation and blocking: NIST/SEMATECH e-Handbook, 5.3.3.2".to_owned(),
        NoBalance | NotWritten { .. } | NoAmps | Unread { .. } | NoRuns => "docs/job.md".to_owned(),
        _ => PRACTICE.to_owned(),
    }
}

/// The table that spoke, then the spread of the others.
fn told_by(tables: &[(&'static str, (f64, f64))]) -> String {
    let told: Vec<String> = tables
        .iter()
        .map(|(source, amps)| format!("{source}: {}", amps_range(*amps)))
        .collect();
    match told.split_first() {
        Some((speaker, others)) if !others.is_empty() => {
            format!("{speaker}. Other tables differ: {}", others.join("; "))
        }
        _ => told.concat(),
    }
}
