//! Starts since the regrind where the sheet leaves them out: a row goes on from the row before it on the same tip.

use std::collections::HashMap;

use crate::job::Run;
use crate::measure::Measure;
use crate::measuring::part::OfRun;

/// Prep and `tip_id`; without a `tip_id`, the cell and the operator whose tip of the prep it is.
type Tip<'a> = (&'a str, Option<&'a str>, Option<&'a str>, Option<&'a str>);

fn tip_of(run: &Run) -> Tip<'_> {
    let named = run.tip_id.as_deref();
    let unnamed = |text| Option::filter(text, |_| named.is_none());
    let operator = run.other.get("operator").map(String::as_str);
    (
        &run.prep,
        named,
        unnamed(run.cell.as_deref()),
        unnamed(operator),
    )
}

/// Fills in the starts of each run that gives no count, from the run before it on the same tip. `found` holds the runs
/// that could be read; both are in the order of the sheet. Behind a run that could not be read a tip's count is unknown
/// until the sheet gives it again.
pub(super) fn go_on(runs: &[Run], found: &mut [(&Run, OfRun)]) {
    let mut next: HashMap<Tip, f64> = HashMap::new();
    let mut found = found.iter_mut().peekable();
    for run in runs {
        let Some((_, own)) = found.next_if(|(read, _)| read.number == run.number) else {
            next.remove(&tip_of(run));
            continue;
        };
        let given = run.since_regrind.map(f64::from);
        let Some(mut count) = given.or_else(|| next.get(&tip_of(run)).copied()) else {
            continue;
        };
        for row in &mut own.rows {
            row.measures.set(Measure::SinceRegrind, Some(count));
            count += 1.0;
        }
        next.insert(tip_of(run), count);
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::score::StartRow;

    fn run(number: u32, tip_id: Option<&str>, cell: &str, since: Option<u32>) -> Run {
        Run {
            prep: "A".into(),
            tip_id: tip_id.map(str::to_owned),
            cell: Some(cell.into()),
            since_regrind: since,
            ..Run::bare(number, Path::new("a.wav"))
        }
    }

    /// Counts of the first and last start of runs of three starts each; the runs named in `unread` could not be read.
    fn counts(runs: &[Run], unread: &[u32]) -> Vec<[Option<f64>; 2]> {
        let three = || OfRun {
            rows: vec![StartRow::default(); 3],
            details: Vec::new(),
        };
        let read = runs.iter().filter(|run| !unread.contains(&run.number));
        let mut found: Vec<(&Run, OfRun)> = read.map(|run| (run, three())).collect();
        go_on(runs, &mut found);
        let count = |row: &StartRow| row.measures.since_regrind();
        let ends = |(_, own): &(&Run, OfRun)| [count(&own.rows[0]), count(&own.rows[2])];
        found.iter().map(ends).collect()
    }

    #[test]
    fn a_row_goes_on_from_the_row_before_on_its_tip() {
        let (a1, a2) = (Some("A1"), Some("A2"));
        let runs = [
            run(1, a1, "3", Some(1)),
            run(2, a2, "3", Some(5)),
            run(3, a1, "7", None),
            run(4, a2, "3", None),
            run(5, a1, "3", None),
            run(6, Some("A3"), "3", None),
        ];
        let ends = |a: f64, b: f64| [Some(a), Some(b)];
        let (from_1, from_5) = (ends(1.0, 3.0), ends(5.0, 7.0));
        assert_eq!(
            counts(&runs, &[]),
            [
                from_1,
                from_5,
                ends(4.0, 6.0),
                ends(8.0, 10.0),
                ends(7.0, 9.0),
                [None; 2]
            ]
        );
        assert_eq!(
            counts(&runs, &[3]),
            [from_1, from_5, ends(8.0, 10.0), [None; 2], [None; 2]]
        );
    }

    #[test]
    fn without_names_a_cell_goes_on_until_its_count_falls_back() {
        let runs = [
            run(1, None, "3", Some(1)),
            run(2, None, "7", None),
            run(3, None, "3", None),
            run(4, None, "3", Some(1)),
            run(5, None, "3", None),
        ];
        let firsts: Vec<_> = counts(&runs, &[]).iter().map(|ends| ends[0]).collect();
        assert_eq!(firsts, [Some(1.0), None, Some(4.0), Some(1.0), Some(4.0)]);
    }
}
