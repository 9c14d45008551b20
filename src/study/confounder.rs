//! What a warning beside a comparison is about, and whether it may mislead.

use serde::Serialize;

/// What a warning is about.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Confounder {
    /// One group was struck after the other.
    Order,
    /// The tips of one group were more worn.
    TipAge,
    /// The groups were struck on different coupons.
    Coupon,
    /// A column of the sheet is not the same in all groups.
    Column(String),
    /// The groups ran at different amps.
    Amps,
    /// The groups were recorded by different loggers.
    Logger,
    /// The groups were scored against different targets.
    Targets,
    /// More starts of one group than of another are set aside or doubtful.
    LeftOut,
    /// A group has one tip only, or the groups have unequal numbers of tips.
    Tips,
    /// Some starts or measures are missing.
    Missing,
    /// A recording does not hold the starts that the sheet shares out.
    Miscounted,
}

impl Confounder {
    /// Whether it may make a difference that looks like one between the groups.
    pub fn may_mislead(&self) -> bool {
        !matches!(self, Confounder::Missing | Confounder::Tips)
    }

    /// Its name in plain words.
    pub fn words(&self) -> &str {
        match self {
            Confounder::Order => "the order struck",
            Confounder::TipAge => "the age of the tips",
            Confounder::Coupon => "the coupons",
            Confounder::Column(name) => name,
            Confounder::Amps => "the amps",
            Confounder::Logger => "the loggers",
            Confounder::Targets => "the targets",
            Confounder::LeftOut => "the starts left out",
            Confounder::Tips => "the tips",
            Confounder::Missing => "what is missing",
            Confounder::Miscounted => "which start belongs to which row",
        }
    }
}

/// Something that spoils a comparison.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Warning {
    /// What it is about.
    pub about: Confounder,
    /// One or two sentences.
    pub says: String,
}

impl Warning {
    /// A warning with its words.
    pub(super) fn new(about: Confounder, says: impl Into<String>) -> Warning {
        Warning {
            about,
            says: says.into(),
        }
    }
}
