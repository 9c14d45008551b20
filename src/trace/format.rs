//! Formats numbers for people; tables for programs carry all digits instead.

use crate::measure::{Kind, Measure, Quantity};

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

/// A moment of a recording: "12.35 s", from a minute on "3:05.2".
pub fn clock(seconds: f64) -> String {
    let tenths = (10.0 * seconds).round();
    match tenths < 600.0 {
        true => format!("{seconds:.2} s"),
        false => minutes(seconds),
    }
}

/// A moment of a recording where there is little room: "0:12.4".
pub fn minutes(seconds: f64) -> String {
    let tenths = (10.0 * seconds).round();
    format!(
        "{}:{:04.1}",
        (tenths / 600.0).floor(),
        tenths % 600.0 / 10.0
    )
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
pub fn counted(count: usize, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}

/// A short name for people: that of a measure, else the name itself.
pub fn label(measure: &str) -> &str {
    Measure::named(measure).map_or(measure, |known| known.label())
}

/// The unit of a measure for people; the score has points.
pub fn unit(measure: &str) -> &'static str {
    match Quantity::named(measure) {
        Quantity::Score => "points",
        other => other.unit(),
    }
}

/// A number that somebody chose or that stands alone, with its unit.
pub fn quantity(measure: &str, value: f64) -> String {
    format!("{} {}", trimmed(value), unit(measure))
        .trim_end()
        .to_owned()
}

/// "a", "a and b", "a, b and c".
pub fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// How an estimate is written where it is known to within `half` of its interval's width: two digits of what is not known
/// are shown, in sentence and table alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Digits(usize);

impl Digits {
    /// For an interval from `lo` to `hi`; without one as for the value itself.
    pub fn of(value: f64, lo: Option<f64>, hi: Option<f64>) -> Digits {
        let half = match (lo, hi) {
            (Some(lo), Some(hi)) if hi > lo => 0.5 * (hi - lo),
            _ => 0.1 * value.abs(),
        };
        match half > 0.0 {
            true => Digits((1 - half.log10().floor() as i32).clamp(0, 9) as usize),
            false => Digits(0),
        }
    }

    /// The number, a minus sign before it where it is under 0.
    pub fn write(self, value: f64) -> String {
        let text = format!("{value:.*}", self.0);
        match text
            .trim_start_matches('-')
            .trim_matches(['0', '.'])
            .is_empty()
        {
            true => text.trim_start_matches('-').to_owned(),
            false => text.replacen('-', "−", 1),
        }
    }

    /// The same with a plus sign where it is over 0.
    pub fn signed(self, value: f64) -> String {
        let text = self.write(value);
        let nothing = text.trim_matches(['0', '.']).is_empty();
        if value > 0.0 && !nothing {
            format!("+{text}")
        } else {
            text
        }
    }
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

    /// Half-widths of 17.5, 0.08 and 0.00043: two digits of each.
    #[test]
    fn an_estimate_shows_two_digits_of_what_is_not_known() {
        let written = |value: f64, lo: f64, hi: f64| {
            let digits = Digits::of(value, Some(lo), Some(hi));
            [value, lo, hi].map(|x| digits.signed(x))
        };
        assert_eq!(written(26.2, 8.9, 43.9), ["+26", "+9", "+44"]);
        assert_eq!(
            written(-0.151, -0.23, -0.07),
            ["−0.151", "−0.230", "−0.070"]
        );
        assert_eq!(
            written(-0.000_395, -0.0008, 0.000_06),
            ["−0.00040", "−0.00080", "+0.00006"]
        );
        assert_eq!(Digits::of(0.0, None, None).signed(0.0), "0");
        assert_eq!(Digits::of(21.7, None, None).write(21.7), "21.7");
    }
}
