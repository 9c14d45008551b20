//! Two-level trackers: a trace, sample by sample, becomes stretches with interpolated ends.
//!
//! All times here are frame numbers with a fraction, so that a stretch means the same at any rate.

/// A stretch between two instants, in frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Span {
    pub on: f64,
    pub off: f64,
}

impl Span {
    pub fn len(self) -> f64 {
        self.off - self.on
    }
}

/// A stretch of conducting in one direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ConductRun {
    /// +1 or −1: the sign of the current.
    pub sign: i8,
    pub span: Span,
}

/// What a tracker tells at a sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Event {
    /// A stretch has outlasted the guard; it began here.
    On(f64),
    /// A stretch that had outlasted the guard is over.
    Off(ConductRun),
}

/// Follows one trace with two levels. A stretch begins where the magnitude reaches `enter` and ends where it,
/// in the stretch's own sign, falls under `leave`; one shorter than `guard` frames is ignition hash and is not reported.
#[derive(Debug, Clone)]
pub(crate) struct Tracker {
    enter: f64,
    leave: f64,
    guard: u64,
    previous: Option<f64>,
    sign: i8,
    on: f64,
    frames_on: u64,
}

impl Tracker {
    pub fn new(enter: f64, leave: f64, guard: u64) -> Self {
        assert!(leave <= enter && leave >= 0.0, "hysteresis upside down");
        Tracker {
            enter,
            leave,
            guard,
            previous: None,
            sign: 0,
            on: 0.0,
            frames_on: 0,
        }
    }

    /// Whether the last sample lay inside a stretch, told or not.
    pub fn is_on(&self) -> bool {
        self.sign != 0
    }

    /// Whether the stretch under way has outlasted the guard.
    pub fn is_told(&self) -> bool {
        self.is_on() && self.frames_on >= self.guard
    }

    /// Where the stretch under way began.
    pub fn began(&self) -> f64 {
        self.on
    }

    /// Takes the sample of frame `n`; returns at most an end and a beginning.
    pub fn push(&mut self, n: u64, x: f64) -> [Option<Event>; 2] {
        let mut events = [None, None];
        if self.sign != 0 && x * f64::from(self.sign) < self.leave {
            events[0] = self.end_at(self.crossing(n, x, self.leave)).map(Event::Off);
        }
        if self.sign == 0 && x.abs() >= self.enter {
            self.sign = if x > 0.0 { 1 } else { -1 };
            self.on = self.crossing(n, x, self.enter);
            self.frames_on = 0;
        }
        if self.sign != 0 {
            self.frames_on += 1;
            if self.frames_on == self.guard {
                events[1] = Some(Event::On(self.on));
            }
        }
        self.previous = Some(x);
        events
    }

    /// Ends the stretch under way at an instant, where it has outlasted the guard.
    pub fn end_at(&mut self, off: f64) -> Option<ConductRun> {
        let told = self.is_told();
        let run = ConductRun {
            sign: self.sign,
            span: Span { on: self.on, off },
        };
        self.sign = 0;
        told.then_some(run)
    }

    /// Tells the sample before the next one, after some were passed over.
    pub fn resume_after(&mut self, x: f64) {
        self.previous = Some(x);
    }

    /// Whether a stretch of samples between `low` and `high` leaves this tracker as it is.
    /// The ends are single precision, hence the small allowance.
    pub fn unchanged_by(&self, low: f32, high: f32) -> bool {
        const ALLOWANCE: f64 = 1e-5;
        let (low, high) = (f64::from(low), f64::from(high));
        match self.sign {
            0 => high.max(-low) < self.enter * (1.0 - ALLOWANCE),
            1 => self.is_told() && low > self.leave * (1.0 + ALLOWANCE),
            _ => self.is_told() && -high > self.leave * (1.0 + ALLOWANCE),
        }
    }

