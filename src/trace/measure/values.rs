//! The measures of a row of the starts table, in little memory: a table may have millions of rows, and of most measures no value.

use crate::measure::{Measure, Measures};

/// Measures that have a value. Each is read by its name, as of [`Measures`].
#[derive(Debug, Clone, Default, PartialEq)]
pub struct MeasureValues {
    /// One bit a measure: whether it has a value.
    given: u64,
    /// The values, in the order of the measures.
    values: Vec<f64>,
}

/// As many as an answer rests on.
const FEW: usize = 6;

// Each measure has its bit.
const _: () = assert!(Measure::ALL.len() <= 64);

impl MeasureValues {
    /// The value of a measure.
    pub fn get(&self, measure: Measure) -> Option<f64> {
        (self.given & bit(measure) != 0).then(|| self.values[self.place(measure)])
    }

    /// Sets the value of a measure.
    pub fn set(&mut self, measure: Measure, value: Option<f64>) {
        let place = self.place(measure);
        match (self.given & bit(measure) != 0, value) {
            (true, Some(value)) => self.values[place] = value,
            (true, None) => _ = self.values.remove(place),
            (false, Some(value)) => {
                if self.values.capacity() == 0 {
                    self.values.reserve_exact(FEW);
                }
                self.values.insert(place, value);
            }
            (false, None) => return,
        }
        match value {
            Some(_) => self.given |= bit(measure),
            None => self.given &= !bit(measure),
        }
    }

    /// How many of the measures before it have a value.
    fn place(&self, measure: Measure) -> usize {
        (self.given & (bit(measure) - 1)).count_ones() as usize
    }
}

fn bit(measure: Measure) -> u64 {
    1 << measure as u64
}

impl From<&Measures> for MeasureValues {
    fn from(measures: &Measures) -> MeasureValues {
        let mut values = MeasureValues::default();
        for measure in Measure::ALL {
            values.set(*measure, measures.get(*measure));
        }
        values
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_found_again_whatever_was_set_and_taken_away_about_it() {
        let mut values = MeasureValues::default();
        let (first, last) = (Measure::ALL[0], *Measure::ALL.last().unwrap());
        values.set(last, Some(3.0));
        values.set(Measure::RunA, Some(80.0));
        values.set(first, Some(1.0));
        values.set(Measure::RunA, Some(81.0));
        assert_eq!(values.run_a(), Some(81.0));
        values.set(first, None);
        assert_eq!((values.get(first), values.start_ms()), (None, None));
        assert_eq!((values.run_a(), values.get(last)), (Some(81.0), Some(3.0)));
        let measures = Measures {
            run_a: Some(81.0),
            u_wander_v: Some(3.0),
            ..Measures::default()
        };
        assert_eq!(values, MeasureValues::from(&measures));
    }
}
