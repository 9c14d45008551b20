//! A possible cause in words, and what to try against it first.

use crate::fit::seen::Cause;

impl Cause {
    /// The cause in a few words.
    pub fn words(self) -> &'static str {
        match self {
            Cause::LongGap => "too long a gap",
            Cause::Gas => "little gas at the tip (pre-flow, flow, draught)",
            Cause::SparkGap => "a weak high-frequency spark",
            Cause::Oxide => "oxide on work or tip",
            Cause::Tip => "a worn or contaminated tip",
            Cause::Clamp => "a poor work clamp",
            Cause::Hand => "the torch being moved",
            Cause::Grind => "grind marks, flat or ball that let the arc roam",
            Cause::ThickElectrode => "an electrode too thick for the amps",
            Cause::HotStart => "the machine's hot start",
            Cause::Pedal => "a pedal not fully down, or a slope",
            Cause::Scale => "a wrong scale of the logger",
            Cause::Machine => "a machine out of calibration",
            Cause::Balance => "too much or too little positive",
        }
    }

    /// What to try against it.
    pub fn first(self) -> &'static str {
        match self {
            Cause::LongGap => "strike a few starts at a gap of one diameter, under 3 mm",
            Cause::Gas => "give 0.5 s of pre-flow, and strike a few starts out of the draught",
            Cause::SparkGap => {
                "have the spark gap set as the machine's plate says (power off: it carries kilovolts)"
            }
            Cause::Oxide => "clean the coupon to bright metal and wipe it",
            Cause::Tip => "grind the tip anew and strike a few starts with nothing else changed",
            Cause::Clamp => "clamp on bare metal, close to the strike",
            Cause::Hand => "rest the torch, or hold it in a fixture, for a few starts",
            Cause::Grind => {
                "grind lengthwise on a fine wheel, and strike a few starts with nothing else changed"
            }
            Cause::ThickElectrode => "take the next thinner electrode for these amps",
            Cause::HotStart => "lower the machine's start current, where it can be set",
            Cause::Pedal => {
                "press the pedal fully before the strike, and write any slope into the sheet"
            }
            Cause::Scale => "check the scale with a load of known current (inspect --known)",
            Cause::Machine => "measure the machine against a meter that was calibrated",
            Cause::Balance => "set the usual balance and strike a few starts",
        }
    }
}
