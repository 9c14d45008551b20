//! What real machines, neighbours and wirings put into a trace besides the weld.

use std::f64::consts::{PI, TAU};

use crate::chance::Chance;
use crate::setting::{Setting, open_s};

/// An error of one trace, in its unit.
#[derive(Debug, Clone, PartialEq)]
pub enum Fault {
    /// Picked up from the machine itself.
    PickUp {
        /// Amplitude.
        peak: f64,
        /// Frequency, Hz.
        hz: f64,
        /// Arches of one sign in place of a sine.
        rectified: bool,
        /// When it is there.
        during: During,
    },
    /// The zero moves once.
    Step {
        /// When, s.
        at_s: f64,
        /// By how much.
        by: f64,
    },
    /// The first arc leaves the sensor's core magnetised.
    Remanence(f64),
    /// The zero swings slowly.
    Swing {
        /// Amplitude.
        peak: f64,
        /// Period, s.
        period_s: f64,
    },
    /// Single samples at even times.
    Spikes {
        /// Highest.
        peak: f64,
        /// Interval, s.
        every_s: f64,
        /// From when to when, s.
        span_s: (f64, f64),
    },
    /// A single sample just before the circuit opens.
    EarlySpark(f64),
    /// Another machine's current.
    Neighbour {
        /// Its level.
        level: f64,
        /// Its pulses, Hz; steady where there are none.
        pulse_hz: Option<f64>,
        /// From when to when, s.
        span_s: (f64, f64),
    },
    /// A protection that lets no more than this through.
    Clamp(f64),
    /// The lead falls off at this instant, s.
    LeadOff(f64),
}

/// What the machine is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum During {
    /// It is on, without an arc.
    Open,
    /// An arc burns.
    Arc,
    /// It is on.
    On,
}

impl Fault {
    /// Puts the error into a trace.
    pub(super) fn put(&self, trace: &mut [f64], setting: &Setting<'_>, chance: &mut Chance) {
        let rate = setting.rate_hz;
        match *self {
            Fault::PickUp {
                peak,
                hz,
                rectified,
                during,
            } => {
                let phase = chance.between(0.0, TAU);
                for span in setting.spans(during) {
                    change(trace, span, rate, |t, x| {
                        *x += peak * pick_up(t * hz, phase, rectified);
                    });
                }
            }
            Fault::Step { at_s, by } => {
                change(trace, (at_s, f64::INFINITY), rate, |_, x| *x += by);
            }
            Fault::Remanence(by) => {
                let from = setting.arcs_s.first().map_or(f64::INFINITY, |arc| arc.1);
                change(trace, (from, f64::INFINITY), rate, |_, x| *x += by);
            }
            Fault::Swing { peak, period_s } => {
                let phase = chance.between(0.0, TAU);
                change(trace, (0.0, f64::INFINITY), rate, |t, x| {
                    *x += peak * libm::sin(TAU * t / period_s + phase);
                });
            }
            Fault::Spikes {
                peak,
                every_s,
                span_s,
            } => {
                let count =
                    ((span_s.1.min(trace.len() as f64 / rate) - span_s.0) / every_s) as usize;
                for k in 0..count {
                    let at = ((span_s.0 + k as f64 * every_s) * rate) as usize;
                    trace[at] += peak * chance.between(0.5, 1.0) * chance.one_of(&[1.0, -1.0]);
                }
            }
            Fault::EarlySpark(peak) => {
                for (on, _) in setting.on_s {
                    trace[(libm::ceil(on * rate) as usize).saturating_sub(1)] += peak;
                }
            }
            Fault::Neighbour {
                level,
                pulse_hz,
                span_s,
            } => change(trace, span_s, rate, |t, x| {
                let cycles = (t - span_s.0) * pulse_hz.unwrap_or(0.0);
                *x += if cycles - libm::floor(cycles) < 0.5 {
                    level
                } else {
                    0.0
                };
            }),
            Fault::Clamp(most) => trace.iter_mut().for_each(|x| *x = x.clamp(-most, most)),
            Fault::LeadOff(from_s) => {
                change(trace, (from_s, f64::INFINITY), rate, |_, x| *x = 0.0);
            }
        }
    }
}

