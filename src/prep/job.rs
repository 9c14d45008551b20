//! The job file and its run sheet.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use serde::Deserialize;
use serde::de::DeserializeOwned;
use toml::Table;
use toml::de::DeTable;

use super::builtin::Basis;
use super::entry::Prep;
use super::nearest::nearest;
use super::place::{Place, line_of};
use super::sheet::{self, Process, Run};
use super::targets::{self, TargetSet, Targets};
use crate::error::{Error, Result};
use crate::recording::Logger;
use crate::start::{Context, Measuring, Start};

/// A job file is not larger.
const MOST_BYTES: u64 = 16 << 20;

pub(crate) const JOB_FILE: &str = "job.toml";
/// Name of the prep of which nothing is written down.
pub const UNNAMED_PREP: &str = "-";

pub(crate) const SHEET_FILE: &str = "runs.csv";

/// `[job]`: what a reader of a report wants to know.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct JobInfo {
    /// What was tried.
    pub title: Option<String>,
    /// Where.
    pub site: Option<String>,
    /// By whom.
    pub who: Option<String>,
    /// Welding procedure it belongs to.
    pub procedure: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

/// A job: how the logger was wired, how the electrodes were made ready, what was run.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// `[job]`.
    pub info: JobInfo,
    /// `[logger]`.
    pub logger: Logger,
    /// `[measuring]`.
    pub measuring: Measuring,
    /// `[prep.NAME]`, by name.
    pub preps: BTreeMap<String, Prep>,
    /// `[targets]`: for every prep without its own.
    pub targets: TargetSet,
    /// The run sheet.
    pub runs: Vec<Run>,
    /// The folder that the job file lies in.
    pub folder: PathBuf,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Sections {
    job: Option<Table>,
    logger: Option<Table>,
    measuring: Option<Table>,
    #[serde(default)]
    prep: BTreeMap<String, Table>,
    targets: Option<Table>,
}

impl Job {
    /// Reads a job from its folder or its `job.toml`, with the `runs.csv` beside it.
    ///
    /// # Errors
    /// Every fault of the sheet and one a section of the job file, in one pass: where, what was
    /// found, what is meant.
    pub fn read(path: &Path) -> Result<Job> {
        let mut job = Job::read_rules(path)?;
        if job.preps.is_empty() {
            let file = job.folder.join(JOB_FILE).display().to_string();
            return Err(Error::input(file, "there is no prep")
                .hint("Add a table [prep.NAME] for each way the tip was made ready"));
        }
        let names: Vec<&str> = job.preps.keys().map(String::as_str).collect();
        job.runs = sheet::read(&job.folder.join(SHEET_FILE), &job.folder, &names)?;
        Ok(job)
    }

    /// Reads a job from its folder or its `job.toml` without its run sheet: logger, measuring, preps, targets.
    ///
    /// # Errors
    /// One fault a section.
    pub fn read_rules(path: &Path) -> Result<Job> {
        let file = match path.is_dir() {
            true => path.join(JOB_FILE),
            false => path.to_path_buf(),
        };
        // A bare file name has an empty parent, which is no folder to the system.
        let parent = file.parent().filter(|p| !p.as_os_str().is_empty());
        let folder = parent.unwrap_or(Path::new(".")).to_path_buf();
        let text = crate::input::text(&file, MOST_BYTES)?;
        Job::parse(&text, &file.display().to_string(), folder)
    }

    /// The job file alone, without runs; `at` names the file.
    ///
    /// # Errors
    /// One fault a section.
    pub fn parse(text: &str, at: &str, folder: PathBuf) -> Result<Job> {
        let text = text.trim_start_matches('\u{feff}');
        let unreadable = |e: toml::de::Error| {
            let place = match e.span() {
                Some(span) => format!("{at}, line {}", line_of(text, span.start)),
                None => at.to_owned(),
            };
            toml_error(&place, &e)
        };
        let sections: Sections = toml::from_str(text).map_err(unreadable)?;
        let keys = DeTable::parse(text).map_err(unreadable)?;
        let mut reader = SectionReader {
            at,
            text,
            keys: keys.get_ref(),
            faults: Vec::new(),
        };
        let targets = reader.targets(sections.targets);
        let job = Job {
            info: reader.section("job", sections.job),
            logger: reader.section("logger", sections.logger),
            measuring: reader.measuring(sections.measuring),
            preps: reader.preps(sections.prep, &targets),
            targets,
            runs: Vec::new(),
            folder,
        };
        match reader.faults.is_empty() {
            true => Ok(job),
            false => Err(Error::Several(reader.faults)),
        }
    }

