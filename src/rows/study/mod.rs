//! Starts become answers: comparison, wear, screening, planning. `stats` knows nothing of welding.

mod by_group;
mod by_starts;
mod by_tips;
mod compare;
mod comparison;
mod confounder;
mod groups;
mod options;
pub mod plan;
mod screen;
mod sequential;
mod standing;
mod tips;
mod warnings;
mod wear;

pub use by_group::{measure_values, prep_names, starts_by, starts_by_prep, worst_starts};
pub use by_tips::OTHERS;
pub use by_tips::{RATE_MARGIN, tips_to_begin_with};
pub use compare::{compare, compare_rows};
pub use comparison::{
    About, Comparison, Event, Group, Overall, Pair, PairVerdict, Range, RateDifference, Share,
    StartLevel, WhileStriking, Withheld,
};
pub use confounder::{Confounder, Warning};
pub use options::{CompareOptions, Which};
pub use screen::{
    Accepted, Alarm, Chart, ChartPoint, Copied, Flagged, NotRead, Reads, Reason, RecordingLine,
    Rule, Sampling, SamplingOptions, ScreenGroup, ScreenOptions, Screening, ShortChart, StartName,
    flag_tip_off, mark_tip_off, screen, screen_parts, tip_off_and_wear,
};
pub use standing::{PrepStanding, Standing, standing};
pub use wear::{REGRIND_SCORE, WEAR_MEASURES, Wear, WearOf, WearVerdict, wear};

use crate::error::{Error, ErrorKind, Place, Result};
use crate::job::nearest;
use crate::measure::{Measure, Quantity};
use crate::score::StartRow;

/// Holds a measure named by a parameter against what rows have: a measure, `score`, or a sheet column with numbers.
///
/// # Errors
/// A name that nothing has, with the way out.
pub(crate) fn known_measure<'a>(
    rows: impl IntoIterator<Item = &'a StartRow>,
    measure: &str,
    parameter: &'static str,
) -> Result<()> {
    let quantity = Quantity::named(measure);
    let known = !matches!(quantity, Quantity::Column(_));
    if known || rows.into_iter().any(|r| r.value_of(&quantity).is_some()) {
        return Ok(());
    }
    let problem = "this is neither a measure nor a sheet column with numbers";
    let names = Measure::ALL.iter().map(|measure| measure.name());
    let meant = nearest(measure, names.chain(["score"]));
    let meant = meant.map_or(String::new(), |name| format!("Did you mean '{name}'? "));
    let place = Place::parameter(parameter).value(measure);
    Err(Error::new(ErrorKind::UnknownColumn, place, problem).hint(format!(
        "{meant}docs/measures.md lists the measures; a column of the run sheet goes by its heading"
    )))
}