fn pick_up(cycles: f64, phase: f64, rectified: bool) -> f64 {
    match rectified {
        true => libm::sin(PI * cycles + phase).abs(),
        false => libm::sin(TAU * cycles + phase),
    }
}

/// Changes every sample inside a span, which is told its time.
fn change(
    trace: &mut [f64],
    span_s: (f64, f64),
    rate_hz: f64,
    mut change: impl FnMut(f64, &mut f64),
) {
    let index = |t: f64| ((t.max(0.0) * rate_hz) as usize).min(trace.len());
    let (from, to) = (index(span_s.0), index(span_s.1));
    for (k, x) in trace[from..to.max(from)].iter_mut().enumerate() {
        change((from + k) as f64 / rate_hz, x);
    }
}

impl Setting<'_> {
    /// The spans in which the machine does this, s.
    fn spans(&self, during: During) -> Vec<(f64, f64)> {
        match during {
            During::Open => open_s(self.on_s, self.arcs_s),
            During::Arc => self.arcs_s.to_vec(),
            During::On => self.on_s.to_vec(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The machine goes off with its last arc: what is there while the circuit is open has no part in any arc.
    #[test]
    fn an_arc_that_ends_a_rounding_after_the_machine_is_no_open_circuit() {
        let setting = Setting {
            arcs_s: &[(0.3, 0.4), (0.5, 0.9 + 1e-9)],
            ..SETTING
        };
        assert_eq!(setting.spans(During::Open), [(0.2, 0.3), (0.4, 0.5)]);
    }

    const SETTING: Setting<'_> = Setting {
        rate_hz: 1000.0,
        mains_hz: 50.0,
        bursts_s: &[],
        on_s: &[(0.2, 0.9)],
        arcs_s: &[(0.3, 0.4), (0.5, 0.8)],
        bits: None,
    };

    fn put(fault: &Fault) -> Vec<f64> {
        let mut trace = vec![0.0; 1000];
        fault.put(&mut trace, &SETTING, &mut Chance::new(1, 0));
        trace
    }

    /// Indices that a fault changes: first, last, how many.
    fn changed(trace: &[f64]) -> (usize, usize, usize) {
        let at: Vec<usize> = (0..trace.len()).filter(|k| trace[*k] != 0.0).collect();
        (at[0], at[at.len() - 1], at.len())
    }

    #[test]
    fn pick_up_keeps_to_what_the_machine_does() {
        let during = |during| {
            changed(&put(&Fault::PickUp {
                peak: 2.0,
                hz: 97.0,
                rectified: true,
                during,
            }))
        };
        assert_eq!(during(During::On), (200, 899, 700));
        assert_eq!(during(During::Arc), (300, 799, 400));
        assert_eq!(during(During::Open), (200, 899, 300));
    }

    #[test]
    fn a_step_and_remanence_stay_from_their_instant_on() {
        let step = put(&Fault::Step {
            at_s: 0.25,
            by: -3.0,
        });
        assert_eq!(changed(&step), (250, 999, 750));
        assert_eq!(changed(&put(&Fault::Remanence(1.5))), (400, 999, 600));
    }

    #[test]
    fn an_early_spark_is_the_sample_before_the_circuit_opens() {
        assert_eq!(changed(&put(&Fault::EarlySpark(40.0))), (199, 199, 1));
    }

    #[test]
    fn a_neighbours_pulses_are_there_half_of_the_time() {
        let trace = put(&Fault::Neighbour {
            level: 2.0,
            pulse_hz: Some(5.0),
            span_s: (0.1, 0.9),
        });
        // A pulse's edge may fall on either side of a sample.
        assert!((398..=402).contains(&changed(&trace).2));
    }
}