    /// A job for recordings named on the command line: no prep written down, the built-in targets.
    pub fn bare(logger: Logger, measuring: Measuring) -> Job {
        Job {
            info: JobInfo::default(),
            logger,
            measuring,
            preps: BTreeMap::new(),
            targets: TargetSet::default(),
            runs: Vec::new(),
            folder: PathBuf::new(),
        }
    }

    /// What goes with the search for the starts of a run.
    pub fn context_of(&self, run: &Run) -> Context {
        let usual = Context::default();
        Context {
            mains_hz: self.logger.mains_hz.unwrap_or(usual.mains_hz),
            upslope_s: run.upslope_s,
            span_s: run.span_s(),
            ..usual
        }
    }

    /// The prep of a run; nothing is known of the unnamed one, `-`.
    pub fn prep_of(&self, run: &Run) -> &Prep {
        static UNNAMED: LazyLock<Prep> = LazyLock::new(Prep::default);
        match self.preps.get(&run.prep) {
            Some(prep) => prep,
            None => {
                assert_eq!(run.prep, UNNAMED_PREP, "the sheet names preps that exist");
                &UNNAMED
            }
        }
    }

    /// What a start of a run is held against: the prep's targets, over the job's, over the built-in
    /// ones for the process, the amps set (measured, where the sheet has none) and the tip.
    pub fn targets_for(&self, run: &Run, start: &Start) -> Targets {
        let prep = self.prep_of(run);
        // Without a sheet the trace itself says whether it is AC.
        let alternates = start.measures.ac_hz.is_some();
        let seen = if alternates { Process::Ac } else { Process::Dc };
        let process = run.process.unwrap_or(seen);
        let amps = run.set_a.or(start.measures.run_a);
        targets::merge(
            &Basis::new(prep, process, amps),
            &self.targets,
            &prep.targets,
        )
    }
}

/// Reads section after section and collects one fault of each.
struct SectionReader<'a> {
    at: &'a str,
    text: &'a str,
    keys: &'a DeTable<'a>,
    faults: Vec<Error>,
}

impl<'a> SectionReader<'a> {
    fn place(&self, parts: &[&str]) -> Place<'a> {
        Place::of_section(self.at, self.text, self.keys, parts)
    }

    fn section<T: DeserializeOwned + Default>(&mut self, name: &str, section: Option<Table>) -> T {
        let Some(section) = section else {
            return T::default();
        };
        typed(section, &self.place(&[name])).unwrap_or_else(|e| {
            self.faults.push(e);
            T::default()
        })
    }

    fn measuring(&mut self, section: Option<Table>) -> Measuring {
        let Some(section) = section else {
            return Measuring::default();
        };
        let place = self.place(&["measuring"]);
        let fault = |key: &str, problem: String| Error::input(place.key(key), problem);
        let number =
            |value: &toml::Value| value.as_float().or(value.as_integer().map(|n| n as f64));
        let unfit = section
            .iter()
            .filter(|(_, value)| number(value).is_some_and(|n| !(n.is_finite() && n > 0.0)));
        let mut faults: Vec<Error> = unfit
            .map(|(key, value)| fault(key, format!("{key} = {value} is not over 0")))
            .collect();
        let measuring: Measuring = self.section("measuring", Some(section));
        if measuring.conduct_release > 1.0 {
            let problem = format!(
                "conduct_release = {} is over 1, so an arc would go out at more amps than it lights at",
                measuring.conduct_release
            );
            faults.push(fault("conduct_release", problem));
        }
        if measuring.wander_from_hz >= measuring.wander_to_hz {
            let problem = format!(
                "the wander band from {} to {} Hz is empty",
                measuring.wander_from_hz, measuring.wander_to_hz
            );
            faults.push(fault("wander_from_hz", problem));
        }
        self.faults.extend(faults);
        measuring
    }

    fn targets(&mut self, section: Option<Table>) -> TargetSet {
        let Some(section) = section else {
            return TargetSet::default();
        };
        let place = self.place(&["targets"]);
        let set = TargetSet::from_table(section, &place);
        let checked = set.and_then(|set| {
            targets::check(&set, &TargetSet::default(), &place)?;
            Ok(set)
        });
        checked.unwrap_or_else(|e| {
            self.faults.push(e);
            TargetSet::default()
        })
    }

    fn preps(
        &mut self,
        sections: BTreeMap<String, Table>,
        job: &TargetSet,
    ) -> BTreeMap<String, Prep> {
        let mut preps = BTreeMap::new();
        for (name, section) in sections {
            let place = self.place(&["prep", &name]);
            let prep = Prep::from_table(section, &place);
            let checked = prep.and_then(|prep| {
                targets::check(job, &prep.targets, &place.table("targets"))?;
                Ok(prep)
            });
            match checked {
                Ok(prep) => _ = preps.insert(name, prep),
                Err(e) => self.faults.push(e),
            }
        }
        preps
    }
}

