//! How an arc's voltage answers the steps of a pulsed current.
//!
//! Over all that a pulse does, least squares take what wanders with its frequency for the arc's answer. A step is over before a wander has
//! moved: in the second differences there is little else.

use crate::start::measure::spectrum::dot;

/// The slope counts where its standard error, in volts rms of what the current explains, is no more than this.
const SURE_V: f64 = 0.04;

/// The slope of the voltage over the current by their second differences, Ω; `None` where the current has no steps.
pub(crate) fn slope(volts: &[f64], amps: &[f64]) -> Option<f64> {
    let bends = |x: &[f64]| -> Vec<f64> {
        let bends = x.windows(3).map(|w| w[0] - 2.0 * w[1] + w[2]);
        bends.collect()
    };
    let (v, i) = (bends(volts), bends(amps));
    let squares = dot(&i, &i);
    let ohm = dot(&v, &i) / squares;
    let left = v.iter().zip(&i).map(|(v, i)| (v - ohm * i).powi(2));
    let error = (left.sum::<f64>() / v.len() as f64 / squares).sqrt();
    let sure = error * deviation(amps) <= SURE_V;
    sure.then_some(ohm)
}

fn deviation(x: &[f64]) -> f64 {
    let n = x.len() as f64;
    let mean = x.iter().sum::<f64>() / n;
    (x.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 60 values a second of a pulse of 8.3 Hz between 40 A and 80 A on 0.02 Ω, and a wander of 0.2 V that goes with it.
    #[test]
    fn a_wander_of_the_frequency_of_a_pulse_is_no_slope() {
        let at = |k: u32| f64::from(k) / 60.0;
        let amps: Vec<f64> = (0..60)
            .map(|k| {
                if (8.3 * at(k)).fract() < 0.5 {
                    80.0
                } else {
                    40.0
                }
            })
            .collect();
        let wander = |k: u32| 0.2 * (std::f64::consts::TAU * 8.3 * at(k)).sin();
        let volts: Vec<f64> = (0..60)
            .map(|k| 10.0 + 0.02 * amps[k as usize] + wander(k))
            .collect();
        let ohm = slope(&volts, &amps).unwrap();
        assert!((ohm - 0.02).abs() < 0.0035, "{ohm}");
    }

    /// A pedal has no steps: its second differences are noise.
    #[test]
    fn a_current_without_steps_has_none() {
        let mut chance = tipstrike_demo::Chance::new(4, 0);
        let mut noisy = |x: f64| x + 0.02 * chance.normals().0;
        let amps: Vec<f64> = (0..200)
            .map(|k| noisy(80.0 + 20.0 * (0.02 * f64::from(k)).sin()))
            .collect();
        let volts: Vec<f64> = amps.iter().map(|i| noisy(10.0 + 0.02 * i)).collect();
        assert_eq!(slope(&volts, &amps), None);
    }
}
