//! What a warning beside a comparison is about, and whether it may mislead.

use serde::Serialize;

use crate::measuring::gather::Miscount;

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

/// Something that spoils a comparison, with its figures; `report::words` says it in sentences.
#[derive(Debug, Clone, PartialEq)]
pub enum Warning {
    /// This many starts have nothing in the column that the groups are made by.
    Nameless {
        /// How many.
        starts: usize,
        /// The column.
        by: String,
    },
    /// No start of these groups has the measure.
    Empty {
        /// Name of the measure.
        measure: String,
        /// The groups.
        groups: Vec<String>,
    },
    /// Groups lost unequal parts of their starts: each group, the starts left out, and all it had.
    LeftOut(Vec<(String, usize, usize)>),
    /// A column of the sheet is not the same in all groups.
    Column {
        /// The column.
        column: String,
        /// Each group with what its rows have there.
        values: Vec<(String, Vec<String>)>,
    },
    /// The groups were recorded under different calibrations.
    Loggers {
        /// Each group with its loggers.
        loggers: Vec<(String, Vec<String>)>,
        /// What the calibration alone can shift: a measure and its expanded uncertainty (k = 2).
        gain_errors: Vec<(String, f64)>,
    },
    /// The groups with the lowest and the highest median current, A.
    Amps {
        /// The lowest.
        low: (String, f64),
        /// The highest.
        high: (String, f64),
    },
    /// All or nearly all starts of one group came before those of another.
    Order {
        /// The group struck first.
        first: String,
        /// The group struck after it.
        last: String,
    },
    /// Two groups come from different sheets without dates.
    Sheets(String, String),
    /// A group has three tips and another more.
    UnequalTips {
        /// The group of three.
        few: String,
        /// The group with the most.
        many: String,
        /// Its tips.
        most: usize,
    },
    /// The tips of one group were more worn than those of another.
    Wear {
        /// The group with the fresher tips.
        fresh: String,
        /// The group with the more worn ones.
        worn: String,
    },
    /// This many of the coupons carry starts of every group.
    Coupons {
        /// Those that do.
        shared: usize,
        /// All there are.
        all: usize,
    },
    /// The groups were scored against different targets.
    Targets,
    /// A recording does not hold the starts that the sheet shares out.
    Miscounted(Miscount),
}

impl Warning {
    /// What it is about.
    pub fn about(&self) -> Confounder {
        match self {
            Warning::Nameless { .. } | Warning::Empty { .. } => Confounder::Missing,
            Warning::LeftOut(_) => Confounder::LeftOut,
            Warning::Column { column, .. } => Confounder::Column(column.clone()),
            Warning::Loggers { .. } => Confounder::Logger,
            Warning::Amps { .. } => Confounder::Amps,
            Warning::Order { .. } | Warning::Sheets(..) => Confounder::Order,
            Warning::UnequalTips { .. } => Confounder::Tips,
            Warning::Wear { .. } => Confounder::TipAge,
            Warning::Coupons { .. } => Confounder::Coupon,
            Warning::Targets => Confounder::Targets,
            Warning::Miscounted(_) => Confounder::Miscounted,
        }
    }
}