/// A table as what it is to be; a fault names the key it lies at.
pub(super) fn typed<T: DeserializeOwned>(table: Table, at: &Place) -> Result<T> {
    serde_path_to_error::deserialize(table).map_err(|e| {
        let path = e.path().to_string();
        let mut keys: Vec<&str> = path.split('.').filter(|key| !key.is_empty()).collect();
        let unknown = e.inner().message().strip_prefix("unknown field `");
        let word = unknown.and_then(|rest| rest.split('`').next());
        if word != keys.last().copied() {
            keys.extend(word);
        }
        let place = match keys.as_slice() {
            [] => at.to_string(),
            keys => at.key(&keys.join(".")),
        };
        toml_error(&place, e.inner())
    })
}

/// A fault that the TOML reader found, with the nearest known key where a word was not known.
pub(super) fn toml_error(at: &str, error: &toml::de::Error) -> Error {
    let message = error.message();
    // serde says: unknown field `observ_s`, expected one of `observe_s`, `hold_ms`
    let words: Vec<&str> = message.split('`').skip(1).step_by(2).collect();
    let unknown = ["unknown field", "unknown variant"]
        .iter()
        .any(|start| message.starts_with(start));
    match words.split_first().filter(|_| unknown) {
        Some((word, known)) => {
            let way_out = match nearest(word, known.iter().copied()) {
                Some(like) => format!("Did you mean '{like}'?"),
                None => format!("Known here: {}", known.join(", ")),
            };
            Error::input(at, format!("'{word}' is not known")).hint(way_out)
        }
        None => Error::input(at, in_plain_words(message.trim())),
    }
}

/// What is wrong with a value, without the words of the reader's own language of types.
fn in_plain_words(message: &str) -> String {
    if let Some(key) = message.strip_prefix("missing field ") {
        return format!("{} is missing", key.replace('`', "'"));
    }
    if message.starts_with("data did not match any variant") {
        return "the keys here do not go together as one of the forms in docs/job.md".to_owned();
    }
    let found = ["invalid type: ", "invalid value: ", "invalid length "]
        .iter()
        .find_map(|start| message.strip_prefix(start));
    match found.and_then(|rest| rest.split_once(", expected ")) {
        Some((found, expected)) => format!(
            "{} was found, {} is expected",
            kind_found(found),
            kind_expected(expected)
        ),
        None => message.to_owned(),
    }
}

fn kind_found(found: &str) -> String {
    let words = [
        ("string ", "the text "),
        ("integer ", "the number "),
        ("floating point ", "the number "),
        ("boolean ", ""),
    ];
    let told = words
        .iter()
        .find_map(|(kind, word)| Some(format!("{word}{}", found.strip_prefix(kind)?)));
    match found {
        "map" => "a table".to_owned(),
        "sequence" => "a list".to_owned(),
        _ => told.unwrap_or_else(|| found.to_owned()).replace('`', ""),
    }
}

fn kind_expected(expected: &str) -> String {
    let word = match expected {
        "a string" => "text in quotes",
        "f64" | "f32" => "a number",
        "u8" | "u16" | "u32" | "u64" | "usize" => "a whole number from 0",
        "i8" | "i16" | "i32" | "i64" | "isize" => "a whole number",
        "a boolean" => "true or false",
        "a sequence" => "a list in [ ]",
        table if table == "a map" || table.starts_with("struct ") => {
            "a table such as { key = value }"
        }
        other => other,
    };
    word.to_owned()
}
