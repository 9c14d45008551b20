//! Gas, flow, cup and work as numbers, read from the text columns of the run sheet.

use crate::job::length::{Length, number};
use crate::job::run::Run;

/// A shielding gas by what decides how the tungsten fares in it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Gas {
    /// Helium, percent by volume; `None` where there is some and the sheet does not say how much.
    pub helium_pct: Option<f64>,
    /// There is helium in it.
    pub helium: bool,
    /// There is hydrogen in it.
    pub hydrogen: bool,
    /// There is nitrogen in it.
    pub nitrogen: bool,
    /// There is carbon dioxide or oxygen in it.
    pub active: bool,
}

/// From this share on helium counts, percent (this project's own line).
const HELIUM_PCT: f64 = 20.0;

impl Gas {
    /// Whether there is helium enough in it to count; where the sheet does not say how much, there is.
    pub fn with_helium(&self) -> bool {
        self.helium && self.helium_pct.is_none_or(|pct| pct >= HELIUM_PCT)
    }
}

/// What is welded, as far as it decides polarity and heat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Metal {
    /// Aluminium and its alloys.
    Aluminium,
    /// Magnesium and its alloys.
    Magnesium,
    /// Carbon and low-alloy steel.
    Steel,
    /// Stainless steel.
    Stainless,
    /// Titanium.
    Titanium,
    /// Copper.
    Copper,
    /// Nickel alloys.
    Nickel,
}

impl Metal {
    /// The word for a sentence.
    pub fn word(self) -> &'static str {
        match self {
            Metal::Aluminium => "aluminium",
            Metal::Magnesium => "magnesium",
            Metal::Steel => "steel",
            Metal::Stainless => "stainless steel",
            Metal::Titanium => "titanium",
            Metal::Copper => "copper",
            Metal::Nickel => "a nickel alloy",
        }
    }

    /// Whether its oxide has to be cleaned off by the arc.
    pub fn needs_cleaning(self) -> bool {
        matches!(self, Metal::Aluminium | Metal::Magnesium)
    }
}

/// A cup by its number: the bore in sixteenths of an inch (manual IM528-B, p. 41, note 4).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cup {
    /// Bore in sixteenths of an inch.
    pub number: f64,
    /// The text says that it has a gas lens.
    pub lens: bool,
}

impl Run {
    /// The gas; `None` where there is no text or it names no gas.
    pub fn gas(&self) -> Option<Gas> {
        parse_gas(self.other.get("gas")?)
    }

    /// Whether the sheet names a gas with helium enough to count.
    pub fn names_helium(&self) -> bool {
        self.gas().is_some_and(|gas| gas.with_helium())
    }

    /// Gas flow, l/min; `None` where there is no text, no number or no unit.
    pub fn flow_lpm(&self) -> Option<f64> {
        parse_flow(self.other.get("flow")?)
    }

    /// The cup; `None` where there is no text, or no number in it.
    pub fn cup(&self) -> Option<Cup> {
        parse_cup(self.other.get("cup")?)
    }

    /// The metal; `None` where there is no text, or it names none known here.
    pub fn metal(&self) -> Option<Metal> {
        parse_metal(self.other.get("material")?)
    }
}

/// Words and numbers of a text, in lower case: `75 % Ar / 25 % He` is 75, ar, 25, he.
fn tokens(text: &str) -> Vec<String> {
    let lower = text.to_lowercase().replace(',', ".");
    lower
        .split(|c: char| !c.is_alphanumeric() && c != '.')
        .map(|word| word.trim_matches('.').to_owned())
        .filter(|word| !word.is_empty())
        .collect()
}

/// The parts of a gas.
#[derive(Clone, Copy, PartialEq)]
enum Part {
    Argon,
    Helium,
    Hydrogen,
    Nitrogen,
    Active,
}

/// One word of a gas: its name, or a symbol of a main group of ISO 14175 (from memory).
fn part(word: &str) -> Option<&'static [Part]> {
    use Part::*;
    Some(match word {
        "argon" | "ar" | "i1" => &[Argon],
        "helium" | "he" | "i2" => &[Helium],
        "i3" => &[Argon, Helium],
        "hydrogen" | "h2" => &[Hydrogen],
        "r1" => &[Argon, Hydrogen],
        "nitrogen" | "n2" | "n1" => &[Nitrogen],
        "co2" | "carbon" | "oxygen" | "o2" | "c1" | "c2" | "air" => &[Active],
        _ if iso_active(word) => &[Argon, Active],
        _ => return None,
    })
}

/// The groups M1, M2 and M3 of ISO 14175: mixtures with oxygen or carbon dioxide.
fn iso_active(word: &str) -> bool {
    let mut letters = word.chars();
    letters.next() == Some('m')
        && (2..=3).contains(&word.len())
        && letters.all(|c| c.is_ascii_digit())
}

