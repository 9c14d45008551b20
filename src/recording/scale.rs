//! From raw values to amps and volts, and how sure that is.

/// Where the zero of a trace comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Zero {
    /// From idle stretches, followed along the recording.
    Auto,
    /// Stated, A or V.
    Stated(f64),
}

/// What makes A or V of a raw value.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Scale {
    /// A or V for a raw value of 1.
    pub gain: f64,
    /// Its zero.
    pub zero: Zero,
    /// A or V at full scale, where the recording has one.
    pub full_scale: Option<f64>,
    /// Tolerances of everything in the chain, %; each is the half-width of a rectangular distribution.
    pub tolerances_pct: Vec<f64>,
    /// Smallest step of the logger, A or V; 0 where there is none.
    pub step: f64,
}

impl Scale {
    /// Values that are in A or V already.
    pub fn unit() -> Scale {
        Scale {
            gain: 1.0,
            zero: Zero::Stated(0.0),
            full_scale: None,
            tolerances_pct: Vec::new(),
            step: 0.0,
        }
    }

    /// Standard uncertainty of a level, A or V.
    ///
    /// Every tolerance and the step are rectangular: half-width over √3 (JCGM 100:2008, 4.3.7),
    /// combined by root sum of squares (5.1.2).
    pub fn standard_uncertainty(&self, level: f64) -> f64 {
        let relative: f64 = self
            .tolerances_pct
            .iter()
            .map(|pct| (pct / 100.0).powi(2) / 3.0)
            .sum();
        let step = (self.step / 2.0).powi(2) / 3.0;
        (relative * level * level + step).sqrt()
    }
}
