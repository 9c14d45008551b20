//! No figure is empty without a word: where no flag says why, the start is doubtful.

use crate::flag::Flag;
use crate::start::doubt::{Doubt, Missing};
use crate::start::record::Start;

/// Flags that say why any figure of an arc may be empty.
const ANY: [Flag; 3] = [Flag::SlowRate, Flag::ShortWindow, Flag::DeadChannel];

/// The first figure of a start that lit, in a row without a doubt, that is empty without a flag that says why. `unread`: there is a
/// transition, and no rise was found in it.
pub(super) fn doubt(start: &Start, alternates: bool, unread: bool) -> Option<Doubt> {
    let m = &start.measures;
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
        (Missing::Rise, unread, &[Flag::Discharge]),
    ];
    let told = |flags: &[Flag]| ANY.iter().chain(flags).any(|f| start.flags.contains(f));
    let empty = figures
        .into_iter()
        .find(|(_, empty, flags)| *empty && !told(flags));
    let (missing, ..) = empty.filter(|_| start.doubts.is_empty())?;
    Some(Doubt::Empty(missing))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Measures;
    use crate::start::record::Instants;

    fn whole() -> Start {
        Start {
            instants: Instants {
                t_settled_s: Some(1.0),
                ..Instants::default()
            },
            measures: Measures {
                run_a: Some(80.0),
                wander_v: Some(0.1),
                ..Measures::default()
            },
            flags: Vec::new(),
            doubts: Vec::new(),
            preview: None,
        }
    }

    #[test]
    fn a_whole_start_is_not_doubted_and_an_empty_figure_is() {
        assert_eq!(doubt(&whole(), false, false), None);
        let empty = |alternates, unread| doubt(&whole(), alternates, unread);
        assert_eq!(empty(true, false), Some(Doubt::Empty(Missing::Frequency)));
        assert_eq!(empty(false, true), Some(Doubt::Empty(Missing::Rise)));
        let mut start = whole();
        start.measures.wander_v = None;
        let missing = Some(Doubt::Empty(Missing::Wander));
        assert_eq!(doubt(&start, false, false), missing);
        start.instants.t_settled_s = None;
        let missing = Some(Doubt::Empty(Missing::Settling));
        assert_eq!(doubt(&start, false, false), missing);
        start.measures.run_a = None;
        let missing = Some(Doubt::Empty(Missing::RunLevel));
        assert_eq!(doubt(&start, false, false), missing);
    }

    #[test]
    fn a_flag_that_says_why_or_a_doubt_is_enough() {
        let mut start = whole();
        start.measures.wander_v = None;
        for flag in [Flag::NoVoltage, Flag::ShortWindow, Flag::NotSettled] {
            start.flags = vec![flag];
            assert_eq!(doubt(&start, false, false), None);
        }
        start.flags = vec![Flag::Discharge];
        assert!(doubt(&start, false, false).is_some());
        start.doubt(Doubt::NoRest);
        assert_eq!(doubt(&start, false, false), None);
    }
}
