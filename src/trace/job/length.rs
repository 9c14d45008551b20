//! Lengths as a welder writes them: millimetres, inches, fractions of an inch.

use std::fmt;

use serde::de::{self, Deserializer, Visitor};
use serde::{Deserialize, Serialize, Serializer};

const MM_PER_INCH: f64 = 25.4;

/// A length, never negative, kept in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Length {
    mm: f64,
}

impl Length {
    /// A length in millimetres; `None` where it is negative or no number.
    pub fn from_mm(mm: f64) -> Option<Length> {
        (mm.is_finite() && mm >= 0.0).then_some(Length { mm })
    }

    /// The length in millimetres.
    pub fn mm(self) -> f64 {
        self.mm
    }

    /// Reads `2.4 mm`, `2,4mm`, `3/32 in`, `3/32"`, `1 1/2 in`, `.040 inch`.
    ///
    /// # Errors
    /// What is wrong with the text, as the rest of a sentence; a unit left out is never guessed.
    pub fn parse(text: &str) -> Result<Length, String> {
        let text = text.trim();
        let (amount, mm_per_unit) = split_unit(text)?;
        let value = amount_of(amount)
            .ok_or_else(|| format!("'{text}' is not a length such as '2.4 mm' or '3/32 in'"))?;
        Length::from_mm(value * mm_per_unit)
            .ok_or_else(|| format!("'{text}' is not a length: it cannot be negative"))
    }
}

/// Cuts the unit off; gives the amount's text and the millimetres in one unit.
fn split_unit(text: &str) -> Result<(&str, f64), String> {
    const UNITS: [(&str, f64); 8] = [
        ("mm", 1.0),
        ("inches", MM_PER_INCH),
        ("inch", MM_PER_INCH),
        ("in.", MM_PER_INCH),
        ("in", MM_PER_INCH),
        ("\"", MM_PER_INCH),
        ("″", MM_PER_INCH),
        ("”", MM_PER_INCH),
    ];
    for (unit, mm) in UNITS {
        let Some(at) = text.len().checked_sub(unit.len()) else {
            continue;
        };
        if text.is_char_boundary(at) && text[at..].eq_ignore_ascii_case(unit) {
            return Ok((text[..at].trim_end(), mm));
        }
    }
    if amount_of(text).is_some() {
        return Err(format!(
            "'{text}' has no unit: write '{text} mm' or '{text} in'"
        ));
    }
    Err(format!(
        "'{text}' is not a length such as '2.4 mm' or '3/32 in'"
    ))
}

/// A decimal number, a fraction, or a whole number and a fraction.
fn amount_of(text: &str) -> Option<f64> {
    let fraction = |part: &str| -> Option<f64> {
        let (over, under) = part.split_once('/')?;
        let (over, under) = (plain(over.trim())?, plain(under.trim())?);
        (under > 0.0).then(|| over / under)
    };
    if let Some(value) = fraction(text) {
        return Some(value);
    }
    if let Some((whole, part)) = text.split_once([' ', '-']).filter(|_| text.contains('/')) {
        return Some(plain(whole)? + fraction(part.trim())?);
    }
    number(text)
}

/// Digits only, as in a fraction.
fn plain(text: &str) -> Option<f64> {
    let digits = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    digits.then(|| text.parse().ok()).flatten()
}

/// A decimal number with a point or a comma; `None` where both stand in it, or it is not finite.
pub fn number(text: &str) -> Option<f64> {
    // With both, there are two points, and that is not a number.
    let value: f64 = text.trim().replace(',', ".").parse().ok()?;
    value.is_finite().then_some(value)
}

impl fmt::Display for Length {
    /// Millimetres to the hundredth, without needless zeros.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!("{:.2}", self.mm);
        let text = text.trim_end_matches('0').trim_end_matches('.');
        write!(f, "{text} mm")
    }
}

impl Serialize for Length {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Length {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Length, D::Error> {
        struct Text;
        impl Visitor<'_> for Text {
            type Value = Length;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a length with its unit in quotes, such as \"2.4 mm\" or \"3/32 in\"")
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<Length, E> {
                Length::parse(text).map_err(E::custom)
            }
        }
        deserializer.deserialize_str(Text)
    }
}

#[cfg(test)]
mod tests {
    use super::Length;

    /// Trade sizes: an inch is exactly 25.4 mm (international inch).
    #[test]
    fn lengths_are_read_as_welders_write_them() {
        for (text, mm) in [
            ("2.4 mm", 2.4),
            ("2,4 mm", 2.4),
            (" 2,4mm ", 2.4),
            ("3/32 in", 2.38125),
            ("3/32\"", 2.38125),
            ("3/32″", 2.38125),
            ("3/32”", 2.38125),
            (".040 in.", 1.016),
            ("1 1/2 in", 38.1),
            ("1-1/2 inches", 38.1),
            ("1/16 INCH", 1.5875),
            ("0 mm", 0.0),
        ] {
            let length = Length::parse(text).expect(text);
            assert!((length.mm() - mm).abs() < 1e-12, "{text} gave {length:?}");
        }
    }

    #[test]
    fn a_unit_left_out_is_an_error_and_not_a_guess() {
        for text in ["2.4", "3/32", "1 1/2"] {
            let problem = Length::parse(text).unwrap_err();
            assert!(problem.contains("has no unit"), "{problem}");
        }
    }

    #[test]
    fn what_is_no_length_is_refused() {
        for text in [
            "",
            "mm",
            "-2 mm",
            "3/0 in",
            "1.234,5 mm",
            "nan mm",
            "inf in",
            "é",
            "2.4 µm",
        ] {
            assert!(Length::parse(text).is_err(), "{text} was taken");
        }
    }

    #[test]
    fn a_length_is_shown_in_millimetres() {
        assert_eq!(Length::parse("3/32 in").unwrap().to_string(), "2.38 mm");
        assert_eq!(Length::parse("10 mm").unwrap().to_string(), "10 mm");
        assert_eq!(Length::parse("1,6 mm").unwrap().to_string(), "1.6 mm");
    }
}
