//! One field of a table: a number, a time of day, a word for "no value", or text.

/// Content of a field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Field {
    /// A finite number.
    Number(f64),
    /// Seconds since midnight, or since 1970 if there is a date.
    Clock(f64),
    /// A word for "no value".
    Missing,
    /// A word for "over the range".
    Over,
    /// A number with thousands separators, which is ambiguous.
    Thousands,
    /// Anything else.
    Text,
}

/// Maximum length of a number.
const LONGEST_NUMBER: usize = 48;
/// Numbers that stand for words: SCPI-99 (after IEEE 488.2) writes 9.9E+37 for infinity (from memory).
const WORDS: std::ops::Range<f64> = 9.89e37..1e38;
/// Lower bound of the numbers that stand for "not a number", in SCPI-99 9.91E+37 (from memory).
const MISSING_FROM: f64 = 9.905e37;
/// Words that loggers write for a missing value.
const MISSING: [&str; 9] = ["nan", "n/a", "na", "null", "none", "-", "--", "---", "#n/a"];
/// Words that loggers write for a value over the range.
const OVER: [&str; 12] = [
    "ol",
    "o.l",
    "over",
    "overload",
    "overflow",
    "overrange",
    "ovl",
    "ovrflw",
    "inf",
    "infinity",
    "#num!",
    "#over",
];

/// Reads one field; `decimal` is the decimal sign, a point or a comma.
pub(crate) fn field(bytes: &[u8], decimal: u8) -> Field {
    let bytes = bytes.trim_ascii();
    if let Some(number) = number(bytes, decimal) {
        return Field::Number(number);
    }
    if bytes.is_empty() {
        return Field::Missing;
    }
    let Ok(text) = std::str::from_utf8(bytes) else {
        return Field::Text;
    };
    if let Some(number) = written_number(bytes, decimal) {
        return if number.abs() >= MISSING_FROM {
            Field::Missing
        } else {
            Field::Over
        };
    }
    let word = text.trim_start_matches(['+', '-']).to_ascii_lowercase();
    if MISSING.contains(&word.as_str()) || text.bytes().all(|b| b == b'-') {
        Field::Missing
    } else if OVER.contains(&word.as_str()) || text.bytes().all(|b| b == b'*') {
        Field::Over
    } else if is_grouped(text) {
        Field::Thousands
    } else {
        clock(text).map_or(Field::Text, Field::Clock)
    }
}

/// Reads a field that is nothing but a plausible sample value, without surrounding blanks.
pub(crate) fn number(bytes: &[u8], decimal: u8) -> Option<f64> {
    written_number(bytes, decimal).filter(|x| !WORDS.contains(&x.abs()))
}

/// Reads a finite number, whatever it stands for.
fn written_number(bytes: &[u8], decimal: u8) -> Option<f64> {
    let (&first, &last) = (bytes.first()?, bytes.last()?);
    // The standard library accepts words such as "nan" as numbers; they are not numbers here.
    let begins = first.is_ascii_digit() || matches!(first, b'-' | b'+' | b'.') || first == decimal;
    if !begins || !(last.is_ascii_digit() || last == decimal) {
        return None;
    }
    if decimal == b'.' {
        return fast_float2::parse(bytes)
            .ok()
            .filter(|x: &f64| x.is_finite());
    }
    if bytes.len() > LONGEST_NUMBER || bytes.contains(&b'.') {
        return None;
    }
    let mut pointed = [0; LONGEST_NUMBER];
    let pointed = &mut pointed[..bytes.len()];
    pointed.copy_from_slice(bytes);
    pointed
        .iter_mut()
        .filter(|b| **b == decimal)
        .for_each(|b| *b = b'.');
    fast_float2::parse(&*pointed)
        .ok()
        .filter(|x: &f64| x.is_finite())
}

/// Powers of ten that floats hold exactly.
const TENS: [f64; 16] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
];

/// Reads the short decimal number at the start of a text, such as "-12.345", and its length; `None` if that needs the
/// standard library.
///
/// With up to 15 digits both the digits and the power of ten are exact, so their quotient is rounded once, correctly
/// (Clinger, How to read floating point numbers accurately, 1990).
#[inline(always)]
pub(crate) fn short_number(text: &[u8]) -> Option<(f64, usize)> {
    let negative = text.first() == Some(&b'-');
    let begin = usize::from(negative);
    let (mut digits, mut length) = digits(text, begin, 0);
    let (mut count, mut decimals) = (length - begin, 0);
    if text.get(length) == Some(&b'.') {
        let fraction = length + 1;
        (digits, length) = self::digits(text, fraction, digits);
        decimals = length - fraction;
        count += decimals;
    }
    if !(1..TENS.len()).contains(&count) {
        return None;
    }
    let value = digits as f64 / TENS[decimals];
    Some((if negative { -value } else { value }, length))
}

