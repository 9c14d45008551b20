//! A prep on one row of the sheet: the figures that the rules ask for.

use crate::fit::concern::Basis;
use crate::fit::range::top_of;
use crate::fit::tables::FLAT;
use crate::job::electrode::Oxide;
use crate::job::prep::{Prep, Tip};
use crate::job::run::{Process, Run};
use crate::job::shielding::{Cup, Gas, Metal};

/// A prep on a row, with what is read from words read once.
pub(super) struct Case<'a> {
    /// How the tip was made ready.
    pub prep: &'a Prep,
    /// What it is to weld.
    pub run: &'a Run,
    /// The gas.
    pub gas: Option<Gas>,
    /// Gas flow, l/min.
    pub flow_lpm: Option<f64>,
    /// The cup.
    pub cup: Option<Cup>,
    /// The metal of the work.
    pub metal: Option<Metal>,
    /// Where the range of the diameter ends, A, by the table that speaks.
    pub top_a: Option<f64>,
}

/// A share of 50 % or 60 % and the mains frequency are what a transformer gives; anything else is an inverter's.
const MAINS_HZ: [f64; 2] = [50.0, 60.0];

impl<'a> Case<'a> {
    /// Reads a prep and a row.
    pub fn new(prep: &'a Prep, run: &'a Run) -> Case<'a> {
        let mut case = Case {
            prep,
            run,
            gas: run.gas(),
            flow_lpm: run.flow_lpm(),
            cup: run.cup(),
            metal: run.metal(),
            top_a: None,
        };
        let size_mm = prep.size_mm();
        case.top_a = size_mm.and_then(|size_mm| top_of(prep.class, size_mm, &case.basis()));
        case
    }

    /// What decides the range of a diameter.
    pub fn basis(&self) -> Basis {
        Basis {
            process: self.process(),
            pure: self.is(Oxide::None),
            en_pct: self.run.set_en_pct.filter(|_| self.on_ac()),
        }
    }

    pub fn process(&self) -> Process {
        self.run.process.unwrap_or_default()
    }

    pub fn on_ac(&self) -> bool {
        self.process().is_ac()
    }

    /// DC electrode negative.
    pub fn on_dc(&self) -> bool {
        self.process() == Process::Dc
    }

    pub fn is(&self, oxide: Oxide) -> bool {
        self.prep.class.is_some_and(|class| class.oxide == oxide)
    }

    /// AC with a frequency or a balance that only an inverter can be set to.
    pub fn on_inverter(&self) -> bool {
        let hz = self.run.ac_hz.is_some_and(|hz| !MAINS_HZ.contains(&hz));
        let share = self.run.set_en_pct.is_some_and(|pct| pct > 60.0);
        self.on_ac() && (hz || share)
    }

    pub fn rounded(&self) -> Option<Tip> {
        self.prep
            .tip
            .filter(|tip| matches!(tip, Tip::Rounded | Tip::Balled))
    }

    /// Whether the taper ends in a flat of a quarter of the diameter or more; a flat of unknown width counts.
    pub fn ended(&self) -> bool {
        match (self.prep.tip_flat, self.prep.diameter) {
            (Some(flat), Some(d)) => flat.mm() >= FLAT.0 * d.mm() - 1e-9,
            _ => self.prep.tip == Some(Tip::Flat),
        }
    }

    /// The included angle, where the end is ground to a taper.
    pub fn taper(&self) -> Option<f64> {
        self.prep.taper_deg.filter(|_| self.rounded().is_none())
    }
}
