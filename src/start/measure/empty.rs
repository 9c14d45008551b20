//! No figure is empty without a word: where no flag says why, the start is doubtful.

use crate::flag::Flag;
use crate::start::doubt::{Doubt, Missing};
use crate::start::find::phases::ArcKind;
use crate::start::measure::lit::Lit;
use crate::start::measure::onset::Onset;
use crate::start::record::Start;

/// Flags that say why any figure of an arc may be empty.
const ANY: [Flag; 3] = [Flag::SlowRate, Flag::ShortWindow, Flag::DeadChannel];

/// The first figure of a start that lit, told by a row without a doubt, that is empty without a flag that says why.
pub(super) fn doubt(start: &Start, process: ArcKind, lit: &Lit) -> Option<Doubt> {
    let (m, alternates) = (&start.measures, process != ArcKind::Dc);
    let figures: [(Missing, bool, &[Flag]); 5] = [
        (Missing::RunLevel, m.run_a.is_none(), &[Flag::Rectifying]),
        (
            Missing::Settling,
            start.instants.t_settled_s.is_none(),
            &[Flag::NotSettled, Flag::Rectifying],
        ),
        (
            Missing::Frequency,
            alternates && m.ac_hz.is_none(),
            &[Flag::Rectifying],
        ),
        (
            Missing::Wander,
            m.wander_v.is_none(),
            &[Flag::NoVoltage, Flag::NotSettled, Flag::Rectifying],
        ),
        (
            Missing::Rise,
            lit.onset == Onset::Unread,
            &[Flag::Discharge],
        ),
    ];
    let told = |flags: &[Flag]| ANY.iter().chain(flags).any(|f| start.flags.contains(f));
    let empty = figures
        .into_iter()
        .find(|(_, empty, flags)| *empty && !told(flags));
    let (missing, ..) = empty.filter(|_| start.doubts.is_empty())?;
    Some(Doubt::Empty(missing))
}
