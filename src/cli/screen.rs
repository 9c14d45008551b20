//! `tipstrike screen`: did this batch start clean?

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::cli::outcome::Outcome;
use crate::cli::{answer, progress, terminal};
use crate::error::{Error, ErrorKind, Result};
use crate::guard::guard;
use crate::job::JOB_FILE;
use crate::measure::Measure;
use crate::measuring::gather::{GatherOptions, StartSet};
use crate::measuring::nights::Nights;
use crate::measuring::table;
use crate::measuring::table::Wanted;
use crate::output::Form;
use crate::report::text;
use crate::report::words::screen::TellScreening;
use crate::score::StartRow;
use crate::study::{
    Reads, RecordingLine, Rule, SamplingOptions, ScreenOptions, Screening, mark_tip_off, screen,
    screen_parts,
};

/// Screen a batch: starts past a limit, control charts, regrind advice. Exit code 0: clean, 1: not.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tipstrike screen job.toml
  tipstrike screen lastnight --job job.toml --prep A --by folder --append nights.csv --quiet
  tipstrike screen lastnight --job job.toml --prep A --baseline-from good.csv
  tipstrike screen starts.csv --by cell,prep --accept 2% --json -
  tipstrike screen starts.csv --sampling 2.5 --lot 1200

A batch passes where every start can be judged, none is rough, fails to light or is past the
poor end of a target, and no chart goes out. Exit code 1: not passed; 3: clean, but some
recordings could not be read. --quiet prints the verdict only. A clean batch accepts no weld.")]
pub struct ScreenArgs {
    /// Job files or their folders, starts tables, folders of recordings, or recordings
    #[arg(required = true, value_name = "JOB|TABLE|FOLDER")]
    inputs: Vec<PathBuf>,
    /// Job file whose logger, measuring and preps serve recordings without a run sheet
    #[arg(long, value_name = "JOB")]
    job: Option<PathBuf>,
    /// Prep of recordings without a run sheet; of a job or a table, only its starts
    #[arg(long, value_name = "NAME")]
    prep: Option<String>,
    /// Columns to group by, each group with its own counts and charts: prep, folder, or columns of the run sheet
    #[arg(
        long,
        default_value = "prep",
        value_name = "COLUMN,…",
        value_delimiter = ','
    )]
    by: Vec<String>,
    /// Measure to chart; may be repeated
    #[arg(long, default_value = "score", value_name = "NAME")]
    chart: Vec<String>,
    /// Kind of chart: ranks needs no distribution; the others are for values that are about normal
    #[arg(long, value_enum, default_value_t = ChartKind::Ranks, value_name = "KIND")]
    chart_kind: ChartKind,
    /// Starts that a chart starts from, where earlier ones do not fill it: up to half of the batch
    #[arg(long, default_value_t = 40, value_name = "STARTS", value_parser = clap::value_parser!(u32).range(20..=200))]
    baseline: u32,
    /// Starts table of a known good shift that the charts start from instead
    #[arg(long, value_name = "TABLE")]
    baseline_from: Option<PathBuf>,
    /// Starts table of the nights before: charts go on from it, and tonight's starts are added to it
    #[arg(long, value_name = "TABLE", conflicts_with = "baseline_from")]
    append: Option<PathBuf>,
    /// Take the recordings of a folder only, not those of the folders in it
    #[arg(long)]
    flat: bool,
    /// Limit that asks for a regrind, such as score=70; may be repeated
    #[arg(long, value_name = "NAME=VALUE", value_parser = answer::named_number)]
    regrind_at: Vec<(String, f64)>,
    /// Rate of rough starts that is accepted, where the starts show that it is kept, such as 2%
    #[arg(long, value_name = "PERCENT", value_parser = percent)]
    accept: Option<f64>,
    /// Judge rough starts by a sampling plan instead: acceptance limit in percent (ISO 2859-1)
    #[arg(long, value_name = "AQL", value_parser = answer::number)]
    sampling: Option<f64>,
    /// Starts in the lot that the sample speaks for [default: those screened]
    #[arg(long, value_name = "STARTS", requires = "sampling", value_parser = lot)]
    lot: Option<usize>,
    /// Measure every recording anew, and keep nothing for the next time
    #[arg(long)]
    anew: bool,
    /// Write the answer as JSON to this file, - for stdout
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Write one line a recording as CSV to this file, - for stdout
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
}

