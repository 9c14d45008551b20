//! What a machine's output capacitors discharge into the arc at the strike, told apart from the arc's own current.

/// Range of the discharge's time constant, s, and of the arc's own rise; steps even in the logarithm.
const DISCHARGE_S: (f64, f64, usize) = (30e-6, 600e-6, 14);
const RISE_S: (f64, f64, usize) = (0.3e-3, 60e-3, 16);
/// It begins with the strike: its peak comes within this, s, or two samples.
const PEAK_S: f64 = 250e-6;
/// It falls by this part of the arc's level …
const FALL: f64 = 0.15;
/// … within this, s.
const FALL_S: f64 = 2.5e-3;
/// Looked at after its peak, s.
const LOOKED_AT_S: f64 = 10e-3;
/// What the two exponentials leave, rms, as a part of the discharge's height.
const LEFT: f64 = 0.1;
/// … and a clean one less, of the arc's level too.
const CLEAN: f64 = 0.03;
/// A dip behind its peak comes within this, s, and reaches under this part of the level.
const DIP_S: f64 = 0.6e-3;
const DIP: f64 = 0.93;
/// It comes back by this part of the level.
const BACK: f64 = 0.22;
/// Falling to this part of what it came back by is falling again, as pulses do; behind an overshoot it stays over that.
const AGAIN: f64 = 0.2;
/// A first overshoot is passed by no more than this, by noise.
const PASSED: f64 = 1.05;
/// Time constants after which it is over.
const OVER: f64 = 5.0;

/// A discharge that was taken out, or a spike on the strike that no exponential is like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Discharge {
    /// The sample at its peak.
    pub top: usize,
    /// Its time constant, samples.
    pub tau: f64,
    /// The sample from which it is over.
    pub over: usize,
    /// It is as near to an exponential as a capacitor's through a resistance is: what it lies on is what was left when it was taken out.
    pub clean: bool,
}

/// Takes a discharge out of a current that begins at the strike and comes to `level`: i = level + b·exp(−t/τ₁) + a·exp(−t/τ₂), for the
/// time constants that explain most. Returns what it was; `None` where there is none. A spike stays in it.
pub(crate) fn take_out(wave: &mut [f64], rate_hz: f64, level: f64) -> Option<Discharge> {
    let top = peak(wave, rate_hz, level)?;
    let within = |s: f64| (s * rate_hz) as usize;
    let end = wave.len().min(top + within(LOOKED_AT_S));
    let fall = fall(wave, rate_hz, top);
    let Some(Fit { height, tau, left }) = fit(&wave[top..end], rate_hz, level) else {
        // It lies where the rise began, and hides that.
        let dip = &fall[..fall.len().min(within(DIP_S) + 1)];
        let lies_on_it = is_spike(fall, level) || is_passed(fall) || has_dip(fall, dip, level);
        return lies_on_it.then_some(Discharge {
            top,
            tau: 1.0,
            over: top,
            clean: true,
        });
    };
    for (k, x) in wave[top..].iter_mut().enumerate() {
        *x -= height * (-(k as f64) / (tau * rate_hz)).exp();
    }
    let begins = wave[top].max(0.0);
    wave[..top].iter_mut().for_each(|x| *x = x.min(begins));
    let tau = tau * rate_hz;
    let over = top + (OVER * tau).ceil() as usize;
    let clean = left * (height / level).max(1.0) <= CLEAN;
    Some(Discharge {
        top,
        tau,
        over,
        clean,
    })
}

/// The sample at which a current that begins at the strike stands highest, where it falls from there as a discharge does.
fn peak(wave: &[f64], rate_hz: f64, level: f64) -> Option<usize> {
    let first = &wave[..wave.len().min((PEAK_S * rate_hz).max(2.0) as usize + 2)];
    let top = (0..first.len()).max_by(|a, b| first[*a].total_cmp(&first[*b]))?;
    let fall = fall(wave, rate_hz, top);
    let lowest = fall.iter().copied().fold(f64::INFINITY, f64::min);
    (fall.len() >= 4 && wave[top] - lowest >= FALL * level).then_some(top)
}

fn fall(wave: &[f64], rate_hz: f64, top: usize) -> &[f64] {
    &wave[top..wave.len().min(top + (FALL_S * rate_hz) as usize + 1)]
}

/// Whether what falls is a spike, of a sample or two: it falls to under half of the level, where an overshoot does not, and only once, where
/// pulses do again.
fn is_spike(fall: &[f64], level: f64) -> bool {
    let half = 0.5 * level;
    let falls = fall.windows(2).filter(|w| w[0] >= half && w[1] < half);
    falls.count() == 1
}

/// Whether what falls is passed again, as a first overshoot never is: it lies on the rise.
fn is_passed(fall: &[f64]) -> bool {
    let highest = fall.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    highest > PASSED * fall[0]
}

/// Whether what falls dips under the level and comes back, once: no regulator's first overshoot rings so
/// much (a damping of 0.3 or more).
fn has_dip(fall: &[f64], dip: &[f64], level: f64) -> bool {
    let lowest = dip.iter().copied().fold(f64::INFINITY, f64::min);
    let at = dip.iter().position(|x| *x == lowest).unwrap_or(0);
    let highest = fall[at..].iter().copied().fold(lowest, f64::max);
    let low = lowest + AGAIN * (highest - lowest);
    let again = fall[at..].windows(2).any(|w| w[0] >= low && w[1] < low);
    lowest < DIP * level && highest - lowest >= BACK * level && !again
}

/// The faster of two exponentials.
struct Fit {
    height: f64,
    /// Time constant, s.
    tau: f64,
    /// What both leave, rms, as a part of its height.
    left: f64,
}

