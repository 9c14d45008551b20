//! Named reasons to look: what a recording or a start carries to every output.

use serde::{Deserialize, Serialize};

macro_rules! flags {
    ($($variant:ident $name:literal $sentence:literal,)*) => {
        /// A named reason to look at a recording or a start twice (docs/flags.md).
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum Flag {
            $(#[doc = $sentence] #[serde(rename = $name)] $variant,)*
        }

        impl Flag {
            /// Every flag, in the order of the docs.
            pub const ALL: &'static [Flag] = &[$(Flag::$variant,)*];

            /// The name used in every table.
            pub fn name(self) -> &'static str {
                match self { $(Flag::$variant => $name,)* }
            }

            /// What it means and what to try.
            pub fn sentence(self) -> &'static str {
                match self { $(Flag::$variant => $sentence,)* }
            }
        }
    };
}

flags! {
    Doubtful "doubtful" "The reading of this start cannot be trusted, so it counts in no answer: what was seen stands beside it.",
    Clipped "clipped" "The trace reaches the logger's limit and is cut off there: lower the gain or widen the range.",
    AcCoupled "ac_coupled" "The logger blocks slow changes, so levels sag: state its high-pass corner, or use a DC-coupled input.",
    SlowRate "slow_rate" "The sample rate is too low for the rise, for the measures of AC (these are left empty), for a current that moves faster than the samples, or for the top of the wander band: record faster.",
    Discharge "discharge" "A capacitor discharged into the arc at the strike and hides how its current rose: rise and overshoot are left empty.",
    Hum "hum" "Mains hum stands in the trace: look for a ground loop, move the leads, or use an isolated input.",
    OffsetDrift "offset_drift" "The zero of the current walks during the recording: let the logger warm up, check the shunt leads.",
    Gap "gap" "Samples are missing here; nothing was measured across the gap.",
    UnevenTime "uneven_time" "The rows do not come at even times; the trace was evened out by straight lines: use the logger's own clock.",
    CutShort "cut_short" "The file is shorter than its header says, as after a power cut: what is there was read.",
    VoltageScale "voltage_scale?" "The arc voltage is far from what a TIG arc shows at this current: check the divider and the full scale.",
    NoLoadHigh "no_load_high?" "The no-load voltage lies over the limit for welding sources: check the scale before the machine.",
    Polarity "polarity?" "The sign of current and voltage do not go together, or not with what the job file says: check the leads.",
    ChannelsSwapped "channels_swapped?" "The channel called current looks like a voltage and the other way round: check the channel numbers.",
    DeadChannel "dead_channel" "A channel shows nothing but a constant: check its lead.",
    Skew "skew" "Current and voltage are shifted in time against each other: measure both with one logger.",
    NoVoltage "no_voltage" "There is no voltage trace, so delay, touches and voltage wander cannot be measured.",
    ShortWindow "short_window" "The arc or the recording ended before the observation window did; the measures are of what is there.",
    CutOff "cut_off" "The recording begins or ends inside this start.",
    BalanceOff "balance_off" "The electrode-negative share measured is not the one written down.",
    Rectifying "rectifying" "One half-wave fails to light in over 5 % of the cycles: oxide, a spoilt tip or a failing machine.",
    Touch "touch" "The tungsten touched the work or the rod after the arc was lit.",
    Retry "retry" "It took more than one attempt to light.",
    Dropout "dropout" "The arc went out for a moment after it was lit.",
    Wander "wander" "The arc voltage wanders more than the target's poor level.",
    Slow "slow" "The start took longer than the target's poor level.",
    NotSettled "not_settled" "The current did not settle inside the observation window.",
    Overshoot "overshoot" "The current shot past its level by more than the target's poor level.",
    TipOff "tip_off" "The trend over the last starts says that this tip is going off.",
}
