//! Numbers in messages: as they were given, in at most twelve digits.

/// Digits that a number in a message has at most.
const MOST: usize = 12;

/// A number as it was given, rounded where that takes more than twelve digits.
pub fn given(value: f64) -> String {
    let plain = value.to_string();
    if digits(&plain) <= MOST {
        return plain;
    }
    let before_point = value.abs().log10().floor() as i32 + 1;
    let places = MOST as i32 - before_point.max(1);
    if (0..MOST as i32).contains(&places) && value.abs() >= 1e-4 {
        return without_zeros(&format!("{value:.*}", places as usize));
    }
    let text = format!("{value:.8e}");
    match text.split_once('e') {
        Some((mantissa, exponent)) => format!("{}e{exponent}", without_zeros(mantissa)),
        None => text,
    }
}

/// A text with every number that stands by itself [`given`]; what is quoted or part of a name stays.
pub(crate) fn shortened(text: &str) -> String {
    let word = |word: &str| {
        let number = word.trim_end_matches([',', ';', '.', ')', ':']);
        let long = digits(number) > MOST;
        match number.parse::<f64>() {
            Ok(value) if long && value.is_finite() => given(value) + &word[number.len()..],
            _ => word.to_owned(),
        }
    };
    text.split(' ').map(word).collect::<Vec<_>>().join(" ")
}

fn digits(text: &str) -> usize {
    text.bytes().filter(u8::is_ascii_digit).count()
}

fn without_zeros(text: &str) -> String {
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_told_as_given_in_at_most_twelve_digits() {
        for (value, told) in [
            (0.001, "0.001"),
            (1e-9, "0.000000001"),
            (1e300, "1e300"),
            (-1e-300, "-1e-300"),
            (1.0 / 3.0, "0.33333333333"),
            (123_456_789.123_456, "123456789.123"),
            (1_234_567_890_123.0, "1.23456789e12"),
            (f64::MAX, "1.79769313e308"),
        ] {
            assert_eq!(given(value), told);
            assert!(digits(&given(value)) <= MOST);
        }
    }

    #[test]
    fn names_and_quoted_texts_keep_their_digits() {
        let long = 1e300.to_string();
        assert_eq!(
            shortened(&format!("offset = {long}, expected 1")),
            "offset = 1e300, expected 1"
        );
        for kept in [
            "'1234567890123456' is",
            "20261126144544123.wav is",
            "no number",
            "12",
        ] {
            assert_eq!(shortened(kept), kept);
        }
    }
}
