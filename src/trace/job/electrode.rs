//! Tungsten classes with both designations, their older forms, and their colours.

use std::fmt;

use serde::de::{self, Deserializer, Visitor};
use serde::{Deserialize, Serialize, Serializer};

use crate::job::length::Length;
use crate::job::nearest::nearest;

/// What is alloyed into the tungsten.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Oxide {
    /// Nothing: pure tungsten.
    None,
    /// Thorium oxide, radioactive.
    Thorium,
    /// Zirconium oxide.
    Zirconium,
    /// Lanthanum oxide.
    Lanthanum,
    /// Cerium oxide.
    Cerium,
    /// The maker states it.
    Unspecified,
}

/// One electrode class of AWS A5.12 and ISO 6848.
#[derive(Debug, PartialEq)]
pub struct Class {
    /// AWS A5.12 designation.
    pub aws: Option<&'static str>,
    /// ISO 6848 designation.
    pub iso: Option<&'static str>,
    /// ISO 6848 designation of the 1984 edition, still printed on packets.
    pub older: Option<&'static str>,
    /// Oxide.
    pub oxide: Oxide,
    /// Oxide range by AWS, percent by mass.
    pub aws_pct: Option<(f64, f64)>,
    /// Oxide range by ISO, percent by mass.
    pub iso_pct: Option<(f64, f64)>,
    /// Tip colour by AWS A5.12-98.
    pub aws_colour: Option<&'static str>,
    /// Tip colour by ISO 6848.
    pub iso_colour: Option<&'static str>,
}

macro_rules! class {
    ($aws:expr, $iso:expr, $older:expr, $oxide:ident, $aws_pct:expr, $iso_pct:expr, $aws_colour:expr, $iso_colour:expr) => {
        Class {
            aws: $aws,
            iso: $iso,
            older: $older,
            oxide: Oxide::$oxide,
            aws_pct: $aws_pct,
            iso_pct: $iso_pct,
            aws_colour: $aws_colour,
            iso_colour: $iso_colour,
        }
    };
}

/// Every class.
///
/// Source: comparison of AWS A5.12 (1998 colours) and ISO 6848 in a public welding question list,
/// cross-read with a tungsten trade page, the German encyclopedia's article on tungsten electrodes
/// (as of ISO 6848:2015) and a colour table of a machine maker; second-hand, the standards
/// themselves were not seen. Editions and makers differ in the range edges of the two lower
/// lanthanum classes, so a class is taken from the designation, never from a percentage. EWTh-3 and
/// EWZr-8 came into AWS A5.12M/A5.12:2009 with ISO 6848:2004, which it adopts (the adoption is
/// printed in its preview; the two designations are from memory).
#[rustfmt::skip]
pub static CLASSES: [Class; 11] = [
    class!(Some("EWP"),      Some("WP"),    None,         None,        None,               None,               Some("green"),  Some("green")),
    class!(Some("EWTh-1"),   Some("WTh10"), Some("WT10"), Thorium,     Some((0.80, 1.20)), Some((0.80, 1.20)), Some("yellow"), Some("yellow")),
    class!(Some("EWTh-2"),   Some("WTh20"), Some("WT20"), Thorium,     Some((1.70, 2.20)), Some((1.70, 2.20)), Some("red"),    Some("red")),
    class!(Some("EWTh-3"),   Some("WTh30"), Some("WT30"), Thorium,     None,               Some((2.80, 3.20)), None,           Some("violet")),
    class!(Some("EWZr-1"),   Some("WZr3"),  Some("WZ3"),  Zirconium,   Some((0.15, 0.40)), Some((0.15, 0.50)), Some("brown"),  Some("brown")),
    class!(Some("EWZr-8"),   Some("WZr8"),  Some("WZ8"),  Zirconium,   None,               Some((0.70, 0.90)), None,           Some("white")),
    class!(Some("EWLa-1"),   Some("WLa10"), Some("WL10"), Lanthanum,   Some((0.80, 1.20)), Some((0.80, 1.20)), Some("black"),  Some("black")),
    class!(Some("EWLa-1.5"), Some("WLa15"), Some("WL15"), Lanthanum,   Some((1.30, 1.70)), Some((1.30, 1.70)), Some("gold"),   Some("gold")),
    class!(Some("EWLa-2"),   Some("WLa20"), Some("WL20"), Lanthanum,   Some((1.80, 2.20)), Some((1.80, 2.20)), Some("blue"),   Some("blue")),
    class!(Some("EWCe-2"),   Some("WCe20"), Some("WC20"), Cerium,      Some((1.80, 2.20)), Some((1.80, 2.20)), Some("orange"), Some("grey")),
    class!(Some("EWG"),      None,          None,         Unspecified, None,               None,               Some("grey"),   None),
];

/// Sold, and in neither standard (German encyclopedia article as above).
const UNLISTED: [&str; 3] = ["WT4", "WT40", "WS2"];

