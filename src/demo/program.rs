//! The current asked of the machine at an instant: level, envelope, pulse, half-cycles; and what the rectifier leaves on it.

use crate::scenario::{AcPulse, Program, Ripple, RippleWave, Rise, Shape, Wave};

impl Program {
    /// Steady direct current, electrode negative, with a fast machine.
    pub fn steady(amps: f64) -> Self {
        Program {
            amps,
            envelope: Vec::new(),
            wave: Wave::Negative,
            rise: Rise::First { tau_s: 0.4e-3 },
            no_load_v: 78.0,
            ripple: None,
            ac_pulse: None,
        }
    }

    /// Current asked for at a time from the strike, A: positive while the electrode is negative.
    pub fn asked(&self, t: f64) -> f64 {
        let level = self.amps * self.factor(t) * self.ac_pulse.map_or(1.0, |p| p.at(t));
        match self.wave {
            Wave::Negative => level,
            Wave::Positive => -level,
            Wave::Pulse {
                hz,
                background,
                duty,
            } => match fraction(t * hz) < duty {
                true => level,
                false => level * background,
            },
            Wave::Ac { lead: Some(l), .. } if t < l.lasts_s => match l.positive {
                true => -l.amps,
                false => l.amps,
            },
            Wave::Ac {
                hz,
                en_share,
                ep_ratio,
                shape,
                lead,
            } => {
                let phase = fraction((t - lead.map_or(0.0, |l| l.lasts_s)).max(0.0) * hz);
                match phase < en_share {
                    true => level * shape.at(phase / en_share),
                    false => -level * ep_ratio * shape.at((phase - en_share) / (1.0 - en_share)),
                }
            }
        }
    }

    /// Whether the electrode is to be positive at a time from the strike.
    pub fn electrode_positive(&self, t: f64) -> bool {
        match self.wave {
            Wave::Negative | Wave::Pulse { .. } => false,
            Wave::Positive => true,
            Wave::Ac { lead: Some(l), .. } if t < l.lasts_s => l.positive,
            Wave::Ac {
                hz, en_share, lead, ..
            } => fraction((t - lead.map_or(0.0, |l| l.lasts_s)).max(0.0) * hz) >= en_share,
        }
    }

    /// Mean length of a half-cycle, s; `None` on DC.
    pub fn half_cycle_s(&self) -> Option<f64> {
        match self.wave {
            Wave::Ac { hz, .. } => Some(0.5 / hz),
            _ => None,
        }
    }

    fn factor(&self, t: f64) -> f64 {
        let after = self.envelope.iter().position(|k| k.at_s > t);
        match (after, self.envelope.last()) {
            (_, None) => 1.0,
            (None, Some(last)) => last.factor,
            (Some(0), _) => self.envelope[0].factor,
            (Some(k), _) => {
                let (a, b) = (self.envelope[k - 1], self.envelope[k]);
                a.factor + (b.factor - a.factor) * (t - a.at_s) / (b.at_s - a.at_s)
            }
        }
    }
}

impl AcPulse {
    /// Factor on the amplitude at a time from the strike.
    fn at(self, t: f64) -> f64 {
        match fraction(t.max(0.0) * self.hz) < self.duty {
            true => 1.0,
            false => self.background,
        }
    }
}

impl Ripple {
    /// Factor on the current at a time, its mean 1.
    pub(super) fn at(self, t: f64) -> f64 {
        let phase = fraction(t * self.hz);
        1.0 + self.share
            * match self.wave {
                RippleWave::Sine => 0.5 * libm::sin(std::f64::consts::TAU * phase),
                RippleWave::Saw => phase - 0.5,
                RippleWave::Rectified => {
                    libm::sin(std::f64::consts::PI * phase) - std::f64::consts::FRAC_2_PI
                }
            }
    }
}

impl Shape {
    /// Height, 0 to 1, at a part of the half-cycle.
    fn at(self, part: f64) -> f64 {
        match self {
            Shape::Square => 1.0,
            Shape::SoftSquare => (6.0 * part.min(1.0 - part)).min(1.0),
            Shape::Sine => libm::sin(std::f64::consts::PI * part),
            Shape::Triangle => 2.0 * part.min(1.0 - part),
        }
    }
}

/// What is left of a non-negative number when its whole part is taken away.
fn fraction(x: f64) -> f64 {
    x - libm::floor(x)
}
