//! Works out one even rate from the times of the rows, and separates gaps, jitter and coarse writing.

/// A step longer than this many usual steps is a gap: one lost sample is bridged, two are not.
const GAP: f64 = 2.5;
/// Times within this fraction of a step of the even grid count as even.
const EVEN: f64 = 0.1;
/// The rate is rounded to whole Hz if that moves no row by more than this fraction of a step.
const ROUND: f64 = 0.05;
/// Half a day, s: a time of day that goes back further has passed midnight.
const HALF_DAY: f64 = 43_200.0;

/// Spacing of the rows, learnt from the first ones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pace {
    /// Usual step, s.
    pub step: f64,
    /// Resolution of the written times, s.
    pub resolution: f64,
}

impl Pace {
    /// Learns from the first times; `None` if they do not rise.
    pub fn of(times: &[f64], resolution: f64) -> Option<Pace> {
        let mut steps: Vec<f64> = times
            .windows(2)
            .map(|w| w[1] - w[0])
            .filter(|d| *d >= 0.0)
            .collect();
        if steps.is_empty() {
            return None;
        }
        let middle = steps.len() / 2;
        let median = *steps.select_nth_unstable_by(middle, f64::total_cmp).1;
        // If times are written more coarsely than the steps, only the mean over many rows gives the step.
        let step = if median > 2.0 * resolution {
            median
        } else {
            mean_step(times, resolution)
        };
        (step > 0.0 && step.is_finite()).then_some(Pace { step, resolution })
    }

    /// Whether a row one step later follows without a gap.
    pub fn follows(&self, step: f64) -> bool {
        let coarse = self.resolution > 0.5 * self.step;
        (step > 0.0 || coarse && step == 0.0) && step <= GAP * self.step + 1.01 * self.resolution
    }

    /// Number of usual steps in a step, such as two if one row was lost.
    pub fn steps(&self, step: f64) -> u64 {
        let one_lost = self.resolution <= 0.5 * self.step && (step / self.step - 2.0).abs() < 0.2;
        if one_lost { 2 } else { 1 }
    }

    /// Whether times with this deviation from the even grid, s, are even.
    pub fn is_even(&self, off: f64) -> bool {
        off <= (EVEN * self.step).max(2.02 * self.resolution)
    }
}

/// Mean step of consecutive rows, without steps that are far too long.
fn mean_step(times: &[f64], resolution: f64) -> f64 {
    let usual = |d: &f64| (0.0..=3.0 * resolution).contains(d);
    let steps: Vec<f64> = times
        .windows(2)
        .map(|w| w[1] - w[0])
        .filter(usual)
        .collect();
    steps.iter().sum::<f64>() / steps.len().max(1) as f64
}

/// Rate of rows from the time between first and last, rounded to whole Hz if that changes nothing.
pub(crate) fn rate(steps: u64, seconds: f64) -> f64 {
    let rate = steps as f64 / seconds;
    let whole = rate.round();
    if whole > 0.0 && (rate / whole - 1.0).abs() * steps as f64 <= ROUND {
        whole
    } else {
        rate
    }
}

/// Unwraps times of day that pass midnight.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Midnight {
    /// Correction added to written times, s.
    pub added: f64,
    last: Option<f64>,
    of_day: bool,
}

impl Midnight {
    /// `of_day` says that the times are times of day.
    pub fn new(of_day: bool) -> Midnight {
        Midnight {
            added: 0.0,
            last: None,
            of_day,
        }
    }

    /// Returns the next time.
    pub fn pass(&mut self, written: f64) -> f64 {
        if self.of_day
            && self
                .last
                .is_some_and(|last| written + self.added < last - HALF_DAY)
        {
            self.added += 2.0 * HALF_DAY;
        }
        let time = written + self.added;
        self.last = Some(time);
        time
    }

    /// Shifts all following times so that `written` becomes `time`.
    pub fn restart(&mut self, written: f64, time: f64) {
        self.added = time - written;
        self.last = Some(time);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_lost_sample_follows_and_two_do_not() {
        let pace = Pace::of(&[0.0, 1e-3, 2e-3, 3e-3], 1e-6).unwrap();
        assert!((pace.step - 1e-3).abs() < 1e-12);
        assert!(pace.follows(1e-3) && pace.follows(2e-3) && !pace.follows(3e-3));
        assert!(!pace.follows(0.0) && !pace.follows(-1e-3));
    }

    #[test]
    fn times_written_too_coarsely_still_give_the_step() {
        // 10 kHz with times written to the millisecond.
        let times: Vec<f64> = (0..1000)
            .map(|k| (f64::from(k) * 0.1).floor() / 1000.0)
            .collect();
        let pace = Pace::of(&times, 1e-3).unwrap();
        assert!((pace.step / 1e-4 - 1.0).abs() < 0.02, "{}", pace.step);
        assert!(pace.follows(0.0) && pace.follows(1e-3) && !pace.follows(5e-3));
    }

    #[test]
    fn the_rate_is_rounded_only_where_no_row_moves() {
        assert_eq!(rate(20_000, 1.000_001), 20_000.0);
        assert!((rate(20_000, 1.000_01) - 19_999.8).abs() < 1e-3);
    }

    #[test]
    fn a_time_of_day_passes_midnight() {
        let mut clock = Midnight::new(true);
        assert_eq!(
            [86_399.0, 0.5, 1.0].map(|t| clock.pass(t)),
            [86_399.0, 86_400.5, 86_401.0]
        );
    }
}
