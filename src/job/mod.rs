//! Everything written down about a job: job file, run sheet, electrodes, lengths, wiring of the logger, targets.

pub(crate) mod aside;
pub(crate) mod builtin;
pub(crate) mod cells;
pub(crate) mod draft;
pub(crate) mod electrode;
pub(crate) mod fault;
pub(crate) mod file;
pub(crate) mod length;
pub(crate) mod logger;
pub(crate) mod measuring;
pub(crate) mod nearest;
pub(crate) mod pattern;
pub(crate) mod prep;
pub(crate) mod run;
pub(crate) mod section;
pub(crate) mod sheet;
pub(crate) mod sheet_row;
pub(crate) mod shielding;
pub(crate) mod target_set;
pub(crate) mod targets;
pub(crate) mod tip_state;

pub use aside::{Aside, set_aside};
pub use builtin::{Basis, targets as builtin_targets};
pub use draft::{Draft, DraftRun};
pub use electrode::{CLASSES, Class, Oxide, SIZES_MM, trade_size};
pub(crate) use file::{JOB_FILE, SHEET_FILE};
pub use file::{Job, JobInfo};
pub use length::Length;
pub use logger::*;
pub use measuring::{Context, Measuring};
pub use prep::{Marks, Prep, Tip, UNNAMED_PREP};
pub use run::{Process, Run, StartMethod};
pub use shielding::{Cup, Gas, Metal};
pub use target_set::{ROUGH_ATTEMPTS, TARGET_MEASURES, Target, TargetSet};
pub use targets::Targets;
pub use tip_state::TipState;