/// Kinds of control chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum ChartKind {
    Ranks,
    Individuals,
    Ewma,
}

/// The answer as JSON.
const JSON: Form = Form {
    name: "an answer of screen",
    is_own: |head| head.starts_with(b"{\n  \"") && answer::has(head, "\n  \"alarms\": ["),
};

/// One line a recording.
const LINES: Form = Form {
    name: "a list of recordings by screen",
    is_own: |head| head.starts_with(LINE_HEAD.join(",").as_bytes()),
};

/// Columns of the lines.
const LINE_HEAD: [&str; 9] = [
    "recording",
    "prep",
    "starts",
    "rough",
    "no_light",
    "not_judged",
    "score_median",
    "score_worst",
    "alarms",
];

/// Runs the verb.
///
/// # Errors
/// Inputs that cannot be used, a column that no start has, an output that cannot be written.
pub fn run(args: ScreenArgs, quiet: bool) -> Result<Outcome> {
    let cache = answer::kept(args.anew);
    let asked = ScreenOptions {
        charts: args.chart.clone(),
        ..ScreenOptions::default()
    };
    let reads = asked.reads();
    let options = GatherOptions {
        // What is added to the nights before is whole.
        wanted: match args.append {
            Some(_) => Wanted::All,
            None => Wanted::Measures(&reads),
        },
        job: args.job.as_deref(),
        prep: args.prep.as_deref(),
        cache: cache.as_ref(),
        dates: true,
        deep: !args.flat,
        sort_out: true,
        ..GatherOptions::default()
    };
    let parts = args.parts()?;
    let mut gathered = match parts {
        Some(_) => StartSet::default(),
        None => progress::gather(&args.inputs, &options, quiet)?,
    };
    let outputs = [args.json.as_deref(), args.csv.as_deref()];
    answer::one_to_stdout(&outputs)?;
    let written = [
        (outputs[0], &JSON),
        (outputs[1], &LINES),
        (args.append.as_deref(), &table::CSV),
    ];
    answer::spare_inputs(&args.read(), &gathered, &written)?;
    let screening = match &parts {
        Some(parts) => args.screen_parts(parts, &reads, quiet)?,
        None => args.screen(&mut gathered, quiet)?,
    };
    if let Some(path) = &args.json {
        answer::json(path, &JSON, &TellScreening::new(&screening))?;
    }
    if let Some(path) = &args.csv {
        terminal::out_to(path, &LINES, |out| {
            out.write_all(csv_of(&screening.recordings).as_bytes())
        })?;
    }
    let taken = |path: &Option<PathBuf>| answer::takes_stdout(path.as_deref());
    if !taken(&args.json) && !taken(&args.csv) {
        let text = match quiet {
            true => text::verdict_line(&screening, terminal::look()),
            false => text::screening(&screening, terminal::look()),
        };
        terminal::out(|out| out.write_all(text.as_bytes()))?;
    }
    answer::tell_health(&gathered, quiet);
    let read = answer::tell_not_read(&gathered.not_read);
    answer::leave(gathered);
    Ok(outcome(&screening, read))
}

/// A lot has a start at the least; no shop strikes a thousand million.
fn lot(text: &str) -> Result<usize, String> {
    match text.parse::<usize>() {
        Ok(starts) if (1..=1_000_000_000).contains(&starts) => Ok(starts),
        _ => Err("expected a whole number from 1".into()),
    }
}

/// Reads a rate in percent, with or without its sign, as a part of 1.
fn percent(text: &str) -> Result<f64, String> {
    match answer::number(text.trim().trim_end_matches('%')) {
        Ok(percent) if (0.001..100.0).contains(&percent) => Ok(percent / 100.0),
        _ => Err("expected a percentage from 0.001 to under 100, such as 2%".into()),
    }
}

/// Limits exceeded is the stronger news: recordings left out cannot mend it.
fn outcome(screening: &Screening, read: Outcome) -> Outcome {
    if screening.over_limits {
        Outcome::OverLimits
    } else {
        read
    }
}