fn parse_gas(text: &str) -> Option<Gas> {
    let words = tokens(text);
    let parts: Vec<Part> = words
        .iter()
        .filter_map(|w| part(w))
        .flatten()
        .copied()
        .collect();
    let has = |p: Part| parts.contains(&p);
    (!parts.is_empty()).then(|| Gas {
        helium: has(Part::Helium),
        helium_pct: match (has(Part::Helium), has(Part::Argon)) {
            (false, _) => Some(0.0),
            (true, false) if parts.len() == 1 => Some(100.0),
            _ => helium_share(&words),
        },
        hydrogen: has(Part::Hydrogen),
        nitrogen: has(Part::Nitrogen),
        active: has(Part::Active),
    })
}

/// The share of helium beside argon: two names with two shares that make 100, or with one.
fn helium_share(words: &[String]) -> Option<f64> {
    let names: Vec<(usize, &'static [Part])> = words
        .iter()
        .enumerate()
        .filter_map(|(i, w)| Some((i, part(w)?)))
        .collect();
    let shares: Vec<(usize, f64)> = words
        .iter()
        .enumerate()
        .filter_map(|(i, w)| Some((i, number(w)?)))
        .collect();
    let helium = names.iter().position(|(_, p)| *p == [Part::Helium])?;
    match (names.len(), shares.as_slice()) {
        (2, [a, b]) if a.1 + b.1 == 100.0 => Some([a.1, b.1][helium]),
        (2, [(at, share)]) if (0.0..=100.0).contains(share) => {
            let distance = |name: &(usize, &[Part])| name.0.abs_diff(*at);
            let (own, other) = (distance(&names[helium]), distance(&names[1 - helium]));
            match own.cmp(&other) {
                std::cmp::Ordering::Less => Some(*share),
                std::cmp::Ordering::Greater => Some(100.0 - share),
                // Between the two names: a share is written before its name.
                std::cmp::Ordering::Equal if names[helium].0 > *at => Some(*share),
                std::cmp::Ordering::Equal => Some(100.0 - share),
            }
        }
        _ => None,
    }
}

/// Litres in a cubic foot: 0.3048³ m³.
const LITRES_PER_CUBIC_FOOT: f64 = 28.316_846_592;

fn parse_flow(text: &str) -> Option<f64> {
    let lower = text.trim().to_lowercase();
    let at = lower.find(|c: char| c.is_alphabetic())?;
    let amount = number(&lower[..at])?;
    let unit: String = lower[at..]
        .chars()
        .filter(|c| !c.is_whitespace() && *c != '.')
        .collect();
    let factor = match unit.as_str() {
        "l/min" | "lpm" | "l/m" | "litres/min" | "liters/min" | "ltr/min" | "lit/min" => 1.0,
        "cfh" | "scfh" | "ft3/h" | "ft³/h" | "cuft/h" => LITRES_PER_CUBIC_FOOT / 60.0,
        "m3/h" | "m³/h" => 1000.0 / 60.0,
        _ => return None,
    };
    (amount > 0.0).then_some(amount * factor)
}

/// Millimetres in a sixteenth of an inch.
const MM_PER_SIXTEENTH: f64 = 25.4 / 16.0;

fn parse_cup(text: &str) -> Option<Cup> {
    let lower = text.trim().to_lowercase();
    let lens = lower.contains("lens");
    let size = lower.replace("gas", " ").replace("lens", " ");
    let size = size.trim().trim_matches([',', ';', '+', '-']).trim();
    let bare = size
        .trim_start_matches("no.")
        .trim_start_matches("no")
        .trim_start_matches("cup")
        .trim_start_matches('#')
        .trim();
    let number = match Length::parse(size) {
        Ok(bore) => (bore.mm() / MM_PER_SIXTEENTH).round(),
        // A cup number has no unit; a bore in millimetres that lost its unit is not a whole number.
        Err(_) => number(bare).filter(|n| n.fract() == 0.0)?,
    };
    (2.0..=24.0)
        .contains(&number)
        .then_some(Cup { number, lens })
}

fn parse_metal(text: &str) -> Option<Metal> {
    let words = tokens(text);
    let any = |known: &[&str]| words.iter().any(|w| known.contains(&w.as_str()));
    let starts = |start: &str| words.iter().any(|w| w.starts_with(start));
    let four_digits = |first: &[char]| {
        words
            .iter()
            .any(|w| w.len() == 4 && w.parse::<u32>().is_ok() && w.starts_with(first))
    };
    Some(match () {
        () if starts("alumin") || any(&["alu", "al", "almg", "almg3", "almgsi"]) => {
            Metal::Aluminium
        }
        () if starts("magnes") || any(&["mg", "az31", "az61", "az91"]) => Metal::Magnesium,
        () if starts("titan") || any(&["ti"]) => Metal::Titanium,
        () if any(&["copper", "cu"]) => Metal::Copper,
        () if starts("nickel") || any(&["ni"]) => Metal::Nickel,
        () if any(&[
            "stainless",
            "inox",
            "ss",
            "304",
            "304l",
            "316",
            "316l",
            "321",
            "347",
            "410",
            "430",
            "1.4301",
            "1.4307",
            "1.4404",
            "1.4571",
        ]) =>
        {
            Metal::Stainless
        }
        () if any(&[
            "steel", "mild", "s235", "s275", "s355", "a36", "4130", "4140",
        ]) || words
            .iter()
            .any(|w| w.starts_with("s235") || w.starts_with("s355")) =>
        {
            Metal::Steel
        }
        // Wrought aluminium by its four digits: 2024, 3003, 5052, 6061, 7020.
        () if four_digits(&['2', '3', '5', '6', '7']) => Metal::Aluminium,
        () => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gas_is_known_by_what_is_in_it() {
        let helium = |text: &str| parse_gas(text).and_then(|gas| gas.helium_pct);
        for text in ["argon", "Ar 4.6", "99.99 % Ar", "ISO 14175 - I1"] {
            let gas = parse_gas(text).expect(text);
            assert!(
                !gas.helium && !gas.active && !gas.hydrogen && !gas.nitrogen,
                "{text}"
            );
        }
        assert_eq!(helium("helium"), Some(100.0));
        assert_eq!(helium("75 % Ar / 25 % He"), Some(25.0));
        assert_eq!(helium("Ar/He 70/30"), Some(30.0));
        assert_eq!(helium("argon + 30 % helium"), Some(30.0));
        assert_eq!(helium("He 50, rest argon"), Some(50.0));
        assert_eq!(helium("Ar 75 He"), Some(75.0));
        assert!(parse_gas("Ar/He").is_some_and(|gas| gas.helium && gas.helium_pct.is_none()));
        for text in ["CO2", "Ar/CO2 82/18", "argon + 2 % O2", "M21"] {
            assert!(parse_gas(text).is_some_and(|gas| gas.active), "{text}");
        }
        assert!(parse_gas("Ar + 2 % H2").is_some_and(|gas| gas.hydrogen && !gas.active));
        assert_eq!(parse_gas("the usual"), None);
    }

    /// 1 ft³ is 28.316846592 l (international foot).
    #[test]
    fn a_flow_has_a_unit_or_is_not_read() {
        let flow = |text: &str| parse_flow(text).map(|f| (f * 100.0).round() / 100.0);
        for (text, lpm) in [
            ("8 l/min", 8.0),
            ("8,5 L/min", 8.5),
            ("8lpm", 8.0),
            ("15 cfh", 7.08),
            ("20 CFH", 9.44),
            ("0.5 m³/h", 8.33),
        ] {
            assert_eq!(flow(text), Some(lpm), "{text}");
        }
        for text in ["8", "", "l/min", "8 bar", "-3 l/min", "0 l/min"] {
            assert_eq!(flow(text), None, "{text}");
        }
    }

    /// Manual 3617104, p. 7: cups 4, 5, 6, 7, 8, 10, 11, 12 are 6.5, 8, 9.5, 11, 12.5, 16, 17.5, 19 mm.
    #[test]
    fn a_cup_number_and_its_bore_are_the_same_cup() {
        for (number, mm) in [
            (4.0, 6.5),
            (5.0, 8.0),
            (6.0, 9.5),
            (7.0, 11.0),
            (8.0, 12.5),
            (10.0, 16.0),
            (11.0, 17.5),
            (12.0, 19.0),
        ] {
            let of = |text: String| parse_cup(&text).map(|cup| cup.number);
            assert_eq!(of(format!("{mm} mm")), Some(number));
            assert_eq!(of(format!("#{number}")), Some(number));
            assert_eq!(of(format!("{number}")), Some(number));
        }
        assert_eq!(
            parse_cup("7, gas lens"),
            Some(Cup {
                number: 7.0,
                lens: true
            })
        );
        assert_eq!(
            parse_cup("1/2 in").map(|cup| (cup.number, cup.lens)),
            Some((8.0, false))
        );
        for text in ["9.5", "big", "", "200"] {
            assert_eq!(parse_cup(text), None, "{text}");
        }
    }

    #[test]
    fn a_metal_is_known_by_its_name_or_its_grade() {
        for (text, metal) in [
            ("304 stainless", Metal::Stainless),
            ("5052 aluminium", Metal::Aluminium),
            ("aluminum", Metal::Aluminium),
            ("6061", Metal::Aluminium),
            ("mild steel", Metal::Steel),
            ("S355", Metal::Steel),
            ("1.4301", Metal::Stainless),
            ("titanium", Metal::Titanium),
            ("AZ31", Metal::Magnesium),
            ("4130", Metal::Steel),
            ("copper", Metal::Copper),
        ] {
            assert_eq!(parse_metal(text), Some(metal), "{text}");
        }
        for text in ["", "scrap", "the old boat"] {
            assert_eq!(parse_metal(text), None, "{text}");
        }
    }
}