/// Appends the digits from a position on to a number; returns it and where they end.
#[inline(always)]
fn digits(text: &[u8], mut at: usize, mut number: u64) -> (u64, usize) {
    while let Some(byte) = text.get(at)
        && byte.is_ascii_digit()
    {
        number = number.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
        at += 1;
    }
    (number, at)
}

/// Whether digits stand in groups of three with a separator: "1,234.5" or "1 234".
fn is_grouped(text: &str) -> bool {
    let digits = text.trim_start_matches(['+', '-']);
    let groups: Vec<&str> = digits
        .split([',', '.', '\'', ' ', '\u{a0}', '\u{202f}'])
        .collect();
    let all_digits = |g: &&str| !g.is_empty() && g.bytes().all(|b| b.is_ascii_digit());
    groups.len() > 1
        && groups.iter().all(all_digits)
        && groups[0].len() <= 3
        && groups[1].len() == 3
}

/// Reads a time of day ("13:05:07.25", a comma is allowed) with or without a date before it.
pub(crate) fn clock(text: &str) -> Option<f64> {
    let (date, time) = match text.rsplit_once([' ', 'T']) {
        Some((date, time)) => (Some(date.trim()), time),
        None => (None, text),
    };
    let mut parts = time.trim_end_matches('Z').split(':');
    let hours: u32 = parts.next()?.parse().ok()?;
    let minutes: u32 = parts.next()?.parse().ok()?;
    let seconds = match parts.next() {
        Some(s) if s.contains(',') => number(s.as_bytes(), b',')?,
        Some(s) => number(s.as_bytes(), b'.')?,
        None => return None,
    };
    if parts.next().is_some() || hours > 23 || minutes > 59 || !(0.0..61.0).contains(&seconds) {
        return None;
    }
    let of_day = f64::from(hours * 3600 + minutes * 60) + seconds;
    match date {
        Some(date) => Some(days(date)? * 86_400.0 + of_day),
        None => Some(of_day),
    }
}

/// Days since 1970 of a date with the year first, or the day and month first; their order does not matter within a
/// month.
fn days(date: &str) -> Option<f64> {
    let parts: Vec<i16> = date
        .split(['-', '/', '.'])
        .map(|p| p.parse().ok())
        .collect::<Option<_>>()?;
    let [a, b, c] = parts[..] else { return None };
    let (year, month, day) = match (a, b, c) {
        (1000.., _, _) => (a, b, c),
        (_, 13.., 1000..) => (c, a, b),
        (_, _, 1000..) => (c, b, a),
        _ => return None,
    };
    civil_days(i64::from(year), i64::from(month), i64::from(day))
}

/// Days from 1970-01-01 to a date of the Gregorian calendar. The year starts on 1 March, so the leap day ends it (H.
/// Hinnant, "chrono-Compatible Low-Level Date Algorithms", days_from_civil).
fn civil_days(year: i64, month: i64, day: i64) -> Option<f64> {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let longest = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 => 28 + i64::from(leap),
        _ => return None,
    };
    if !(1..=longest).contains(&day) {
        return None;
    }
    let from_march = (month + 9) % 12;
    let year = year - i64::from(month <= 2);
    let era = year.div_euclid(400);
    let of_era = year - 400 * era;
    let of_year = (153 * from_march + 2) / 5 + day - 1;
    let days = 146_097 * era + 365 * of_era + of_era / 4 - of_era / 100 + of_year - 719_468;
    Some(days as f64)
}

/// How a number is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Written {
    /// Digits after the decimal sign.
    pub decimals: u32,
    /// Whether a power of ten follows, so that the last digit is worth more in larger numbers.
    pub power: bool,
}

impl Written {
    /// Format of a field that is a number.
    pub fn of(bytes: &[u8], decimal: u8) -> Option<Written> {
        number(bytes.trim_ascii(), decimal)?;
        let mantissa = bytes
            .trim_ascii()
            .split(|b| matches!(b, b'e' | b'E'))
            .next()?;
        let point = mantissa.iter().position(|b| *b == decimal);
        Some(Written {
            decimals: point.map_or(0, |at| mantissa.len() - at - 1) as u32,
            power: mantissa.len() < bytes.trim_ascii().len(),
        })
    }

    /// Value of the last digit in numbers of this size.
    pub fn step(&self, size: f64) -> f64 {
        let power = if self.power && size > 0.0 {
            size.log10().floor() as i32
        } else {
            0
        };
        10_f64.powi(power - self.decimals as i32)
    }
}