impl ScreenArgs {
    /// What is named as read.
    fn read(&self) -> Vec<PathBuf> {
        let named = self
            .inputs
            .iter()
            .chain(&self.job)
            .chain(&self.baseline_from);
        named.cloned().collect()
    }

    /// Screens, and adds the starts to the table of the nights where there is one.
    fn screen(&self, gathered: &mut StartSet, quiet: bool) -> Result<Screening> {
        let mut options = self.options(quiet)?;
        let Some(path) = &self.append else {
            return screen(gathered, &options);
        };
        let nights = Nights::read(path)?;
        options.earlier = nights.before(&gathered.rows).to_vec();
        let screening = screen(gathered, &options)?;
        mark_tip_off(&mut gathered.rows, &screening.charts);
        nights.write(path, &gathered.rows)?;
        Ok(screening)
    }

    /// Files of a plant's table by the groups asked for, where its folders are divided that way: then it need not be held as a whole.
    fn parts(&self) -> Result<Option<Vec<Vec<PathBuf>>>> {
        match (&self.inputs[..], &self.by[..], &self.append) {
            ([folder], [by], None)
                if !folder.join(JOB_FILE).is_file() && table::is_partitioned(folder) =>
            {
                table::parted_by(folder, by)
            }
            _ => Ok(None),
        }
    }

    fn screen_parts(
        &self,
        parts: &[Vec<PathBuf>],
        reads: &BTreeSet<Measure>,
        quiet: bool,
    ) -> Result<Screening> {
        let options = self.options(quiet)?;
        let counted = options.counts_by();
        screen_parts(parts, &options, |files, what| {
            let wanted = match what {
                Reads::ToCount => Wanted::Columns(&counted),
                Reads::ToJudge => Wanted::Measures(reads),
            };
            let mut rows = table::read_files(files, wanted)?;
            rows.retain(|row| self.prep.as_ref().is_none_or(|prep| *row.prep == **prep));
            Ok(rows)
        })
    }

    fn options(&self, quiet: bool) -> Result<ScreenOptions> {
        Ok(ScreenOptions {
            by: self.by.clone(),
            charts: self.chart.clone(),
            baseline: self.baseline as usize,
            earlier: match &self.baseline_from {
                Some(path) => known_good(path, quiet)?,
                None => Vec::new(),
            },
            chart_rule: match self.chart_kind {
                ChartKind::Ranks => Rule::RankCusum,
                ChartKind::Individuals => Rule::Individuals,
                ChartKind::Ewma => Rule::Ewma,
            },
            regrind: self.regrind_at.iter().cloned().collect::<BTreeMap<_, _>>(),
            accept: self.accept,
            sampling: self
                .sampling
                .map(|aql| SamplingOptions { aql, lot: self.lot }),
            ..ScreenOptions::default()
        })
    }
}

fn known_good(path: &Path, quiet: bool) -> Result<Vec<StartRow>> {
    let gathered = progress::gather(&[path.to_path_buf()], &GatherOptions::default(), quiet)?;
    if gathered.rows.is_empty() {
        return Err(Error::new(
            ErrorKind::NoStarts,
            path.display().to_string(),
            "there is no start to make limits from",
        )
        .hint("Name a job or a table of starts that are known to be good"));
    }
    Ok(gathered.rows)
}

/// One line a recording, safe to open in a spreadsheet.
fn csv_of(lines: &[RecordingLine]) -> String {
    let mut out = csv::Writer::from_writer(Vec::new());
    let never = "writing to memory does not fail";
    out.write_record(LINE_HEAD).expect(never);
    for line in lines {
        let number = |value: Option<f64>| value.map(|v| v.to_string()).unwrap_or_default();
        out.write_record([
            guard(&line.recording),
            guard(&line.prep),
            line.starts.to_string(),
            line.rough.to_string(),
            line.no_light.to_string(),
            line.not_judged.to_string(),
            number(line.score_median),
            number(line.score_worst),
            line.alarms.to_string(),
        ])
        .expect(never);
    }
    String::from_utf8(out.into_inner().expect(never)).expect("cells are text")
}
