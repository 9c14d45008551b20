//! How many clean trials show a low rate, and acceptance sampling by attributes.

use crate::stats::dist::binomial_cdf;

/// Trials without an event that show, at this confidence, a success rate of at least `reliability`:
/// the success run n = ln(1 − C) / ln R, rounded up. Both lie strictly between 0 and 1.
pub fn success_run(confidence: f64, reliability: f64) -> u64 {
    let n = (1.0 - confidence).ln() / reliability.ln();
    // A whole number stays itself where rounding put it a hair above.
    (n - 1e-9).ceil() as u64
}

/// Trials with up to `allowed` events that show, at this confidence, an event rate under `limit`:
/// the smallest n at which so few events have chance 1 − C at most at the limit (binomial; with none
/// allowed this is the success run).
pub fn demonstration_size(allowed: u64, limit: f64, confidence: f64) -> u64 {
    let shows = |n: u64| binomial_cdf(allowed, n, limit) <= 1.0 - confidence;
    let mut most = allowed + 1;
    while !shows(most) {
        most *= 2;
    }
    let mut least = most / 2;
    while least + 1 < most {
        let middle = least.midpoint(most);
        if shows(middle) {
            most = middle;
        } else {
            least = middle;
        }
    }
    most
}

/// A single sampling plan: inspect `n`, accept up to `accept` bad ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plan {
    /// Sample size.
    pub n: usize,
    /// Acceptance number.
    pub accept: usize,
}

const LETTERS: [char; 16] = [
    'A', 'B', 'C', 'D', 'E', 'F', 'G', 'H', 'J', 'K', 'L', 'M', 'N', 'P', 'Q', 'R',
];
const SIZES: [usize; 16] = [
    2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000,
];
/// Largest lot of each letter from A to Q at general inspection level II; over the last it is Q, too.
const LOTS: [usize; 14] = [
    8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000,
];
/// Acceptance limits in percent, from the one whose zero plan has the largest sample.
const AQL: [f64; 15] = [
    0.010, 0.015, 0.025, 0.040, 0.065, 0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5,
];
/// Acceptance numbers down a column of the master table from its zero plan; `None` is an arrow:
/// the first of the two points up, the second down.
const COLUMN: [Option<usize>; 11] = [
    Some(0),
    None,
    None,
    Some(1),
    Some(2),
    Some(3),
    Some(5),
    Some(7),
    Some(10),
    Some(14),
    Some(21),
];

/// Sample size code letter of a lot, general inspection level II (ISO 2859-1). Lots of one have
/// none of their own and count as the smallest.
pub fn code_letter(lot: usize) -> char {
    LETTERS[LOTS.iter().take_while(|&&largest| lot > largest).count()]
}

/// The single plan for normal inspection (ISO 2859-1) at a code letter, arrows followed; `None`
/// where the letter or the acceptance limit (percent, 0.010 to 6.5 in the standard's steps) is not
/// in the table.
pub fn sampling_plan(letter: char, aql: f64) -> Option<Plan> {
    let row = LETTERS.iter().position(|&l| l == letter)?;
    let column = AQL.iter().position(|&a| (a - aql).abs() < 1e-9)?;
    let zero_row = AQL.len() - 1 - column;
    let step = match row.checked_sub(zero_row) {
        None => 0,
        Some(1) => 0,
        Some(2) => 3,
        Some(down) => down.min(COLUMN.len() - 1),
    };
    let row = zero_row + step;
    Some(Plan {
        n: *SIZES.get(row)?,
        accept: COLUMN[step]?,
    })
}

/// Chance that a process with this rate of bad ones is accepted by the plan.
pub fn acceptance_probability(plan: Plan, rate: f64) -> f64 {
    binomial_cdf(plan.accept as u64, plan.n as u64, rate)
}
