//! Volts that the leads take: they rise with the current at every strike, where an arc's own voltage falls or stands.

use crate::error::Result;
use crate::recording::Cell;
use crate::recording::health::HealthCheck;
use crate::recording::health::droop::{centred, dot};
use crate::recording::source::{CURRENT, Raw, VOLTAGE};
use crate::stats::order::{median_in_place, part_in_place};

/// Strikes are looked at for this long from the cell before, s.
const LOOK_S: f64 = 0.06;
/// On its way up the current is between these parts of its level …
const ON_THE_WAY: std::ops::Range<f64> = 0.25..0.75;
/// … for this many samples.
const SAMPLES: usize = 2;
/// Its level is that this long after the strike, s: before the electrode has warmed and the foot has moved.
const SOON_S: f64 = 0.008;
/// A sample tells how the voltage goes with the current where its current is this part of the level off it …
const OFF: f64 = 0.08;
/// … and this many must, on the way up or in an overshoot …
const MOVED: usize = 5;
/// … this long after the strike, s: an arc has heat to store, and answers what is faster as a resistance does itself.
const ANSWERS_S: f64 = 0.001;
/// What stands between these parts of the usual voltage is no spark's.
const USUAL: std::ops::Range<f64> = 0.6..1.5;
/// Strikes that must show it.
const STRIKES: usize = 2;

impl HealthCheck<'_> {
    /// By how many volts the voltage rises with a direct current from nothing to its level, over the strikes; `None` where too few
    /// rise slowly enough for the samples.
    pub(super) fn rises_with_current(&mut self, amps: f64) -> Result<Option<f64>> {
        let reach = |c: &Cell| f64::from(c.amps[1].max(-c.amps[0]));
        let calm = |c: &Cell| reach(c) < ON_THE_WAY.start * amps;
        let burns = |c: &Cell| f64::from(c.amps[2].abs()) > ON_THE_WAY.end * amps;
        let strikes = self
            .cells
            .windows(3)
            .filter(|w| calm(&w[0]) && burns(&w[2]));
        let firsts: Vec<u64> = strikes.map(|w| w[1].first).collect();
        let rate = self.source.rate_hz();
        let (mut rises, mut raw) = (Vec::new(), Raw::default());
        for look in self.looks(&firsts, LOOK_S) {
            let cell = Cell {
                first: look.start,
                frames: (look.end - look.start) as u32,
                ..self.cells[0]
            };
            self.samples(&cell, &mut raw)?;
            let [amps, volts] = [CURRENT, VOLTAGE]
                .map(|trace| raw[trace].iter().map(|x| x.abs()).collect::<Vec<f64>>());
            let Some(strike) = Strike::found(&amps, &volts, rate) else {
                continue;
            };
            let told = [strike.rise(), strike.slope(rate)];
            rises.extend(told.into_iter().flatten().max_by(f64::total_cmp));
        }
        Ok(median_in_place(&mut rises).filter(|_| rises.len() >= STRIKES))
    }
}

/// One strike, from its way up until soon after it.
struct Strike<'a> {
    /// The current's level, A.
    level: f64,
    amps: &'a [f64],
    volts: &'a [f64],
}

impl<'a> Strike<'a> {
    fn found(amps: &'a [f64], volts: &'a [f64], rate_hz: f64) -> Option<Self> {
        let level = part_in_place(&mut amps.to_vec(), 0.7)?;
        let strike = amps.iter().position(|a| *a > ON_THE_WAY.start * level)?;
        let end = amps.len().min(strike + (SOON_S * rate_hz) as usize);
        Some(Self {
            level,
            amps: &amps[strike..end],
            volts: &volts[strike..end],
        })
    }

    /// By how much its voltage rises with its current, from nothing to its level.
    fn rise(&self) -> Option<f64> {
        let (mut way, mut there) = ([Vec::new(), Vec::new()], [Vec::new(), Vec::new()]);
        for (a, v) in self.amps.iter().zip(self.volts) {
            let part = a / self.level;
            let pair = match part {
                _ if ON_THE_WAY.contains(&part) => &mut way,
                0.92..1.5 => &mut there,
                _ => continue,
            };
            pair[CURRENT].push(*a);
            pair[VOLTAGE].push(*v);
        }
        if way[CURRENT].len() < SAMPLES || there[CURRENT].len() < SAMPLES {
            return None;
        }
        let change = |trace: usize, way: &mut [Vec<f64>; 2], there: &mut [Vec<f64>; 2]| {
            Some(median_in_place(&mut there[trace])? - median_in_place(&mut way[trace])?)
        };
        let by_amps = change(CURRENT, &mut way, &mut there)?;
        Some(change(VOLTAGE, &mut way, &mut there)? / by_amps * self.level)
    }

