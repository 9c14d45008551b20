//! One row of the starts table against what is true of its start: right, said, or silently wrong.

use std::collections::BTreeSet;

use serde_json::Value;
use tipstrike::demo::classes::{Class, ClassStart};

/// What a row came to.
#[derive(Debug, Clone, PartialEq)]
pub enum Finding {
    /// Every figure is inside its tolerance.
    Right {
        /// The row says that it cannot be trusted all the same.
        doubted: bool,
    },
    /// A figure is off or empty, and the row says why; or the start may only be said, and is.
    Said,
    /// Neither; with what is off.
    Silent(Vec<String>),
}

/// Flags that say that no figure of the row can be trusted.
const EVERYTHING: [&str; 7] = [
    "doubtful",
    "ac_coupled",
    "channels_swapped?",
    "polarity?",
    "dead_channel",
    "clipped",
    "gap",
];
/// Flags that say that a figure is off, or why it is empty.
const SOME: [(&str, &[&str]); 5] = [
    ("voltage_scale?", &["t_open_s", "wander_v"]),
    ("offset_drift", &["run_a", "t_first_s", "t_lit_s"]),
    ("skew", &["t_open_s", "t_first_s", "t_lit_s"]),
    ("rectifying", &["run_a", "t_settled_s"]),
    ("hum", &["wander_v"]),
];
/// Flags that say why a figure is empty.
const EMPTY: [(&str, &[&str]); 5] = [
    (
        "slow_rate",
        &[
            "rise_ms",
            "overshoot_pct",
            "pulse_hz",
            "ac_hz",
            "missed_halfcycles",
            "wander_v",
            "ripple_pct",
            "ripple_hz",
            "run_a",
            "t_settled_s",
        ],
    ),
    ("discharge", &["rise_ms", "overshoot_pct"]),
    ("rectifying", &["missed_halfcycles", "ac_hz"]),
    ("short_window", &["wander_v", "t_settled_s", "run_a"]),
    ("no_voltage", &["t_open_s", "touches", "wander_v"]),
];

/// A row as its table has it, against a start's truth.
pub struct Judge<'a> {
    pub class: Class,
    pub rate_hz: f64,
    pub start: &'a ClassStart,
    pub row: &'a Value,
}

impl Judge<'_> {
    pub fn finding(&self) -> Finding {
        let flags = self.flags();
        let everything = EVERYTHING.iter().any(|f| flags.contains(f));
        if self.start.only_said {
            let scale = matches!(
                self.class,
                Class::TenTimes | Class::LeadDrop | Class::LeadOff
            );
            let said = everything || scale && flags.contains("voltage_scale?");
            // What the fault left as it is, such as a sine wave without a mean behind a high-pass, is no wrong figure.
            let off = self.off();
            if said || flags.contains("no_voltage") || off.is_empty() {
                return Finding::Said;
            }
            let words = off.into_iter().map(|o| o.words);
            return Finding::Silent(words.collect());
        }
        let off = self.off();
        if off.is_empty() {
            return Finding::Right {
                doubted: flags.contains("doubtful"),
            };
        }
        let unsaid = off.iter().filter(|o| !everything && !o.said(&flags));
        let unsaid: Vec<String> = unsaid.map(|o| o.words.clone()).collect();
        match unsaid.is_empty() {
            true => Finding::Said,
            false => Finding::Silent(unsaid),
        }
    }

    fn flags(&self) -> BTreeSet<&str> {
        let flags = self.row["flags"].as_array().expect("flags are a list");
        flags.iter().filter_map(Value::as_str).collect()
    }

    /// The figures that are off.
    fn off(&self) -> Vec<Off> {
        let (t, more) = (&self.start.truth, &self.start.more);
        // Tolerances: this project's own, no standard gives any for arc starts.
        let instant = match self.class {
            Class::Hum => 1e-3,
            _ => f64::max(0.5e-3, 2.0 / self.rate_hz),
        };
        let part = |value: Option<f64>, share: f64| value.map_or(0.0, |v| share * v);
        let count = |n: usize| Some(n as f64);
        let lit = t.t_lit_s.is_some();
        let mut figures = vec![
            ("t_open_s", t.t_open_s, 2e-3),
            ("t_first_s", t.t_first_s, instant),
            ("t_lit_s", t.t_lit_s, instant),
            ("attempts", count(t.attempts), 0.1),
        ];
        if lit {
            figures.extend([
                ("t_settled_s", t.t_settled_s, 5e-3),
                ("run_a", t.run_a, part(t.run_a, 0.02)),
                ("wander_v", t.wander_v, part(t.wander_v, 0.15) + 0.03),
                ("dropouts", count(t.dropouts), 0.1),
                ("touches", count(t.touches), 0.1),
                ("ac_hz", t.ac_hz, part(t.ac_hz, 0.005)),
                (
                    "missed_halfcycles",
                    t.missed_halfcycles.and_then(count),
                    0.1,
                ),
            ]);
        }
        if self.start.only_said && lit {
            figures.push(("run_v", t.run_v, part(t.run_v, 0.05) + 0.3));
        }
        // Of pulses too few for the truth's own code to call them so either view is right.
        let few = self.class == Class::PulsedAc && t.pulse_hz.is_none();
        if matches!(self.class, Class::PulseRate | Class::PulsedAc) && lit && !few {
            figures.push(("pulse_hz", t.pulse_hz, part(t.pulse_hz, 0.02)));
        }
        if matches!(
            self.class,
            Class::Discharge | Class::SparksGoOn | Class::Spikes
        ) && lit
        {
            let samples = 2e3 / self.rate_hz;
            let rise = more
                .rise_ms
                .map(|r| ("rise_ms", Some(r), (0.2 * r).max(samples)));
            let over = more.overshoot_pct.map(|o| ("overshoot_pct", Some(o), 5.0));
            figures.extend(rise.into_iter().chain(over));
        }
        if self.class == Class::Ripple && lit {
            let size = part(more.ripple_pct, 0.15) + 1.0;
            figures.push(("ripple_pct", more.ripple_pct, size));
            figures.push(("ripple_hz", more.ripple_hz, part(more.ripple_hz, 0.02)));
        }
        let defined = figures
            .into_iter()
            .filter(|(name, ..)| !self.start.undefined.contains(name));
        defined.filter_map(|f| self.compare(f)).collect()
    }

    fn compare(&self, (name, truth, tolerance): (&'static str, Option<f64>, f64)) -> Option<Off> {
        let got = self.row[name].as_f64();
        let also = self.start.more.also.get(name).into_iter().flatten();
        let near = |low: f64, high: f64| {
            got.is_some_and(|got| got >= low - tolerance && got <= high + tolerance)
        };
        let right = match truth {
            Some(truth) => near(truth, truth) || also.into_iter().any(|r| near(r.0, r.1)),
            None => got.is_none(),
        };
        (!right).then(|| Off {
            name,
            empty: got.is_none(),
            words: format!("{name} is {truth:.6?}, found {got:.6?}"),
        })
    }
}

/// A figure that is off.
struct Off {
    name: &'static str,
    empty: bool,
    words: String,
}

impl Off {
    fn said(&self, flags: &BTreeSet<&str>) -> bool {
        let in_list = |list: &[(&str, &[&str])]| {
            list.iter()
                .any(|(flag, names)| flags.contains(flag) && names.contains(&self.name))
        };
        in_list(&SOME) || self.empty && in_list(&EMPTY)
    }
}