/// By least squares for each pair of time constants.
fn fit(fall: &[f64], rate_hz: f64, level: f64) -> Option<Fit> {
    let decays = |(from, to, steps): (f64, f64, usize)| {
        (0..steps).map(move |k| {
            let tau = from * (to / from).powf(k as f64 / (steps - 1) as f64);
            let decay = (0..fall.len()).map(|n| (-(n as f64) / (tau * rate_hz)).exp());
            (tau, decay.collect::<Vec<f64>>())
        })
    };
    let rest: Vec<f64> = fall.iter().map(|x| x - level).collect();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let rises: Vec<(f64, Vec<f64>)> = decays(RISE_S).collect();
    let whole = dot(&rest, &rest);
    let mut best: Option<(f64, f64, f64)> = None;
    for (tau, fast) in decays(DISCHARGE_S) {
        let (ff, xf) = (dot(&fast, &fast), dot(&rest, &fast));
        for (slow_tau, slow) in &rises {
            let (ss, fs, xs) = (dot(slow, slow), dot(&fast, slow), dot(&rest, slow));
            let det = ff * ss - fs * fs;
            if *slow_tau < 2.0 * tau || det <= 1e-6 * ff * ss {
                continue;
            }
            let (a, b) = ((xf * ss - xs * fs) / det, (xs * ff - xf * fs) / det);
            let left = (whole - a * xf - b * xs).max(0.0);
            if best.is_none_or(|best| left < best.0) {
                best = Some((left, a, tau));
            }
        }
    }
    let (left, height, tau) = best?;
    let left = (left / fall.len() as f64).sqrt() / height;
    (height >= FALL * level && left <= LEFT).then_some(Fit { height, tau, left })
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f64 = 20_000.0;

    fn arc(k: usize) -> f64 {
        100.0 * (1.0 - (-(k as f64) / RATE / 3e-3).exp())
    }

    /// 120 A that fall with 0.2 ms, on an arc that rises to 100 A with 3 ms.
    #[test]
    fn a_discharge_is_taken_out_of_the_rise_that_it_lies_on() {
        let mut wave: Vec<f64> = (0..800)
            .map(|k| arc(k) + 120.0 * (-(k as f64) / RATE / 0.2e-3).exp())
            .collect();
        wave.insert(0, 0.0);
        let Discharge {
            tau, over, clean, ..
        } = take_out(&mut wave, RATE, 100.0).unwrap();
        // 0.2 ms are four samples.
        assert!((tau - 4.0).abs() < 1.0, "{tau}");
        assert!(clean && (15..30).contains(&over), "{over}");
        for (k, x) in wave.iter().enumerate().skip(over) {
            assert!((x - arc(k - 1)).abs() < 2.0, "{k}: {x}");
        }
    }

    /// 90 A in the first sample of a rise, which a fit of exponentials would take for a part of it; pulses fall again and again.
    #[test]
    fn a_spike_on_the_strike_is_one_sample_long() {
        let struck = |k: usize| if k == 0 { 90.0 } else { arc(k) };
        let spiked: Vec<f64> = (0..800).map(struck).collect();
        assert!(is_spike(&spiked[..50], 100.0));
        let pulses: Vec<f64> = (0..50)
            .map(|k| if k % 6 < 3 { 100.0 } else { 30.0 })
            .collect();
        let overshoots: Vec<f64> = (0..50)
            .map(|k| 100.0 + 30.0 * (-f64::from(k)).exp())
            .collect();
        assert!(!is_spike(&pulses, 100.0) && !is_spike(&overshoots, 100.0));
        assert!(is_passed(&[97.0, 82.0, 74.0, 88.0, 107.0]) && !is_passed(&overshoots));
    }

    /// Half a sine of 100 A for 0.3 ms on a rise that shoots over by a fifth (ζ = 0.46); without it, and in pulses, nothing dips so.
    #[test]
    fn a_dip_that_comes_back_once_is_a_discharge_s() {
        let damped = |k: u32| {
            let t = f64::from(k) / RATE;
            let sway = (4440.0 * t).cos() + 0.518 * (4440.0 * t).sin();
            100.0 * (1.0 - (-2300.0 * t).exp() * sway)
        };
        let half = |k: u32| {
            let t = f64::from(k) / RATE;
            100.0 * (std::f64::consts::PI * t / 0.3e-3).sin() * f64::from(u8::from(t < 0.3e-3))
        };
        let dips = |wave: &dyn Fn(u32) -> f64| {
            let wave: Vec<f64> = (0..400).map(wave).collect();
            let top = (0..10)
                .max_by(|a, b| wave[*a].total_cmp(&wave[*b]))
                .unwrap();
            let fall = fall(&wave, RATE, top);
            has_dip(fall, &fall[..13.min(fall.len())], 100.0)
        };
        assert!(dips(&|k| damped(k) + half(k)));
        assert!(!dips(&damped));
        assert!(!dips(&|k| if k % 8 < 4 { 100.0 } else { 30.0 }));
    }

    #[test]
    fn a_rise_that_overshoots_by_itself_has_none() {
        let damped = |k: usize| {
            let t = k as f64 / RATE;
            100.0 * (1.0 - (-1200.0 * t).exp() * (2600.0 * t).cos())
        };
        for wave in [arc as fn(usize) -> f64, damped] {
            let before: Vec<f64> = (0..800).map(wave).collect();
            let mut seen = before.clone();
            assert_eq!(take_out(&mut seen, RATE, 100.0), None);
            assert_eq!(seen, before);
        }
    }
}
