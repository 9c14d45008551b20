//! `tipstrike measure`: every start of a job or of recordings, measured and scored.

use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};

use crate::cli::outcome::Outcome;
use crate::cli::picture::Picture;
use crate::cli::{answer, live, progress, streamed, terminal};
use crate::error::{Error, ErrorKind, Result};
use crate::measuring::cache::Cache;
use crate::measuring::gather::{GatherOptions, JobRows, StartSet};
use crate::measuring::table;
use crate::measuring::table::CsvTable;
use crate::output;
use crate::output::Form;
use crate::report::text::Sketch;
use crate::report::{figure, text};
use crate::score::{Score, StartRow, explain};
use crate::start::Preview;

/// Find and measure every arc start of a job or of recordings, and score it against its prep.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tipstrike measure samples
  tipstrike measure samples --csv starts.csv --figure figures
  tipstrike measure samples --why 3
  tipstrike measure shift.wav --job job.toml --prep A
  tipstrike measure --follow shift.wav --job job.toml

Every measure is defined in docs/measures.md. A score is a comparison aid: it accepts no weld.")]
pub struct MeasureArgs {
    /// Job files or their folders, folders of recordings, or recordings (WAV, CSV); - for a recording that comes in on stdin
    #[arg(required = true, value_name = "JOB|FILE")]
    inputs: Vec<PathBuf>,
    /// Job file whose logger, measuring and preps serve recordings named by themselves
    #[arg(long, value_name = "JOB")]
    job: Option<PathBuf>,
    /// Prep of recordings named by themselves; of a job or a table, only its starts
    #[arg(long, value_name = "NAME")]
    prep: Option<String>,
    /// Go on reading a recording that is still being written, and tell each start as soon as its window is over (Ctrl-C ends it)
    #[arg(long, conflicts_with_all = ["figure", "why", "show"])]
    follow: bool,
    /// Write the starts table as CSV to this file, - for stdout
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write the starts table as JSON Lines to this file, - for stdout
    #[arg(long, value_name = "FILE")]
    jsonl: Option<PathBuf>,
    /// Add the starts to the table of Parquet files in this folder, by day and cell; a recording measured again takes its old starts' place
    #[arg(long, value_name = "FOLDER", conflicts_with = "follow")]
    parquet: Option<PathBuf>,
    /// Draw every start, and what its wander is made of, as SVG figures into this folder
    #[arg(long, value_name = "FOLDER")]
    figure: Option<PathBuf>,
    /// Draw the figures as PNG instead
    #[cfg(not(target_family = "wasm"))]
    #[arg(long, requires = "figure")]
    png: bool,
    /// Measure every recording anew, and keep nothing for the next time
    #[arg(long)]
    anew: bool,
    /// Explain the score of this row of the table (its first column), line by line
    #[arg(long, value_name = "ROW")]
    why: Option<usize>,
    /// Sketch the traces of this row of the table in the terminal
    #[arg(long, value_name = "ROW")]
    show: Option<usize>,
    /// Show when each start came and the pauses between them, to see where one run ends and the next begins
    #[arg(long)]
    show_pauses: bool,
}

/// Runs the verb.
///
/// # Errors
/// Unusable inputs, a missing row, an output that cannot be written.
pub fn run(args: MeasureArgs, quiet: bool) -> Result<Outcome> {
    if args.follow || args.inputs.iter().any(|input| input == Path::new("-")) {
        return live::run(&args.live()?);
    }
    let cache = answer::kept(args.anew);
    let options = args.options(cache.as_ref());
    if let Some(form) = args.streams() {
        let gathered = streamed::gather(&args.inputs, &options, form, quiet)?;
        return Ok(tell(&gathered, quiet));
    }
    let gathered = progress::gather(&args.inputs, &options, quiet)?;
    let outputs = [args.csv.as_deref(), args.jsonl.as_deref()];
    let formed = [(outputs[0], &table::CSV), (outputs[1], &table::JSON_LINES)];
    answer::spare_inputs(&args.inputs, &gathered, &formed)?;
    answer::one_to_stdout(&outputs)?;
    if let Some(path) = &args.csv {
        terminal::out_to(path, &table::CSV, |out| {
            CsvTable::begin(gathered.headings(), out)?.add(&gathered.rows)
        })?;
    }
    if let Some(path) = &args.jsonl {
        terminal::out_to(path, &table::JSON_LINES, |out| {
            table::write_jsonl(&gathered.rows, out)
        })?;
    }
    if let Some(folder) = &args.parquet {
        table::add_parquet(folder, &gathered.rows)?;
    }
    if let Some(folder) = &args.figure {
        draw_all(folder, &gathered, args.picture())?;
    }
    if !args.takes_stdout() {
        let text = args.text(&gathered)?;
        terminal::out(|out| out.write_all(text.as_bytes()))?;
    }
    Ok(tell(&gathered, quiet))
}

