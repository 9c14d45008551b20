//! How to screen: groups, charts, limits.

use std::collections::{BTreeMap, BTreeSet};

use crate::error::{Error, ErrorKind, Place, Result};
use crate::measure::Measure;
use crate::score::StartRow;
use crate::study::known_measure;
use crate::study::screen::found::Rule;
use crate::study::screen::sampling::SamplingOptions;
use crate::study::wear::WEAR_MEASURES;

/// How to screen.
#[derive(Debug, Clone, PartialEq)]
pub struct ScreenOptions {
    /// Columns to group by, each group with its own counts and charts: `prep`, or columns of the run sheet, such
    /// as the cell and the shift.
    pub by: Vec<String>,
    /// Measures to chart.
    pub charts: Vec<String>,
    /// Kind of chart, by the rule it alarms by.
    pub chart_rule: Rule,
    /// Starts that a chart starts from, where earlier ones do not fill it: up to half of the batch.
    pub baseline: usize,
    /// Earlier starts in order, or known good ones, that charts start from.
    pub earlier: Vec<StartRow>,
    /// Confidence level of intervals, bounds and the wear answers.
    pub level: f64,
    /// Regrind limits of measures, where the user sets them.
    pub regrind: BTreeMap<String, f64>,
    /// Rate of rough starts that is accepted, 0 to 1; `None`: any rough start fails.
    pub accept: Option<f64>,
    /// Acceptance sampling.
    pub sampling: Option<SamplingOptions>,
}

/// What the groups of a batch share of its chance of a false alarm.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Family {
    /// Values that all charts hold against their limits.
    pub(super) values: usize,
    /// Groups and preps in which wear is looked for.
    pub(super) worn: usize,
}

impl Default for ScreenOptions {
    fn default() -> Self {
        ScreenOptions {
            by: vec!["prep".into()],
            charts: vec!["score".into()],
            chart_rule: Rule::RankCusum,
            baseline: 40,
            earlier: Vec::new(),
            level: 0.95,
            regrind: BTreeMap::new(),
            accept: None,
            sampling: None,
        }
    }
}

impl ScreenOptions {
    /// The measures that the answer rests on: of a table no others need be read.
    pub fn reads(&self) -> BTreeSet<Measure> {
        let charted = self.charts.iter().map(String::as_str);
        let named = charted.chain(WEAR_MEASURES).filter_map(Measure::named);
        // Wear goes by the count, alarms tell these values.
        let told = [
            Measure::SinceRegrind,
            Measure::Attempts,
            Measure::Dropouts,
            Measure::OvershootPct,
        ];
        named.chain(told).collect()
    }

    /// The columns that say how many starts there are to judge, in which groups, and with what on their charts.
    pub fn counts_by(&self) -> BTreeSet<String> {
        let standing = [
            "prep", "exclude", "t_lit_s", "flags", "doubt", "score", "verdict",
        ];
        let of_folder = |column: &String| match column.as_str() {
            "folder" => "recording".to_owned(),
            _ => column.clone(),
        };
        let by = self.by.iter().map(of_folder);
        let named = standing.map(str::to_owned).into_iter().chain(by);
        named.chain(self.charts.iter().cloned()).collect()
    }

    /// The rate of rough starts that does not fail a batch, where one is given.
    pub(super) fn accepted_rate(&self) -> Option<f64> {
        let quality = self.sampling.map(|sampling| sampling.aql / 100.0);
        self.accept.or(quality)
    }

    /// Whether the measures asked for are known.
    ///
    /// # Errors
    /// A measure that no start has.
    pub(super) fn check(&self, rows: &[StartRow]) -> Result<()> {
        for measure in &self.charts {
            known_measure(rows, measure, "chart")?;
        }
        let known = |measure: &&String| WEAR_MEASURES.contains(&measure.as_str());
        if let Some(measure) = self.regrind.keys().find(|m| !known(m)) {
            let problem = format!("no wear is looked for in {measure}");
            return Err(Error::new(
                ErrorKind::InvalidParameter,
                Place::parameter("regrind_at"),
                problem,
            )
            .hint(format!("It is in {}", WEAR_MEASURES.join(", "))));
        }
        Ok(())
    }
}
