//! The job file and its run sheet.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use serde::Deserialize;
use serde::de::DeserializeOwned;
use toml::Table;
use toml::de::DeTable;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::job::fault::{toml_error, typed};
use crate::job::prep::{Prep, UNNAMED_PREP};
use crate::job::rehearsed::Rehearsed;
use crate::job::run::Run;
use crate::job::section::{Section, line_of};
use crate::job::sheet_text::SheetText;
use crate::job::target_set::TargetSet;
use crate::job::{Context, Logger, Measuring, cells, sheet, targets};

/// Maximum size of a job file, bytes.
const MOST_BYTES: u64 = 16 << 20;

/// Name of the job file in its folder.
pub const JOB_FILE: &str = "job.toml";

/// Name of the run sheet beside it.
pub const SHEET_FILE: &str = "runs.csv";

/// `[job]`: information for readers of a report.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct JobInfo {
    /// What was tried.
    pub title: Option<String>,
    /// Where it was tried.
    pub site: Option<String>,
    /// Who tried it.
    pub who: Option<String>,
    /// Welding procedure it belongs to.
    pub procedure: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

/// A job: how the logger was wired, how the electrodes were prepared, what was run.
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
    /// `[targets]`, for every prep without its own.
    pub targets: TargetSet,
    /// The run sheet.
    pub runs: Vec<Run>,
    /// Folder of the job file.
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

/// A fault of the form, with the way out where its line holds a decimal comma.
fn syntax(error: Error, text: &str) -> Error {
    let number = error.place().line.unwrap_or(1) as usize;
    let line = text.lines().nth(number.saturating_sub(1)).unwrap_or("");
    let bytes = line.as_bytes();
    let comma = |w: &[u8]| w[0].is_ascii_digit() && w[1] == b',' && w[2].is_ascii_digit();
    match bytes.windows(3).any(comma) {
        true => error.hint("Write numbers with a point: 120.5, not 120,5"),
        false => error,
    }
}

impl Job {
    /// Reads a job from its folder or its `job.toml`, with the `runs.csv` beside it.
    ///
    /// # Errors
    /// Every fault of the sheet, or the first fault of each section of the job file.
    pub fn read(path: &Path) -> Result<Job> {
        let mut job = Job::read_rules(path)?;
        if job.preps.is_empty() {
            let file = job.folder.join(JOB_FILE).display().to_string();
            return Err(Error::new(ErrorKind::NoPrep, file, "there is no prep")
                .hint("Add a table [prep.NAME] for each way the tip was prepared"));
        }
        let names: Vec<&str> = job.preps.keys().map(String::as_str).collect();
        job.runs = sheet::read(&job.folder.join(SHEET_FILE), &job.folder, &names)?;
        Ok(job)
    }

    /// The runs of a sheet of this job.
    ///
    /// # Errors
    /// Every bad cell in one pass.
    pub fn runs_of(&self, sheet: &SheetText) -> Result<Vec<Run>> {
        let at = self.folder.join(SHEET_FILE).display().to_string();
        let names: Vec<&str> = self.preps.keys().map(String::as_str).collect();
        let cells = cells::parse(&sheet.written(), &at)?;
        sheet::from_cells(&cells, &at, &self.folder, &names)
    }

    /// Gives rows that mean one recording under several names one path: its starts are shared out among them all.
    ///
    /// # Errors
    /// Every row by which starts would count twice.
    pub fn one_path_each(&mut self, first: impl Fn(&Path) -> PathBuf) -> Result<()> {
        for run in &mut self.runs {
            run.path = first(&run.path);
        }
        sheet::share_out(&mut self.runs);
        let at = self.folder.join(SHEET_FILE).display().to_string();
        let faults = sheet::overlaps(&self.runs, &at);
        if faults.is_empty() {
            Ok(())
        } else {
            Err(Error::several(faults))
        }
    }

    /// Reads a job from its folder or its `job.toml`, without the run sheet.
    ///
    /// # Errors
    /// The first fault of each section.
    pub fn read_rules(path: &Path) -> Result<Job> {
        let file = match path.is_dir() {
            true => path.join(JOB_FILE),
            false => path.to_path_buf(),
        };
        // A bare file name has an empty parent, which the system does not accept as a folder.
        let parent = file.parent().filter(|p| !p.as_os_str().is_empty());
        let folder = parent.unwrap_or(Path::new(".")).to_path_buf();
        let text = crate::bytes::Bytes::file(&file)?.text(MOST_BYTES)?;
        Job::parse(&text, &file.display().to_string(), folder)
    }

    /// Parses a job file, without runs; `at` is its name in error messages.
    ///
    /// # Errors
    /// The first fault of each section.
    pub fn parse(text: &str, at: &str, folder: PathBuf) -> Result<Job> {
        let text = text.trim_start_matches('\u{feff}');
        let place = |e: &toml::de::Error| match e.span() {
            Some(span) => Place::from(at).line(line_of(text, span.start) as u64),
            None => Place::from(at),
        };
        let keys = DeTable::parse(text).map_err(|e| {
            syntax(
                Error::new(ErrorKind::JobSyntax, place(&e), e.message()),
                text,
            )
        })?;
        let sections: Sections = toml::from_str(text).map_err(|e| toml_error(&place(&e), &e))?;
        let mut reader = SectionReader {
            at,
            text,
            keys: keys.get_ref(),
            folder: &folder,
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
            folder: folder.clone(),
        };
        match reader.faults.is_empty() {
            true => Ok(job),
            false => Err(Error::several(reader.faults)),
        }
    }

    /// A job for recordings named on the command line: no preps, the built-in targets.
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

    /// Returns the circumstances of a run that the search for starts depends on.
    pub fn context_of(&self, run: &Run) -> Context {
        let usual = Context::default();
        Context {
            mains_hz: self.logger.mains_hz,
            upslope_s: run.upslope_s,
            process: run.process,
            helium: run.names_helium(),
            span_s: run.span_s(),
            ..usual
        }
    }

    /// Returns the prep of a run; the prep named `-` is empty.
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
}

/// Reads the sections one by one and collects the first fault of each.
struct SectionReader<'a> {
    at: &'a str,
    text: &'a str,
    keys: &'a DeTable<'a>,
    folder: &'a Path,
    faults: Vec<Error>,
}

impl<'a> SectionReader<'a> {
    fn place(&self, parts: &[&str]) -> Section<'a> {
        Section::of_section(self.at, self.text, self.keys, parts)
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
        let fault = |key: &str, problem: String| {
            Error::new(ErrorKind::InvalidValue, place.key(key), problem)
        };
        let number =
            |value: &toml::Value| value.as_float().or(value.as_integer().map(|n| n as f64));
        let unfit = section
            .iter()
            .filter(|(_, value)| number(value).is_some_and(|n| !(n.is_finite() && n > 0.0)));
        let mut faults: Vec<Error> = unfit
            .map(|(key, value)| fault(key, format!("{key} = {value}, expected a number above 0")))
            .collect();
        let mut measuring: Measuring = self.section("measuring", Some(section));
        if measuring.conduct_release > 1.0 {
            let problem = format!(
                "conduct_release = {} is above 1: an arc would go out at a higher current than it lights at",
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
        if let Some(file) = &measuring.rehearsed {
            match Rehearsed::read(file, self.folder) {
                Ok(found) => measuring.by_rehearsal = Some(found),
                Err(error) => faults.push(error),
            }
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
