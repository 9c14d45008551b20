//! What can be found of a prep and its job: a kind with its figures, and how much it asks for.

use serde::Serialize;

use crate::fit::tables::{MELTING_END_PCT, SHARP_DEG, TOP_PART};
use crate::job::electrode::Class;
use crate::job::prep::Tip;
use crate::job::run::Process;
use crate::job::shielding::Metal;
use crate::job::tip_state::TipState;

/// How much a finding asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// Unsafe, or sure to spoil the comparison.
    Change,
    /// Likely to start worse than it could.
    Look,
    /// Good to know.
    Note,
}

impl Level {
    /// The word used in every output.
    pub fn word(self) -> &'static str {
        match self {
            Level::Change => "change",
            Level::Look => "look",
            Level::Note => "note",
        }
    }
}

/// Which range of current is meant.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Basis {
    /// DC or AC, and the polarity.
    pub process: Process,
    /// Pure tungsten.
    pub pure: bool,
    /// Electrode-negative share on AC, percent.
    pub en_pct: Option<f64>,
}

/// What was found of a prep and its job, with the figures it was found by.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs)] // Each kind says what its figures are.
pub enum Concern {
    /// Amps set over the range of the diameter; `tables` names each table with its range.
    OverRange {
        amps: f64,
        size_mm: f64,
        basis: Basis,
        tables: Vec<(&'static str, (f64, f64))>,
    },
    /// Amps set under everything that any table gives the diameter.
    UnderRange {
        amps: f64,
        size_mm: f64,
        basis: Basis,
        lowest_a: f64,
    },
    /// A diameter between the trade sizes.
    SizeNotListed { mm: f64 },
    /// A trade size that no table lists for this polarity.
    NoRange { size_mm: f64, basis: Basis },
    /// Electrode positive; `over` says that the amps are over what the electrode carries that way.
    Positive {
        metal: Option<Metal>,
        amps: Option<f64>,
        over: bool,
    },
    /// Aluminium or magnesium on DC electrode negative.
    DirectOnLightMetal { metal: Metal, helium: bool },
    /// AC on a metal that needs no cleaning.
    AlternatingOnHeavyMetal { metal: Metal },
    /// A balance or a frequency of AC in a DC row.
    AcSettingOnDc,
    /// A taper too slim for the amps; `top_a` is where the range of the diameter ends.
    TooSharp {
        deg: f64,
        ended: bool,
        size_mm: f64,
        amps: f64,
        carries_a: f64,
        top_a: f64,
    },
    /// A blunt taper at few amps.
    TooBlunt { deg: f64, amps: f64 },
    /// A needle on AC.
    NeedleOnAc { deg: f64 },
    /// A sharp point on AC.
    PointOnAc { pure: bool },
    /// A ball or a round end on DC electrode negative.
    BallOnDc { tip: Tip },
    /// A ball on tungsten with oxide, on an inverter.
    BallOnInverter,
    /// A flat over half the diameter.
    FlatTooWide { flat_mm: f64, diameter_mm: f64 },
    /// An included angle that welders do not grind.
    UnusualTaper { deg: f64 },
    /// Thoriated tungsten.
    Thorium { class: &'static Class },
    /// Thoriated tungsten on AC.
    ThoriumOnAc { class: &'static Class },
    /// A class that leaves the oxide to its maker.
    UnspecifiedClass { class: &'static Class },
    /// Zirconiated tungsten on DC.
    ZirconiumOnDc { class: &'static Class },
    /// Pure tungsten on DC electrode negative.
    PureOnDc { class: &'static Class },
    /// Pure tungsten on an inverter's AC.
    PureOnInverter { class: &'static Class },
    /// Grind marks around the electrode.
    Crosswise,
    /// A coarse wheel.
    CoarseWheel { wheel: String },
    /// Little electrode negative on AC.
    CleaningEnd { en_pct: f64 },
    /// Nearly all electrode negative on AC.
    LittleCleaning { en_pct: f64 },
    /// No balance written down on AC.
    NoBalance,
    /// Struck like a match.
    Scratch,
    /// Lift start on AC.
    LiftOnAc,
    /// Lift start with pure tungsten.
    LiftPure,
    /// Carbon dioxide or oxygen in the gas.
    ActiveGas,
    /// Hydrogen in the gas, with a metal that does not take it.
    Hydrogen { metal: Metal },
    /// Nitrogen in the gas.
    Nitrogen,
    /// Helium, and amps near the top of a range written for argon.
    HeliumNearTop {
        helium_pct: Option<f64>,
        amps: f64,
        top_a: f64,
    },
    /// Too little gas.
    FlowLow {
        lpm: f64,
        range: (f64, f64),
        helium: bool,
    },
    /// Too much gas.
    FlowHigh {
        lpm: f64,
        range: (f64, f64),
        helium: bool,
    },
    /// A cup too small for the electrode.
    CupSmall {
        number: f64,
        size_mm: f64,
        range: (f64, f64),
    },
    /// The electrode stands far out of the cup.
    Stickout {
        mm: f64,
        diameter_mm: f64,
        lens: bool,
    },
    /// A long arc gap.
    GapLong { mm: f64, longest_mm: f64 },
    /// A very short arc gap, struck without touching.
    GapShort { mm: f64 },
    /// Amps that burn through the work.
    TooHotForWork {
        amps: f64,
        mm: f64,
        metal: Metal,
        range: (f64, f64),
    },
    /// Amps that make no pool in the work.
    TooColdForWork {
        amps: f64,
        mm: f64,
        metal: Metal,
        range: (f64, f64),
    },
    /// The tip as it was seen after the run.
    TipSeen {
        state: TipState,
        amps: Option<f64>,
        ac: bool,
    },
    /// Keys of the prep that are empty.
    NotWritten { keys: Vec<&'static str> },
    /// No amps in the row.
    NoAmps,
    /// A cell whose number has no unit, or whose words are not known.
    Unread { column: &'static str, text: String },
    /// A prep that no row uses.
    NoRuns,
    /// A condition that is not the same for all preps: what each has, nothing where it is not written down.
    Unlike {
        column: &'static str,
        each: Vec<(String, Vec<String>)>,
    },
    /// All rows of one prep stand before those of another.
    InTurn { first: String, then: String },
}

/// Conditions that decide how an arc starts as much as any grind does.
const DECIDES: [&str; 5] = ["process", "start_method", "set_a", "gas", "material"];

impl Concern {
    /// How much it asks for.
    pub fn level(&self) -> Level {
        use Level::*;
        match self {
            Concern::OverRange { amps, tables, .. } => {
                match tables.iter().all(|(_, range)| *amps > range.1) {
                    true => Change,
                    false => Look,
                }
            }
            Concern::Positive { metal, over, .. } => match (metal, over) {
                (Some(metal), _) if !metal.needs_cleaning() => Change,
                (_, true) => Change,
                _ => Look,
            },
            Concern::DirectOnLightMetal { helium, .. } => match helium {
                true => Note,
                false => Change,
            },
            Concern::TooSharp {
                deg,
                ended,
                amps,
                top_a,
                ..
            } => match *amps >= TOP_PART * top_a && *deg < SHARP_DEG && !ended {
                true => Change,
                false => Look,
            },
            Concern::CleaningEnd { en_pct } => match *en_pct < MELTING_END_PCT {
                true => Change,
                false => Look,
            },
            Concern::PointOnAc { pure } => match pure {
                true => Look,
                false => Note,
            },
            Concern::Stickout {
                mm,
                diameter_mm,
                lens,
            } => match mm / diameter_mm {
                times if times > 6.0 => Change,
                _ if *lens => Note,
                _ => Look,
            },
            Concern::TipSeen { state, ac, .. } => match (state, ac) {
                (TipState::Contaminated | TipState::Broken, _) => Change,
                (TipState::Melted, true) => Note,
                _ => Look,
            },
            Concern::Unlike { column, each } => {
                let known = each.iter().all(|(_, values)| !values.is_empty());
                match known && DECIDES.contains(column) {
                    true => Change,
                    false => Look,
                }
            }
            Concern::NoRange { .. }
            | Concern::BallOnDc { .. }
            | Concern::ZirconiumOnDc { .. }
            | Concern::ActiveGas => Change,
            Concern::SizeNotListed { .. }
            | Concern::UnusualTaper { .. }
            | Concern::UnspecifiedClass { .. }
            | Concern::PureOnInverter { .. }
            | Concern::CoarseWheel { .. }
            | Concern::LittleCleaning { .. }
            | Concern::NoBalance
            | Concern::TooColdForWork { .. }
            | Concern::NotWritten { .. }
            | Concern::NoAmps
            | Concern::Unread { .. }
            | Concern::NoRuns => Note,
            _ => Look,
        }
    }

    /// What it is about, in a word or two.
    pub fn about(&self) -> &'static str {
        use Concern::*;
        match self {
            OverRange { .. } | UnderRange { .. } | SizeNotListed { .. } | NoRange { .. } => {
                "current"
            }
            Positive { .. }
            | DirectOnLightMetal { .. }
            | AlternatingOnHeavyMetal { .. }
            | AcSettingOnDc => "polarity",
            TooSharp { .. } | TooBlunt { .. } | NeedleOnAc { .. } | UnusualTaper { .. } => "taper",
            PointOnAc { .. } | BallOnDc { .. } | BallOnInverter | FlatTooWide { .. } => "tip",
            Thorium { .. } => "thorium",
            ThoriumOnAc { .. }
            | UnspecifiedClass { .. }
            | ZirconiumOnDc { .. }
            | PureOnDc { .. }
            | PureOnInverter { .. } => "class",
            Crosswise | CoarseWheel { .. } => "marks",
            CleaningEnd { .. } | LittleCleaning { .. } | NoBalance => "balance",
            Scratch | LiftOnAc | LiftPure => "start method",
            ActiveGas | Hydrogen { .. } | Nitrogen | HeliumNearTop { .. } => "gas",
            FlowLow { .. } | FlowHigh { .. } => "flow",
            CupSmall { .. } => "cup",
            Stickout { .. } => "stick-out",
            GapLong { .. } | GapShort { .. } => "arc gap",
            TooHotForWork { .. } | TooColdForWork { .. } => "work",
            TipSeen { .. } => "tip after",
            Unlike { .. } => "conditions",
            InTurn { .. } => "order",
            NotWritten { .. } | NoAmps | Unread { .. } | NoRuns => "sheet",
        }
    }

    /// Whether it holds for the prep whatever is welded with it.
    pub fn of_prep(&self) -> bool {
        matches!(
            self,
            Concern::Thorium { .. }
                | Concern::UnspecifiedClass { .. }
                | Concern::Crosswise
                | Concern::CoarseWheel { .. }
                | Concern::FlatTooWide { .. }
                | Concern::UnusualTaper { .. }
                | Concern::SizeNotListed { .. }
                | Concern::NotWritten { .. }
                | Concern::NoRuns
                | Concern::Unlike { .. }
                | Concern::InTurn { .. }
        )
    }

    /// Whether both are of one kind, whatever their figures.
    pub fn same_kind(&self, other: &Concern) -> bool {
        std::mem::discriminant(self) == std::mem::discriminant(other)
    }
}