    /// Where the line from the previous sample to this one, in the stretch's sign, meets the level.
    fn crossing(&self, n: u64, x: f64, level: f64) -> f64 {
        let sign = f64::from(self.sign);
        let Some(previous) = self.previous else {
            return n as f64;
        };
        let (a, b) = (previous * sign, x * sign);
        (n - 1) as f64 + (level - a) / (b - a)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn runs(samples: &[f64], guard: u64) -> Vec<ConductRun> {
        let mut tracker = Tracker::new(2.0, 1.0, guard);
        let mut found: Vec<ConductRun> = Vec::new();
        for (n, &x) in samples.iter().enumerate() {
            for event in tracker.push(n as u64, x).into_iter().flatten() {
                if let Event::Off(run) = event {
                    found.push(run);
                }
            }
        }
        found
    }

    #[test]
    fn ends_are_interpolated_between_samples() {
        let found = runs(&[0.0, 0.0, 4.0, 4.0, 4.0, 0.0], 1);
        assert_eq!(
            found,
            [ConductRun {
                sign: 1,
                span: Span { on: 1.5, off: 4.75 }
            }]
        );
    }

    #[test]
    fn a_slow_end_is_interpolated_whatever_its_sign() {
        for sign in [1, -1] {
            let wave = [0.5, 1.5, 3.5, 1.5, 0.5, 0.0].map(|x| x * f64::from(sign));
            let found = runs(&wave, 1);
            assert_eq!(
                found,
                [ConductRun {
                    sign,
                    span: Span { on: 1.25, off: 3.5 }
                }]
            );
        }
    }

    #[test]
    fn between_the_levels_nothing_changes() {
        assert!(runs(&[0.0, 1.5, 1.9, 1.5, 0.0], 1).is_empty());
        assert_eq!(runs(&[0.0, 3.0, 1.5, 3.0, 1.1, 0.0], 1).len(), 1);
        // Reached is on, and only under the lower level is off.
        assert_eq!(runs(&[0.0, 2.0, 1.0, 2.0, 0.0], 1).len(), 1);
    }

    #[test]
    fn a_spike_shorter_than_the_guard_is_not_told() {
        assert!(runs(&[0.0, 9.0, -9.0, 9.0, 0.0, 0.0], 2).is_empty());
        assert_eq!(runs(&[0.0, 9.0, 9.0, 0.0], 2).len(), 1);
    }

    #[test]
    fn alternating_current_gives_a_run_a_half_cycle() {
        let found = runs(&[0.0, 5.0, 5.0, -5.0, -5.0, 5.0, 5.0, 0.0], 1);
        assert_eq!(found.iter().map(|r| r.sign).collect::<Vec<_>>(), [1, -1, 1]);
    }

    /// Source: dip example constructed after IEC 61000-4-30 (threshold 90, hysteresis 2): 100, 89, 91, 91.9, 92, 100 at 1 ms is
    /// one dip from sample 1 to sample 4, 3 ms long; without hysteresis it ends at sample 2. The tracker sees it upside down.
    #[test]
    fn a_dip_ends_where_threshold_and_hysteresis_are_passed() {
        let dip = |leave: f64| {
            let mut tracker = Tracker::new(10.0, leave, 1);
            let samples = [100.0, 89.0, 91.0, 91.9, 92.0, 100.0];
            let told = samples
                .iter()
                .enumerate()
                .flat_map(|(n, x)| tracker.push(n as u64, 100.0 - x));
            let ends: Vec<Span> = told
                .flatten()
                .filter_map(|e| {
                    if let Event::Off(run) = e {
                        Some(run.span)
                    } else {
                        None
                    }
                })
                .collect();
            assert_eq!(ends.len(), 1);
            (ends[0].on.ceil(), ends[0].off.ceil())
        };
        assert_eq!(dip(8.0), (1.0, 4.0));
        assert_eq!(dip(10.0), (1.0, 2.0));
    }

    #[test]
    fn an_end_above_zero_is_interpolated_too() {
        let found = runs(&[0.0, 4.0, 4.0, 0.5], 1);
        assert_eq!(found[0].span.off, 2.0 + 3.0 / 3.5);
    }

    #[test]
    fn a_beginning_is_told_once_when_it_has_outlasted_the_guard() {
        let mut tracker = Tracker::new(2.0, 1.0, 3);
        let told: Vec<usize> = [0.0, 4.0, 4.0, 4.0, 4.0, 0.0]
            .iter()
            .enumerate()
            .filter(|(n, x)| tracker.push(*n as u64, **x)[1] == Some(Event::On(0.5)))
            .map(|(n, _)| n)
            .collect();
        assert_eq!(told, [3]);
    }

    #[test]
    fn samples_that_cannot_pass_the_level_in_force_change_nothing() {
        let after = |samples: &[f64]| {
            let mut tracker = Tracker::new(2.0, 1.0, 2);
            for (n, x) in samples.iter().enumerate() {
                tracker.push(n as u64, *x);
            }
            tracker
        };
        let off = after(&[0.0]);
        assert!(off.unchanged_by(-1.9, 1.9));
        assert!(!off.unchanged_by(-1.9, 2.1) && !off.unchanged_by(-2.1, 1.9));
        for sign in [1.0, -1.0] {
            let unchanged = |tracker: &Tracker, near: f32, far: f32| match sign > 0.0 {
                true => tracker.unchanged_by(near, far),
                false => tracker.unchanged_by(-far, -near),
            };
            let on = after(&[0.0, 3.0 * sign, 3.0 * sign]);
            assert!(unchanged(&on, 1.1, 9.0) && !unchanged(&on, 0.9, 9.0));
            // The ends are single precision: on the level itself nothing is sure.
            assert!(!unchanged(&on, 1.000_005, 9.0));
            assert!(!unchanged(&on, -9.0, -1.1));
            let untold = after(&[0.0, 3.0 * sign]);
            assert!(!unchanged(&untold, 1.1, 9.0));
        }
        assert!(!off.unchanged_by(0.0, 1.999_99));
    }
}