/// Tells what is to be known of the recordings on stderr.
fn tell(gathered: &StartSet, quiet: bool) -> Outcome {
    if !quiet {
        tell_findings(gathered);
    }
    answer::tell_not_read(&gathered.not_read)
}

impl MeasureArgs {
    /// What is written to stdout, where a table is all that is asked for, and a program or a file takes it.
    fn streams(&self) -> Option<streamed::Form> {
        let alone = self.parquet.is_none() && self.figure.is_none();
        let written = |path: &Option<PathBuf>| answer::takes_stdout(path.as_deref());
        match (&self.csv, &self.jsonl) {
            _ if !alone || io::stdout().is_terminal() => None,
            (csv, None) if written(csv) => Some(streamed::Form::Csv),
            (None, jsonl) if written(jsonl) => Some(streamed::Form::JsonLines),
            _ => None,
        }
    }

    /// Options for a recording that is still running.
    fn live(&self) -> Result<live::Asked<'_>> {
        let [input] = &self.inputs[..] else {
            return Err(Error::new(
                ErrorKind::NeedsWholeRecording,
                "measure",
                "only one recording can be followed at a time",
            )
            .hint("Start one command for each"));
        };
        if self.figure.is_some() || self.why.is_some() || self.show.is_some() {
            let problem = "--figure, --why and --show need a whole recording";
            return Err(
                Error::new(ErrorKind::NeedsWholeRecording, "measure -", problem)
                    .hint("Save it to a file first"),
            );
        }
        let form = match (&self.csv, &self.jsonl) {
            (None, None) => live::LiveForm::Text,
            (Some(path), None) if path == Path::new("-") => live::LiveForm::Csv,
            (None, Some(path)) if path == Path::new("-") => live::LiveForm::JsonLines,
            _ => {
                let problem = "live starts go to stdout only";
                return Err(Error::new(ErrorKind::OutputUnclear, "measure", problem)
                    .hint("Give --csv - or --jsonl - and redirect it to a file"));
            }
        };
        Ok(live::Asked {
            input,
            follow: self.follow,
            job: self.job.as_deref(),
            prep: self.prep.as_deref(),
            form,
        })
    }

    /// What figures are written as.
    fn picture(&self) -> Picture {
        #[cfg(not(target_family = "wasm"))]
        if self.png {
            return Picture::Png;
        }
        Picture::Svg
    }

    fn options<'a>(&'a self, cache: Option<&'a Cache>) -> GatherOptions<'a> {
        GatherOptions {
            previews: self.figure.is_some() || self.show.is_some(),
            job: self.job.as_deref(),
            prep: self.prep.as_deref(),
            cache,
            bare: self.takes_stdout() && self.figure.is_none(),
            dates: self.parquet.is_some(),
            ..GatherOptions::default()
        }
    }

    fn takes_stdout(&self) -> bool {
        answer::takes_stdout(self.csv.as_deref()) || answer::takes_stdout(self.jsonl.as_deref())
    }

    /// Text for the terminal: one row explained or sketched, otherwise the table.
    fn text(&self, gathered: &StartSet) -> Result<String> {
        let mut text = String::new();
        if let Some(number) = self.why {
            let k = row_index(gathered, number, "--why")?;
            for line in why(&gathered.rows[k], gathered.score_of(k)) {
                text += &text::wrapped(&text::plain(&line), terminal::look());
            }
        }
        if let Some(number) = self.show {
            let k = row_index(gathered, number, "--show")?;
            text += &shown(&gathered.rows[k], gathered.preview_of(k));
        }
        if self.show_pauses {
            text += &text::pauses(&gathered.rows, terminal::look());
        }
        if self.why.is_none() && self.show.is_none() && !self.show_pauses {
            let look = terminal::look();
            text =
                text::starts(&gathered.rows, look) + "\n" + &text::targets(gathered.scored(), look);
            text += &text::after(&gathered.after(), look);
        }
        Ok(text)
    }
}

/// Explains the score of a start line by line.
fn why(row: &StartRow, score: Option<&Score>) -> Vec<String> {
    match (score, row.score) {
        (Some(score), _) => explain(row, score),
        (None, Some(value)) => vec![format!(
            "Start {}, prep {}: {value:.0} of 100{}. A starts table keeps the score, not the targets behind it: measure the job itself with --why to see them.",
            row.named(),
            row.prep,
            row.verdict
                .map_or(String::new(), |v| format!(", {}", v.word())),
        )],
        (None, None) => {
            vec!["This start has no score: nothing with a target could be measured.".to_owned()]
        }
    }
}

fn row_index(gathered: &StartSet, number: usize, option: &str) -> Result<usize> {
    let rows = gathered.rows.len();
    match number {
        n if (1..=rows).contains(&n) => Ok(n - 1),
        n => Err(Error::new(
            ErrorKind::InvalidParameter,
            option,
            format!("there is no row {n}; the table has {rows}"),
        )),
    }
}

