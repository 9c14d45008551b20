//! One prep: how an electrode was made ready.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::error::{Error, ErrorKind, Result};
use crate::job::electrode::{Class, ClassKey, trade_size};
use crate::job::length::{Length, number};
use crate::job::section::Section;
use crate::job::target_set::TargetSet;

/// Columns of the starts table that say how the tip was made ready.
pub const PREP_COLUMNS: [&str; 7] = [
    "class",
    "diameter",
    "taper_deg",
    "tip",
    "tip_flat",
    "marks",
    "wheel",
];

/// Name of the prep of which nothing is written down.
pub const UNNAMED_PREP: &str = "-";

/// Shape of the tip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Tip {
    /// Ground to a point.
    Point,
    /// A point with its end ground off flat.
    Flat,
    /// Half round.
    Rounded,
    /// Melted to a ball.
    Balled,
}

/// Direction of the grind marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Marks {
    /// Along the electrode.
    Lengthwise,
    /// Around the electrode.
    Crosswise,
    /// None to be seen.
    Polished,
}

impl Tip {
    /// The word used in the job file.
    pub fn name(self) -> &'static str {
        match self {
            Tip::Point => "point",
            Tip::Flat => "flat",
            Tip::Rounded => "rounded",
            Tip::Balled => "balled",
        }
    }
}

impl Marks {
    /// The word used in the job file.
    pub fn name(self) -> &'static str {
        match self {
            Marks::Lengthwise => "lengthwise",
            Marks::Crosswise => "crosswise",
            Marks::Polished => "polished",
        }
    }
}

/// One `[prep.NAME]` of the job file; what was not written down is `None`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Prep {
    /// Electrode class.
    pub class: Option<&'static Class>,
    /// Electrode diameter.
    pub diameter: Option<Length>,
    /// Included angle of the taper, degrees.
    pub taper_deg: Option<f64>,
    /// Shape of the tip.
    pub tip: Option<Tip>,
    /// Diameter of the flat at the tip.
    pub tip_flat: Option<Length>,
    /// Direction of the grind marks.
    pub marks: Option<Marks>,
    /// Wheel or grinder, in the welder's words.
    pub wheel: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// Targets of this prep alone.
    pub targets: TargetSet,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Keys {
    class: Option<ClassKey>,
    diameter: Option<Length>,
    taper_deg: Option<f64>,
    tip: Option<Tip>,
    tip_flat: Option<Length>,
    marks: Option<Marks>,
    wheel: Option<String>,
    note: Option<String>,
    targets: Option<toml::Table>,
}

impl Prep {
    /// Reads the keys of `[prep.NAME]`; `at` says where they stand.
    ///
    /// # Errors
    /// An unknown key with the nearest known one; a value that is none; a tip that cannot be ground.
    pub(super) fn from_table(table: toml::Table, at: &Section) -> Result<Prep> {
        let keys: Keys = crate::job::fault::typed(table, at)?;
        let targets = match keys.targets {
            Some(table) => TargetSet::from_table(table, &at.table("targets"))?,
            None => TargetSet::default(),
        };
        let prep = Prep {
            class: keys.class.map(|key| key.0),
            diameter: keys.diameter,
            taper_deg: keys.taper_deg,
            tip: keys.tip,
            tip_flat: keys.tip_flat,
            marks: keys.marks,
            wheel: keys.wheel,
            note: keys.note,
            targets,
        };
        prep.check(at)?;
        Ok(prep)
    }

    fn check(&self, at: &Section) -> Result<()> {
        if let Some(deg) = self.taper_deg.filter(|deg| !(*deg > 0.0 && *deg < 180.0)) {
            return Err(Error::new(
                ErrorKind::InvalidValue,
                at.key("taper_deg"),
                format!("taper_deg = {deg} is not an included angle between 0 and 180 degrees"),
            )
            .hint("It is the full angle between the two sides of the taper"));
        }
        if let Some(d) = self.diameter.filter(|d| !(0.1..=20.0).contains(&d.mm())) {
            return Err(Error::new(
                ErrorKind::InvalidValue,
                at.key("diameter"),
                format!("diameter is {d}, which no tungsten electrode has"),
            )
            .hint("Check the unit"));
        }
        if let (Some(flat), Some(diameter)) = (self.tip_flat, self.diameter)
            && flat > diameter
        {
            return Err(Error::new(
                ErrorKind::InvalidValue,
                at.key("tip_flat"),
                format!("tip_flat ({flat}) is wider than the electrode ({diameter})"),
            )
            .hint("Check the units of both"));
        }
        Ok(())
    }

    /// The trade size of the electrode, mm.
    pub fn size_mm(&self) -> Option<f64> {
        self.diameter.and_then(trade_size)
    }

    /// Length of the taper to grind: half of (diameter − flat) over the tangent of half the angle.
    pub fn taper_length(&self) -> Option<Length> {
        let flat = self.tip_flat.map_or(0.0, Length::mm);
        let half = (self.taper_deg? / 2.0).to_radians();
        Length::from_mm((self.diameter?.mm() - flat) / 2.0 / half.tan())
    }

    /// Grit number of the wheel, where the text gives one ("diamond, 180 grit").
    pub fn grit(&self) -> Option<f64> {
        let text = self.wheel.as_deref()?.to_lowercase();
        let words: Vec<&str> = text.split([' ', ',']).filter(|w| !w.is_empty()).collect();
        let at = words.iter().position(|w| *w == "grit")?;
        let beside = [at.checked_sub(1), Some(at + 1)];
        beside
            .into_iter()
            .flatten()
            .find_map(|i| number(words.get(i)?))
    }

    /// What the columns of the starts table say of how the tip was made ready, by name.
    pub fn columns(&self) -> BTreeMap<String, String> {
        let size = |d: Length| match trade_size(d) {
            Some(mm) => format!("{mm} mm"),
            None => d.to_string(),
        };
        let values = [
            self.class.map(|c| c.name().to_owned()),
            self.diameter.map(size),
            self.taper_deg.map(|deg| deg.to_string()),
            self.tip.map(|tip| tip.name().to_owned()),
            self.tip_flat.map(|flat| flat.to_string()),
            self.marks.map(|marks| marks.name().to_owned()),
            self.wheel.clone(),
        ];
        PREP_COLUMNS
            .into_iter()
            .zip(values)
            .filter_map(|(name, value)| Some((name.to_owned(), value?)))
            .collect()
    }
}