    /// The same by every sample soon after the strike, those of a slow overshoot too: least squares of v = a + b·i + c·t, since
    /// the arc cools down as long. The arc's own b is under zero.
    fn slope(&self, rate_hz: f64) -> Option<f64> {
        let usual = median_in_place(&mut self.volts.to_vec())?;
        let part = |k: usize| self.amps[k] / self.level;
        let rows = ((ANSWERS_S * rate_hz) as usize..self.amps.len()).filter(|k| {
            (ON_THE_WAY.start..1.5).contains(&part(*k)) && USUAL.contains(&(self.volts[*k] / usual))
        });
        let rows: Vec<usize> = rows.collect();
        let off = |k: &&usize| (part(**k) - 1.0).abs() > OFF;
        if rows.iter().filter(off).count() < MOVED {
            return None;
        }
        let of = |value: &dyn Fn(usize) -> f64| centred(rows.iter().map(|k| value(*k)).collect());
        let (t, mut i, v) = (
            of(&|k| k as f64),
            of(&|k| self.amps[k]),
            of(&|k| self.volts[k]),
        );
        let with_time = dot(&i, &t) / dot(&t, &t);
        i.iter_mut().zip(&t).for_each(|(i, t)| *i -= with_time * t);
        Some(dot(&v, &i) / dot(&i, &i) * self.level)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 100 A within a few milliseconds, after 10 ms of an open circuit of 70 V; the arc's own 12 V, 3 V more while it is cold.
    fn strike(ohm: f64) -> Option<f64> {
        let rate = 20_000.0;
        let (mut amps, mut volts) = (Vec::new(), Vec::new());
        for k in 0..1200 {
            let t = f64::from(k) / rate - 0.01;
            let a = if t < 0.0 {
                0.0
            } else {
                100.0 * (1.0 - (-t / 1e-3).exp())
            };
            amps.push(a);
            volts.push(if t < 0.0 {
                70.0
            } else {
                12.0 + 3.0 * (-t / 0.02).exp() + ohm * a
            });
        }
        Strike::found(&amps, &volts, rate)?.rise()
    }

    /// Ohm's law: 0.08 Ω take 8 V at 100 A; an arc alone rises by nothing.
    #[test]
    fn leads_take_volts_in_proportion_to_the_current() {
        let with = strike(0.08).unwrap();
        assert!((6.5..8.5).contains(&with), "{with}");
        let without = strike(0.0).unwrap();
        assert!(without < 0.5, "{without}");
    }

    /// A strike of 150 A too fast for the way up, with an overshoot of 40 A: 12 V, 3 V more while it is cold, and what the leads take.
    #[test]
    fn an_overshoot_tells_the_leads_too() {
        let strike = |ohm: f64| {
            let rate = 10_000.0;
            let amps = |k: u32| match k {
                0..100 => 0.0,
                _ => {
                    let t = f64::from(k - 100) / rate;
                    150.0 * (1.0 - (-t / 5e-5).exp()) + 5e5 * t * (-t / 4e-4).exp()
                }
            };
            let volts = |k: u32| match k {
                0..101 => 80.0,
                _ => 12.0 + 3.0 * (-f64::from(k - 100) / rate / 0.02).exp() + ohm * amps(k),
            };
            let of = |f: &dyn Fn(u32) -> f64| (0..600).map(f).collect::<Vec<f64>>();
            let (amps, volts) = (of(&amps), of(&volts));
            let strike = Strike::found(&amps, &volts, rate).unwrap();
            (strike.rise(), strike.slope(rate))
        };
        let (few, with) = strike(0.04);
        assert_eq!(few, None, "one sample on the way");
        let with = with.unwrap();
        assert!((5.0..6.5).contains(&with), "{with} is not 6 V");
        let without = strike(0.0).1.unwrap();
        assert!(without < 0.5, "{without}");
    }
}
