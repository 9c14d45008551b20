//! What to try, as a change of the sheet: it can be carried out, and so be checked.

use serde::{Serialize, Serializer};

use crate::fit::tables::USUAL_EN_PCT;
use crate::format::trimmed;
use crate::job::electrode::Class;
use crate::job::length::Length;
use crate::job::prep::{Marks, Prep, Tip};
use crate::job::run::{Process, Run, StartMethod};

/// One change of a prep or of a row of the run sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Edit {
    /// Another electrode, by its trade size, mm.
    Diameter(f64),
    /// Another class.
    Class(&'static Class),
    /// Another grind: included angle in degrees, and the diameter of a flat in mm where it is to have one.
    Grind(f64, Option<f64>),
    /// A flat of this diameter at the end, mm.
    Flat(f64),
    /// Half-round end.
    Rounded,
    /// Lengthwise marks.
    Lengthwise,
    /// A fine wheel.
    FineWheel,
    /// DC electrode negative.
    Negative,
    /// AC, at the usual balance.
    Alternating,
    /// The usual balance.
    Balance,
    /// Other amps.
    Amps(f64),
    /// Another way to strike.
    Strike(StartMethod),
    /// Pure argon.
    Argon,
    /// Another flow, l/min.
    Flow(f64),
    /// A cup of this number.
    Cup(f64),
    /// The electrode this far out of the cup, mm.
    Stickout(f64),
    /// Another arc gap, mm.
    Gap(f64),
    /// No balance and no AC frequency in the row.
    NoAcSetting,
}

/// The middle of the usual balance, percent electrode negative.
fn usual_balance() -> f64 {
    (USUAL_EN_PCT.0 + USUAL_EN_PCT.1) / 2.0
}

impl Edit {
    /// Carries the change out on a prep and a row.
    pub fn apply(self, prep: &mut Prep, run: &mut Run) {
        match self {
            Edit::Diameter(mm) => prep.diameter = Length::from_mm(mm),
            Edit::Class(class) => prep.class = Some(class),
            Edit::Grind(deg, flat_mm) => {
                prep.taper_deg = Some(deg);
                prep.tip = Some(if flat_mm.is_some() {
                    Tip::Flat
                } else {
                    Tip::Point
                });
                prep.tip_flat = flat_mm.and_then(Length::from_mm);
            }
            Edit::Flat(mm) => {
                prep.tip = Some(Tip::Flat);
                prep.tip_flat = Length::from_mm(mm);
            }
            Edit::Rounded => {
                prep.tip = Some(Tip::Rounded);
                prep.tip_flat = None;
            }
            Edit::Lengthwise => prep.marks = Some(Marks::Lengthwise),
            Edit::FineWheel => prep.wheel = Some("fine".to_owned()),
            _ => self.apply_to_row(run),
        }
    }

    fn apply_to_row(self, run: &mut Run) {
        let mut write = |column: &str, text: String| {
            run.other.insert(column.to_owned(), text);
        };
        match self {
            Edit::Argon => write("gas", "argon".to_owned()),
            Edit::Flow(lpm) => write("flow", format!("{lpm} l/min")),
            Edit::Cup(number) => write("cup", number.to_string()),
            Edit::Negative => {
                run.process = Some(Process::Dc);
                (run.set_en_pct, run.ac_hz) = (None, None);
            }
            Edit::Alternating => {
                run.process = Some(Process::Ac);
                run.set_en_pct = Some(usual_balance());
            }
            Edit::Balance => run.set_en_pct = Some(usual_balance()),
            Edit::Amps(amps) => run.set_a = Some(amps),
            Edit::Strike(method) => run.start_method = Some(method),
            Edit::Stickout(mm) => run.stickout = Length::from_mm(mm),
            Edit::Gap(mm) => run.arc_gap = Length::from_mm(mm),
            Edit::NoAcSetting => (run.set_en_pct, run.ac_hz) = (None, None),
            _ => unreachable!("a change of the prep"),
        }
    }

    /// The change in words, as what to set.
    pub fn words(self) -> String {
        let (low, high) = USUAL_EN_PCT;
        match self {
            Edit::Diameter(mm) => format!("a {mm} mm electrode"),
            Edit::Class(class) => class.both_names(),
            Edit::Grind(deg, None) => format!("a {deg:.0}° point"),
            Edit::Grind(deg, Some(mm)) => format!("{deg:.0}° with a flat of {} mm", trimmed(mm)),
            Edit::Flat(mm) => format!("a flat of {} mm at the end", trimmed(mm)),
            Edit::Rounded => "a rounded end".to_owned(),
            Edit::Lengthwise => {
                "lengthwise marks: hold the electrode so that it points along the wheel's motion"
                    .to_owned()
            }
            Edit::FineWheel => "finish on a fine wheel, lengthwise".to_owned(),
            Edit::Negative => "DC electrode negative".to_owned(),
            Edit::Alternating => format!("AC at {low:.0}–{high:.0} % electrode negative"),
            Edit::Balance => format!("{low:.0}–{high:.0} % electrode negative"),
            Edit::Amps(amps) => format!("{} A", trimmed(amps)),
            Edit::Strike(StartMethod::Hf) => {
                "a high-frequency start, where its interference is allowed".to_owned()
            }
            Edit::Strike(StartMethod::Lift) => "a lift start".to_owned(),
            Edit::Strike(StartMethod::Scratch) => "a scratch start".to_owned(),
            Edit::Argon => "pure argon".to_owned(),
            Edit::Flow(lpm) => format!(
                "about {} l/min ({:.0} cfh)",
                trimmed(lpm),
                lpm * 60.0 / 28.317
            ),
            Edit::Cup(number) => format!("a No. {number} cup ({:.1} mm)", number * 25.4 / 16.0),
            Edit::Stickout(mm) => format!("a stick-out of {} mm", trimmed(mm)),
            Edit::Gap(mm) => format!("a gap of {} mm", trimmed(mm)),
            Edit::NoAcSetting => "take the balance and the frequency out of the row".to_owned(),
        }
    }
}

impl Serialize for Edit {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.words())
    }
}
