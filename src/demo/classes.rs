//! Classes of what real machines and loggers put into the traces, each drawn anew from a seed.
//!
//! The ranges are common practice, no source: what machines, clamps, sound cards and neighbours of the trade do.

mod draw;
mod job;
mod logger;
mod machine;

pub use job::{ClassJob, ClassStart, job};

use crate::Scenario;

macro_rules! classes {
    ($($variant:ident $name:literal $about:literal,)*) => {
        /// A class of recordings.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Class {
            $(#[doc = $about] $variant,)*
        }

        impl Class {
            /// All of them.
            pub const ALL: &'static [Class] = &[$(Class::$variant,)*];

            /// Its name: the beginning of its folders' names.
            pub fn name(self) -> &'static str {
                match self { $(Class::$variant => $name,)* }
            }

            /// What is in the traces.
            pub fn about(self) -> &'static str {
                match self { $(Class::$variant => $about,)* }
            }
        }
    };
}

classes! {
    PickUp "pick-up" "1 to 3 A of 50 to 300 Hz on the current trace while the machine is on.",
    ZeroStep "zero-step" "The zero of the current moves once, by 0.5 to 5 A.",
    Remanence "remanence" "The first arc leaves a clamp magnetised by 0.5 to 3 A.",
    ZeroDrift "zero-drift" "The zero drifts by 0.1 to 0.4 A/s under arcs of 8 s between short rests.",
    ZeroSwing "zero-swing" "The zero swings by 0.5 to 3 A with a period of 3 to 11 s.",
    Noise "noise" "White noise of 1, 2 or 3 % of the run level.",
    SlowRise "slow-rise" "A current that rises with a time constant of 2 to 20 ms, in noise of 1 to 3 %.",
    Hum "hum" "Mains hum of 5 % of the run level, at rest and in the arc.",
    FewBits "few-bits" "A logger of 8 or 10 bits whose zero lies between two steps.",
    Ripple "ripple" "Rectifier ripple of 10 to 40 %, sine, saw or rectified sine, 61.4 to 360 Hz.",
    SparksGoOn "sparks-go-on" "Ignition that goes on under the arc, in rings and spikes of up to 150 µs.",
    Spikes "spikes" "A one-sample spike every 19 ms, and one just before the circuit opens.",
    Discharge "discharge" "The ignition's capacitor puts 60 to 200 A for 60 to 400 µs on the strike.",
    ReducedOpen "reduced-open" "A voltage-reduced machine: 12 to 28 V while the circuit is open.",
    ClampedOpen "clamped-open" "A divider that lets no more than 24 to 40 V through.",
    UpSlope "up-slope" "An up-slope of 0.2 to 5 s from 0 to 40 A, stated in the run sheet.",
    Pedal "pedal" "A pedal that goes on moving.",
    FourStroke "four-stroke" "A start current that is held, then a slope to the run level.",
    PulsedAc "pulsed-ac" "AC that pulses at 1 to 10 Hz with a background of 40 to 80 %.",
    PulseRate "pulse-rate" "Pulsed DC from 0.5 Hz to 10 kHz.",
    Rectifying "rectifying" "AC of which 2 to 100 % of the positive half-cycles are missing.",
    AcFrequency "ac-frequency" "AC of 47 to 250 Hz with hard edges.",
    Coupled "coupled" "A sound card's high-pass of 1 to 20 Hz on both channels, not stated.",
    CoupledOne "coupled-one" "A high-pass of 1 to 20 Hz on one channel only, not stated.",
    CoupledCut "coupled-cut" "A high-pass, not stated, and a recording that stops while the arc burns.",
    CoupledStated "coupled-stated" "A high-pass of 1 to 20 Hz whose corner the job file states.",
    Swapped "swapped" "Current and voltage on each other's channel.",
    Reversed "reversed" "The current, the voltage or both have the wrong sign.",
    TenTimes "ten-times" "The shunt's scale is ten times too large or too small.",
    LeadDrop "lead-drop" "The voltage is measured over leads that take 6 to 14 V.",
    LeadOff "lead-off" "The voltage lead falls off during the recording.",
    Neighbour "neighbour" "Another machine's 2 A, its pulses, its sparks.",
    ArcLost "arc-lost" "The arc goes out by itself, and the circuit stays open.",
    PulledAway "pulled-away" "The torch is drawn away until the arc breaks, and the circuit stays open.",
}

impl Class {
    /// Whether a high-pass of the logger is what the class is about.
    pub fn is_coupling(self) -> bool {
        use Class::{Coupled, CoupledCut, CoupledOne, CoupledStated};
        matches!(self, Coupled | CoupledOne | CoupledCut | CoupledStated)
    }
}

/// A recording of a class before it is made.
#[derive(Debug, Clone)]
struct Trial {
    scenario: Scenario,
    wiring: Wiring,
    /// Starts from this instant on, s, cannot be measured: they may only be said to be wrong.
    only_said_from_s: Option<f64>,
    /// Figures whose definition says nothing in this class.
    undefined: Vec<&'static str>,
}

/// How the traces get into the file, and what the job file says of it.
#[derive(Debug, Clone, Default)]
struct Wiring {
    swapped: bool,
    reversed: [bool; 2],
    /// The scale that the job file states over the true one; `None` where it states the true one.
    scale_stated: Option<f64>,
    mains_stated_hz: Option<f64>,
    high_pass_stated_hz: Option<f64>,
    /// The recording stops here, s.
    stops_s: Option<f64>,
}
