//! Formats numbers for people; tables for programs carry all digits instead.

use crate::measure::{Kind, Measure};
/// Three significant digits, without an exponent: 0.297, 61.5, 1234.
pub fn short(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let digits = (2 - value.abs().log10().floor() as i32).clamp(0, 6) as usize;
    let text = format!("{value:.digits$}");
    match text
        .trim_start_matches('-')
        .trim_matches(['0', '.'])
        .is_empty()
    {
        true => "0".to_owned(),
        // A minus sign, which is as wide as a digit, instead of a hyphen.
        false => text.replacen('-', "−", 1),
    }
}

/// [`short`] without trailing zeros, for numbers that somebody chose.
pub fn trimmed(value: f64) -> String {
    let text = short(value);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// A measure's value with its unit: 410 ms, 2 attempts.
pub fn measured(measure: &str, value: f64) -> String {
    match Measure::named(measure) {
        Some(known) if known.kind() == Kind::Count => format!("{value:.0}"),
        Some(known) if !known.unit().is_empty() => format!("{} {}", short(value), known.unit()),
        _ => short(value),
    }
}

/// [`short`], or a dash where there is no value.
pub fn short_or_dash(value: Option<f64>) -> String {
    value.map_or("–".to_owned(), short)
}

/// A difference with its sign: +12.3, −4, 0.
pub fn signed(value: f64) -> String {
    match short(value) {
        text if value > 0.0 && text != "0" => format!("+{text}"),
        text => text,
    }
}

/// A p-value as it is commonly printed: 0.034, <0.001.
pub fn p_value(p: f64) -> String {
    match p {
        p if p < 0.001 => "<0.001".to_owned(),
        p if p < 0.1 => format!("{p:.3}"),
        p => format!("{p:.2}"),
    }
}

/// A rate as whole percent, or with one digit below 10 %: 8.3 %, 42 %.
pub fn percent(rate: f64) -> String {
    let percent = 100.0 * rate;
    match percent {
        p if p == 0.0 || p >= 9.95 => format!("{p:.0} %"),
        p => format!("{p:.1} %"),
    }
}

/// A difference of two rates in percentage points with its sign: +29 %, −4.2 %.
pub fn percent_points(difference: f64) -> String {
    let sign = match percent(difference.abs()).as_str() {
        "0 %" | "0.0 %" => "",
        _ if difference < 0.0 => "−",
        _ => "+",
    };
    format!("{sign}{}", percent(difference.abs()))
}

/// A count with its noun: 1 start, 2 starts.
pub(crate) fn counted(count: usize, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_keep_three_digits_and_lose_no_sign() {
        let shown = [0.0, 0.2968, 61.53, 1234.4, -4.0, 1e-9, -1e-9, 99.96].map(short);
        assert_eq!(
            shown,
            ["0", "0.297", "61.5", "1234", "−4.00", "0", "0", "100.0"]
        );
        assert_eq!([12.34, -12.34, 0.0].map(signed), ["+12.3", "−12.3", "0"]);
        assert_eq!(
            [0.0004, 0.0345, 0.5].map(p_value),
            ["<0.001", "0.035", "0.50"]
        );
        assert_eq!(
            [0.0, 0.083, 0.42, 1.0].map(percent),
            ["0 %", "8.3 %", "42 %", "100 %"]
        );
    }
}