fn draw_all(folder: &Path, gathered: &StartSet, picture: Picture) -> Result<()> {
    if gathered
        .details
        .iter()
        .all(|detail| detail.preview.is_none())
    {
        let problem = match gathered.rows.is_empty() {
            true => "there is no start to draw",
            false => "there is nothing to draw: a starts table holds no traces",
        };
        return Err(Error::new(ErrorKind::NoStarts, "--figure", problem)
            .hint("Name the job or the recordings of these starts"));
    }
    std::fs::create_dir_all(folder).map_err(|e| Error::io(folder, "create", e))?;
    let starts = gathered.rows.iter().zip(&gathered.details).enumerate();
    let drawn = starts.filter_map(|(k, (row, detail))| {
        let preview = detail.preview.as_deref()?;
        Some((figure_name(gathered, k, row), row, preview))
    });
    let file = Drawing { folder, picture };
    // Nothing is drawn where the name of a figure is taken by something else.
    for (name, ..) in drawn.clone() {
        for what in ["", "-cloud", "-spectrum"] {
            output::check(&file.path(&format!("{name}{what}")), file.form())?;
        }
    }
    for (name, row, preview) in drawn {
        file.draw(&name, &figure::start(row, preview))?;
        for (what, svg) in [
            ("cloud", figure::scatter(preview)),
            ("spectrum", figure::spectrum(preview)),
        ] {
            if let Some(svg) = svg {
                file.draw(&format!("{name}-{what}"), &svg)?;
            }
        }
    }
    Ok(())
}

/// Name of the figures of a row: its recording, its row of the run sheet and its number, with the number of its job where
/// there are several: each has a first run. Of the recording's name only letters, digits, `-`, `_` and `.` are kept, so
/// that every system takes it.
fn figure_name(gathered: &StartSet, row_index: usize, row: &StartRow) -> String {
    let stem = row.recording.rsplit_once('.');
    let stem = stem.map_or(&*row.recording, |(stem, _)| stem);
    let kept = |c: char| match c.is_alphanumeric() || "-_.".contains(c) {
        true => c,
        false => '-',
    };
    let stem: String = stem.chars().map(kept).collect();
    let stem = stem.trim_start_matches('.');
    let name = format!("{stem}-run{:03}-start{:03}", row.run, row.start);
    let of_job = |of: &JobRows| of.rows.contains(&row_index);
    match gathered.jobs.iter().position(of_job) {
        Some(k) if gathered.jobs.len() > 1 => format!("job{}-{name}", k + 1),
        _ => name,
    }
}

/// Where figures go, and as what.
struct Drawing<'a> {
    folder: &'a Path,
    picture: Picture,
}

impl Drawing<'_> {
    fn path(&self, name: &str) -> PathBuf {
        self.folder
            .join(format!("{name}.{}", self.picture.ending()))
    }

    fn form(&self) -> &'static Form {
        self.picture.form()
    }

    fn draw(&self, name: &str, svg: &str) -> Result<()> {
        let bytes = self.picture.bytes(svg);
        output::whole(&self.path(name), self.form(), |out| out.write_all(&bytes))
    }
}

/// Sketches current and voltage of one start with its instants.
fn shown(row: &StartRow, preview: Option<&Preview>) -> String {
    let Some(preview) = preview else {
        return "A starts table holds no traces: measure the recordings to see them.\n".to_owned();
    };
    const ROWS: usize = 8;
    let i = &row.instants;
    let marks: Vec<(f64, &str)> = [
        (i.t_open_s, "open"),
        (i.t_first_s, "first"),
        (i.t_lit_s, "lit"),
        (i.t_settled_s, "settled"),
        (i.t_out_s, "out"),
    ]
    .into_iter()
    .filter_map(|(at, name)| Some((at?, name)))
    .collect();
    let sketch = |label: &str, columns: &[[f32; 2]]| {
        let to_s = preview.from_s + preview.step_s * columns.len() as f64;
        let trace = Sketch {
            label,
            columns,
            from_s: preview.from_s,
            to_s,
            marks: &marks,
        };
        text::sketch(&trace, terminal::look().width, ROWS)
    };
    let mut out = format!("Start {}\n", text::plain(&row.named()));
    out += &sketch("current, A", &preview.amps);
    if !preview.volts.is_empty() {
        out += &sketch("voltage, V", &preview.volts);
    }
    out
}

/// Prints the health of the recordings on stderr.
fn tell_findings(gathered: &StartSet) {
    answer::tell_copies(gathered);
    answer::tell_empty(gathered);
    for source in &gathered.sources {
        for finding in &source.findings {
            let (name, flag) = (&source.recording, finding.flag.name());
            let seen = &finding.seen;
            let meant = finding.flag.sentence();
            terminal::say(&format!("{name}: {flag}: {seen}. {meant}"));
        }
    }
}