impl Class {
    /// The designation to show: ISO 6848 where it has one, else AWS A5.12.
    pub fn name(&self) -> &'static str {
        self.iso
            .or(self.aws)
            .expect("every class has a designation")
    }

    /// Reads a designation of either system, old or new, or a colour with its standard named.
    ///
    /// # Errors
    /// What is wrong with the text, as the rest of a sentence.
    pub fn parse(text: &str) -> Result<&'static Class, String> {
        let key = squeeze(text);
        if let Some(class) = CLASSES.iter().find(|c| c.is_called(&key)) {
            return Ok(class);
        }
        if let Some(unlisted) = UNLISTED.iter().find(|name| squeeze(name) == key) {
            return Err(format!(
                "'{unlisted}' is sold but stands in neither ISO 6848 nor AWS A5.12: \
                 write EWG and keep the name for the note"
            ));
        }
        match colour_in(text) {
            Some(colour) => by_colour(text, colour),
            None => Err(unknown(text)),
        }
    }

    fn is_called(&self, key: &str) -> bool {
        [self.aws, self.iso, self.older]
            .iter()
            .flatten()
            .any(|name| squeeze(name) == key)
    }

    /// Both designations, for a sentence.
    pub fn both_names(&self) -> String {
        match (self.iso, self.aws) {
            (Some(iso), Some(aws)) => format!("{iso} ({aws})"),
            _ => self.name().to_owned(),
        }
    }
}

/// Capital letters and digits only: case, blanks, hyphens and points carry no meaning here.
fn squeeze(text: &str) -> String {
    text.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_uppercase)
        .collect()
}

fn unknown(text: &str) -> String {
    let names = CLASSES.iter().flat_map(|c| [c.iso, c.aws, c.older]);
    let like = nearest(text, names.flatten())
        .map(|name| format!("; the nearest is {name}"))
        .unwrap_or_default();
    format!("'{text}' is no class of ISO 6848 (such as WLa20) or AWS A5.12 (such as EWLa-2){like}")
}

/// The colour word in a text, in the spelling of [`CLASSES`].
fn colour_in(text: &str) -> Option<&'static str> {
    let lower = text.to_lowercase();
    let words: Vec<&str> = lower.split(|c: char| !c.is_alphabetic()).collect();
    if words.contains(&"gray") {
        return Some("grey");
    }
    if words.contains(&"purple") {
        return Some("violet");
    }
    CLASSES
        .iter()
        .flat_map(|c| [c.aws_colour, c.iso_colour])
        .flatten()
        .find(|colour| words.contains(colour))
}

/// A colour says a class only together with the standard it follows.
fn by_colour(text: &str, colour: &str) -> Result<&'static Class, String> {
    let upper = text.to_uppercase();
    let (aws, iso) = (upper.contains("AWS"), upper.contains("ISO"));
    if aws == iso {
        return Err(format!(
            "'{text}': a colour alone does not say the class (grey is EWG in AWS A5.12-98 and WCe20 in ISO 6848): \
             write the designation, or name the standard, as in 'ISO 6848 {colour}'"
        ));
    }
    let edition_1998 = upper.ends_with("98") || upper.contains("98 ") || upper.contains("1998");
    if aws && colour == "grey" && !edition_1998 {
        // From memory: a later AWS edition gives EWCe-2 the grey of ISO.
        return Err(format!(
            "'{text}': AWS editions differ on grey (EWG in the 1998 edition, EWCe-2 in a later one): \
             write the designation"
        ));
    }
    let found = CLASSES.iter().find(|c| {
        let has = if aws { c.aws_colour } else { c.iso_colour };
        has == Some(colour)
    });
    found.ok_or_else(|| {
        let standard = if aws { "AWS A5.12" } else { "ISO 6848" };
        format!("'{text}': {standard} has no {colour} class: write the designation")
    })
}

impl Serialize for Class {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

/// A class as a key of the job file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ClassKey(pub &'static Class);

impl<'de> Deserialize<'de> for ClassKey {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<ClassKey, D::Error> {
        struct Text;
        impl Visitor<'_> for Text {
            type Value = ClassKey;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an electrode class in quotes, such as \"WLa20\" or \"EWLa-2\"")
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<ClassKey, E> {
                Class::parse(text).map(ClassKey).map_err(E::custom)
            }
        }
        deserializer.deserialize_str(Text)
    }
}

/// Trade sizes of electrodes, mm.
pub const SIZES_MM: [f64; 9] = [0.25, 0.5, 1.0, 1.6, 2.4, 3.2, 4.0, 4.8, 6.4];

/// The trade size that a diameter means (within 5 %, so that 3/32 in, 2.3 mm and 2.5 mm are 2.4 mm).
pub fn trade_size(diameter: Length) -> Option<f64> {
    SIZES_MM
        .into_iter()
        .find(|size| (diameter.mm() / size - 1.0).abs() <= 0.05)
}
