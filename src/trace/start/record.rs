//! One start: its instants, its measures, its flags and what makes it doubtful.

use serde::{Deserialize, Serialize};

use crate::flag::Flag;
use crate::job::Context;
use crate::measure::Measures;
use crate::recording::Finding;
use crate::start::doubt::Doubt;
use crate::start::measure::preview::Preview;

/// The instants of one start, seconds from the recording's first sample.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Instants {
    /// The circuit opened up for an arc; `None` without a voltage trace or without an open stretch.
    pub t_open_s: Option<f64>,
    /// First current; `None` where the circuit was open and nothing conducted at all.
    pub t_first_s: Option<f64>,
    /// The arc holds from here.
    pub t_lit_s: Option<f64>,
    /// The current has settled.
    pub t_settled_s: Option<f64>,
    /// The arc went out (or the last attempt did); `None` where the recording ends first.
    pub t_out_s: Option<f64>,
}

/// One start, found and measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Start {
    /// Its instants.
    pub instants: Instants,
    /// Its measures.
    pub measures: Measures,
    /// Its flags, sorted, each once.
    pub flags: Vec<Flag>,
    /// Why its reading cannot be trusted; empty where it can.
    pub doubts: Vec<Doubt>,
    /// What a figure needs of its traces; not kept with the rest.
    #[serde(skip)]
    pub preview: Option<Box<Preview>>,
}

impl Start {
    /// Whether an arc held.
    pub fn lit(&self) -> bool {
        self.instants.t_lit_s.is_some()
    }

    /// Marks the start as doubtful; the same doubt counts once.
    pub fn doubt(&mut self, doubt: Doubt) {
        if !self.doubts.contains(&doubt) {
            self.doubts.push(doubt);
        }
        self.flag(Flag::Doubtful);
    }

    /// Adds a flag, keeping them sorted, each once.
    pub fn flag(&mut self, flag: Flag) {
        if let Err(place) = self.flags.binary_search(&flag) {
            self.flags.insert(place, flag);
        }
    }

    /// Carries the flags of what was found about its recording, as far as that reaches into its time, s.
    pub(crate) fn carry(
        &mut self,
        findings: &[Finding],
        (from_s, to_s): (f64, f64),
        context: &Context,
    ) {
        let reaches = |(on, off): &(f64, f64)| *on <= to_s && *off >= from_s;
        let Context {
            process, helium, ..
        } = *context;
        for finding in findings
            .iter()
            .filter(|f| f.speaks_against(process, helium))
        {
            if !finding.spans_s.is_empty() && !finding.spans_s.iter().any(reaches) {
                continue;
            }
            self.flag(finding.flag);
            if finding.spoils_starts() {
                self.doubt(Doubt::Recording(finding.clone()));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Process;
    use crate::recording::{Polarity, Seen};

    fn under(process: Option<Process>, helium: bool) -> Context {
        Context {
            process,
            helium,
            ..Context::default()
        }
    }

    fn carried(finding: Finding, context: &Context) -> Start {
        let mut start = Start {
            instants: Default::default(),
            measures: Default::default(),
            flags: vec![Flag::Retry],
            doubts: Vec::new(),
            preview: None,
        };
        start.carry(&[finding], (10.0, 12.0), context);
        start
    }

    #[test]
    fn a_finding_reaches_the_starts_where_it_has_its_place() {
        let rows = |spans: &[(f64, f64)]| {
            let finding = Finding::within(Seen::OverRange { rows: 3 }, spans.to_vec());
            carried(finding, &Context::default())
                .flags
                .contains(&Flag::Clipped)
        };
        assert!(rows(&[]) && rows(&[(1.0, 2.0), (11.9, 14.0)]));
        assert!(!rows(&[(1.0, 9.9), (12.1, 14.0)]));
    }

    #[test]
    fn an_arc_on_the_positive_electrode_is_a_fault_on_dc_only() {
        let flags = |process: Option<Process>| {
            carried(
                Finding::new(Seen::Polarity(Polarity::ElectrodePositive { amps: 80.0 })),
                &under(process, false),
            )
            .flags
        };
        for process in [None, Some(Process::Dc)] {
            assert_eq!(flags(process), [Flag::Polarity, Flag::Retry]);
        }
        for process in [Process::Dcep, Process::Ac] {
            assert_eq!(flags(Some(process)), [Flag::Retry]);
        }
    }

    #[test]
    fn an_arc_over_the_load_line_is_no_fault_in_helium() {
        let doubted = |volts: f64, helium: bool| {
            let off = Seen::OffLoadLine {
                volts,
                amps: 100.0,
                line_v: 14.0,
            };
            let start = carried(Finding::new(off), &under(Some(Process::Dc), helium));
            !start.doubts.is_empty()
        };
        assert!(doubted(19.0, false) && !doubted(19.0, true));
        assert!(
            doubted(4.0, true) && doubted(30.0, true),
            "a scale is wrong in any gas"
        );
    }

    #[test]
    fn what_spoils_a_recording_makes_its_starts_doubtful_once() {
        let swapped = Finding::new(Seen::Swapped {
            volts_pct: 1.0,
            amps_pct: 20.0,
        });
        let context = Context::default();
        let mut start = carried(swapped.clone(), &context);
        start.carry(std::slice::from_ref(&swapped), (10.0, 12.0), &context);
        assert_eq!(
            start.flags,
            [Flag::Doubtful, Flag::ChannelsSwapped, Flag::Retry]
        );
        assert_eq!(start.doubts, [Doubt::Recording(swapped)]);
        let restored = carried(Finding::new(Seen::Restored { corner_hz: 2.0 }), &context);
        assert!(restored.doubts.is_empty());
    }
}
