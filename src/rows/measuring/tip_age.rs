//! The runs in the order of the sheet, with the starts since the regrind where it leaves them out: a row goes on from the row
//! before it on the same tip.

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

/// Runs of a sheet that are measured in any order.
pub(super) struct InOrder<'a> {
    /// Those that are not final yet.
    runs: &'a [Run],
    /// What was found in the runs after the first of those, by number; `None` for one that could not be read.
    found: HashMap<u32, Option<OfRun>>,
    /// The count that the next start on a tip has.
    next: HashMap<Tip<'a>, f64>,
}

impl<'a> InOrder<'a> {
    /// All runs of a sheet, in its order.
    pub(super) fn of(runs: &'a [Run]) -> InOrder<'a> {
        InOrder {
            runs,
            found: HashMap::new(),
            next: HashMap::new(),
        }
    }

    /// Takes what was found in a run.
    pub(super) fn put(&mut self, run: &Run, found: Option<OfRun>) {
        self.found.insert(run.number, found);
    }

    /// The runs that are final: all before them are known. One that could not be read is left out.
    pub(super) fn final_runs(&mut self) -> Vec<OfRun> {
        let mut all = Vec::new();
        while let [run, rest @ ..] = self.runs
            && let Some(found) = self.found.remove(&run.number)
        {
            self.runs = rest;
            all.extend(self.go_on(run, found));
        }
        all
    }

    /// Fills in the starts of a run that gives no count, from the run before it on the same tip. Behind a run that could not be
    /// read a tip's count is unknown until the sheet gives it again.
    fn go_on(&mut self, run: &'a Run, found: Option<OfRun>) -> Option<OfRun> {
        let tip = tip_of(run);
        let Some(mut own) = found else {
            self.next.remove(&tip);
            return None;
        };
        let given = run.since_regrind.map(f64::from);
        if let Some(mut count) = given.or_else(|| self.next.get(&tip).copied()) {
            for row in &mut own.rows {
                row.measures.set(Measure::SinceRegrind, Some(count));
                count += 1.0;
            }
            self.next.insert(tip, count);
        }
        Some(own)
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
        let mut in_order = InOrder::of(runs);
        let mut found = Vec::new();
        // Measured from the last to the first of each pair, as it comes where they lie in files of unlike sizes.
        for pair in runs.chunks(2) {
            for run in pair.iter().rev() {
                in_order.put(run, (!unread.contains(&run.number)).then(three));
            }
            found.extend(in_order.final_runs());
        }
        let count = |row: &StartRow| row.measures.since_regrind();
        let ends = |own: &OfRun| [count(&own.rows[0]), count(&own.rows[2])];
        found.iter().map(ends).collect()
    }

    #[test]
    fn a_run_is_final_once_all_before_it_are_known() {
        let runs = [1, 2, 3].map(|number| run(number, None, "3", None));
        let nothing = || OfRun {
            rows: Vec::new(),
            details: Vec::new(),
        };
        let mut in_order = InOrder::of(&runs);
        in_order.put(&runs[2], Some(nothing()));
        assert!(in_order.final_runs().is_empty());
        in_order.put(&runs[0], Some(nothing()));
        assert_eq!(in_order.final_runs().len(), 1);
        in_order.put(&runs[1], None);
        assert_eq!(
            in_order.final_runs().len(),
            1,
            "the second could not be read"
        );
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
