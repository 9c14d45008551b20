//! Did this batch start clean, which starts were bad, is a tip going off?

mod alarms;
mod answer;
mod batch;
mod charts;
mod found;
mod options;
mod parts;
mod sampling;

pub use answer::{flag_tip_off, mark_tip_off, screen, tip_off_and_wear};
pub(super) use batch::id_of;
pub use found::{
    Accepted, Alarm, Chart, ChartPoint, Copied, Flagged, NotRead, Reason, RecordingLine, Rule,
    Sampling, ScreenGroup, Screening, ShortChart, StartName,
};
pub use options::ScreenOptions;
pub use parts::{Reads, screen_parts};
pub use sampling::SamplingOptions;