/// Resolution of a time: 10^(−decimals) of its unit.
pub(crate) fn resolution(bytes: &[u8]) -> f64 {
    let text = bytes.trim_ascii();
    let mantissa = text
        .split(|b| matches!(b, b'e' | b'E'))
        .next()
        .unwrap_or(text);
    let exponent = text[mantissa.len()..]
        .get(1..)
        .and_then(|e| std::str::from_utf8(e).ok()?.parse::<i32>().ok());
    let decimals = mantissa
        .iter()
        .rposition(|b| matches!(b, b'.' | b','))
        .map_or(0, |k| mantissa.len() - k - 1);
    10_f64.powi(exponent.unwrap_or(0) - decimals as i32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_words_and_times_are_told_apart() {
        let cases: [(&str, u8, Field); 23] = [
            ("1.5", b'.', Field::Number(1.5)),
            (" +1e-3 ", b'.', Field::Number(0.001)),
            ("-1,25", b',', Field::Number(-1.25)),
            ("7", b',', Field::Number(7.0)),
            ("NaN", b'.', Field::Missing),
            ("", b'.', Field::Missing),
            ("---", b'.', Field::Missing),
            ("-OL", b'.', Field::Over),
            ("Inf", b'.', Field::Over),
            ("1e999", b'.', Field::Text),
            ("9.9E+37", b'.', Field::Over),
            ("-9,900000E+37", b',', Field::Over),
            ("9.91E37", b'.', Field::Missing),
            ("9.9E+36", b'.', Field::Number(9.9e36)),
            ("1e308", b'.', Field::Number(1e308)),
            ("1,234.5", b'.', Field::Thousands),
            ("1.234,5", b',', Field::Thousands),
            ("1 234", b'.', Field::Thousands),
            ("00:00:01.5", b'.', Field::Clock(1.5)),
            ("23:59:59,250", b',', Field::Clock(86_399.25)),
            ("1970-01-02 00:00:01", b'.', Field::Clock(86_401.0)),
            ("02.01.1970 00:00:01", b'.', Field::Clock(86_401.0)),
            ("80 A", b'.', Field::Text),
        ];
        for (text, decimal, expected) in cases {
            assert_eq!(field(text.as_bytes(), decimal), expected, "{text}");
        }
    }

    proptest::proptest! {
        /// Compares with the standard library, which rounds correctly.
        #[test]
        fn a_short_number_is_the_nearest_to_what_is_written(
            text in "-?[0-9]{0,9}[.]?[0-9]{0,9}",
            behind in proptest::collection::vec(proptest::num::u8::ANY, 0..20),
        ) {
            let ends = behind.first().is_none_or(|b| !b.is_ascii_digit() && *b != b'.');
            let behind = if ends { behind } else { Vec::new() };
            match short_number(&[text.as_bytes(), &behind].concat()) {
                Some((value, length)) => {
                    assert_eq!(length, text.len());
                    assert_eq!(value.to_bits(), text.parse::<f64>().unwrap().to_bits());
                }
                None => assert!(!(1..16).contains(&text.bytes().filter(u8::is_ascii_digit).count())),
            }
        }
    }

    #[test]
    fn the_last_digit_is_worth_more_in_larger_numbers_where_a_power_of_ten_is_written() {
        let step = |text: &[u8], size| Written::of(text, b'.').unwrap().step(size);
        assert_eq!(step(b" 80.25 ", 80.0), 0.01);
        assert_eq!(step(b"-7", 3.0), 1.0);
        assert_eq!(step(b"1.25E-02", 80.0), 0.1);
        assert_eq!(Written::of(b"OL", b'.'), None);
    }

    #[test]
    fn the_resolution_is_the_last_digit() {
        assert_eq!(resolution(b"0.00005"), 1e-5);
        assert_eq!(resolution(b"12"), 1.0);
        assert_eq!(resolution(b"1.5E-3"), 1e-4);
        assert_eq!(resolution(b"10:00:00,125"), 1e-3);
    }

    /// Compares with Python's datetime.date: `(date - date(1970, 1, 1)).days`.
    #[test]
    fn days_of_the_calendar_are_counted() {
        let days = |year, month, day| civil_days(year, month, day);
        assert_eq!(days(1970, 1, 1), Some(0.0));
        assert_eq!(days(1969, 12, 31), Some(-1.0));
        assert_eq!(days(2000, 2, 29), Some(11_016.0));
        assert_eq!(days(2026, 11, 26), Some(20_783.0));
        assert_eq!(days(2100, 3, 1), Some(47_541.0));
        assert_eq!((days(1900, 2, 29), days(2026, 4, 31)), (None, None));
    }
}
