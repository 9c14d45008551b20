//! The bench: a job's session with the recording it follows and the run sheet it writes.

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};

use crate::bytes::Bytes;
use crate::cli::strike::news::Key;
use crate::cli::strike::shown::{Last, Shown};
use crate::cli::{answer, progress, terminal};
use crate::error::{Error, ErrorKind, Result};
use crate::format::minutes;
use crate::job::pattern::is_pattern;
use crate::job::{Job, Run, SHEET_FILE, SheetText};
use crate::measuring::gather::GatherOptions;
use crate::measuring::live::Follow;
use crate::measuring::session::{Did, Session};
use crate::output;
use crate::report::text;
use crate::report::words::session as words;
use crate::score::StartRow;
use crate::start::Start;
use crate::study::{Standing, standing};

/// Largest run sheet, bytes.
const MOST_BYTES: u64 = 64 << 20;

/// A session with all that it reads and writes.
pub struct Bench<'a> {
    job: &'a Job,
    session: Session,
    follow: Follow<'a>,
    recording: String,
    /// The job as it was named.
    named: String,
    sheet_path: PathBuf,
    /// The sheet as it was read or written last.
    on_disk: Vec<u8>,
    /// Where what comes in on stdin is kept.
    kept: Option<File>,
    /// What was written of the recording before has been heard.
    caught_up: bool,
    /// What the last key did.
    note: Option<String>,
}

impl<'a> Bench<'a> {
    /// Opens a session; `first` are the first bytes of a recording that comes in on stdin.
    ///
    /// # Errors
    /// A recording outside the job's folder; a sheet that plans nothing.
    pub fn open(
        job: &'a Job,
        named: &Path,
        follow: &Path,
        first: &[u8],
        quiet: bool,
    ) -> Result<Bench<'a>> {
        let stdin = follow == Path::new("-");
        let recording = match stdin {
            true => new_name(&job.folder, first),
            false => name_in(&job.folder, follow)?,
        };
        let sheet_path = job.folder.join(SHEET_FILE);
        let on_disk = Bytes::file(&sheet_path)?.whole(MOST_BYTES)?;
        let sheet = SheetText::read(&sheet_path)?;
        let is_there = |file: &str| is_pattern(file) || job.folder.join(file).exists();
        let earlier = earlier(job, named, &recording, is_there, quiet)?;
        let session = Session::open(job.clone(), sheet, &recording, is_there, earlier)?;
        let first_run = session.next().map_or(&job.runs[0], |next| next.run);
        let mut bench = Bench {
            follow: Follow::new(job, &anywhere(first_run, &recording))?,
            job,
            session,
            recording,
            named: named.display().to_string(),
            sheet_path,
            on_disk,
            kept: None,
            caught_up: stdin,
            note: None,
        };
        if stdin {
            let path = job.folder.join(&bench.recording);
            let file = File::create_new(&path);
            bench.kept = Some(file.map_err(|e| Error::io(&path, "create", e))?);
        }
        bench.write()?;
        Ok(bench)
    }

    /// Hears what follows of the recording; returns whether there is something new to show.
    ///
    /// # Errors
    /// An input that is not a recording; a sheet that cannot be written.
    pub fn takes(&mut self, bytes: &[u8]) -> Result<bool> {
        if let Some(kept) = &mut self.kept {
            let to = Path::new(&self.recording);
            kept.write_all(bytes)
                .map_err(|e| Error::io(to, "write", e))?;
        }
        let starts = self.follow.hear(bytes)?;
        self.heard(starts)
    }

    fn heard(&mut self, starts: Vec<Start>) -> Result<bool> {
        let mut new = false;
        for start in starts {
            let did = self.session.heard(start)?;
            new |= did == Did::Heard;
        }
        if new {
            self.note = None;
            self.write()?;
        }
        Ok(new && self.caught_up)
    }

    /// What was written of the recording so far has been heard.
    pub fn has_caught_up(&mut self) {
        self.caught_up = true;
        let known = self.session.known();
        if known > 0 {
            self.note = Some(words::goes_on(known));
        }
    }

    /// The recording is over.
    ///
    /// # Errors
    /// As [`Bench::takes`].
    pub fn ends(&mut self) -> Result<()> {
        self.caught_up = true;
        let rest = self.follow.hear_the_rest()?;
        self.heard(rest).map(drop)
    }

    /// The welder ends the session: what comes in on stdin ends with it, a file goes on without.
    ///
    /// # Errors
    /// As [`Bench::takes`].
    pub fn stops(&mut self) -> Result<()> {
        match self.kept {
            Some(_) => self.ends(),
            None => Ok(()),
        }
    }

    /// A key was pressed.
    ///
    /// # Errors
    /// A sheet that cannot be written.
    pub fn marks(&mut self, key: Key) -> Result<()> {
        let did = match key {
            Key::Fumbled => self.session.fumbled()?,
            Key::Reground => self.session.reground()?,
            Key::Undo => self.session.undo()?,
            Key::Quit => return Ok(()),
        };
        self.note = words::did(&did);
        match did.changed_the_sheet() {
            true => self.write(),
            false => Ok(()),
        }
    }

    /// What a view shows.
    pub fn shown(&self) -> Shown {
        let next = self.session.next();
        let standing = self.standing();
        let number = self.session.heard_so_far();
        Shown {
            title: self.title(),
            recording: match self.follow.length_s() {
                Some(length) => format!("{} {}", self.recording, minutes(length)),
                None => format!("waiting for {}", self.recording),
            },
            large: next.as_ref().map(words::in_large),
            next: next.as_ref().map(words::next),
            grind: next.as_ref().and_then(|next| words::grind(next, self.job)),
            last: self.session.last().map(|row| Last {
                number,
                large: words::verdict(&row),
                says: words::start(&row, number),
                verdict: row.verdict.filter(|_| row.exclude.is_none()),
            }),
            stands: words::stands(&standing),
            enough: standing.is_enough(),
            note: self.note.clone(),
            listening: self.caught_up,
        }
    }

    /// What is said when it is over.
    pub fn says_at_end(&self) -> String {
        let named = &self.named;
        let standing = self.standing();
        let ask = match standing.is_done() {
            true => format!("tipstrike compare {named}"),
            // Whoever stops when it looks good has looked: only this answer allows for it.
            false => format!("tipstrike compare {named} --while-striking"),
        };
        let says = format!(
            "{} The sheet is {}. Then: {ask}",
            words::stands(&standing),
            self.sheet_path.display()
        );
        text::wrapped(&text::plain(&says), terminal::look())
    }

    fn title(&self) -> String {
        let title = self.job.info.title.clone();
        title.unwrap_or_else(|| self.named.clone())
    }

    fn standing(&self) -> Standing {
        let runs = self.session.runs().iter();
        let left = runs.map(|run| {
            let planned = run.planned.filter(|_| run.exclude.is_none());
            let left = planned.map(|planned| planned.saturating_sub(run.starts.unwrap_or(0)));
            (run, left.unwrap_or(0))
        });
        standing(&self.session.rows(), left)
    }

    /// Writes the sheet whole, unless somebody else changed it meanwhile; the next starts are of the row that is next.
    fn write(&mut self) -> Result<()> {
        if let Some(next) = self.session.next() {
            self.follow.is_now(&anywhere(next.run, &self.recording));
        }
        let written = self.session.sheet().written().into_bytes();
        if written == self.on_disk {
            return Ok(());
        }
        if Bytes::file(&self.sheet_path)?.whole(MOST_BYTES)? != self.on_disk {
            let at = self.sheet_path.display().to_string();
            let problem = "was changed by another program while the session wrote it";
            return Err(Error::new(ErrorKind::FileChanged, at, problem)
                .hint("Start strike again: it goes on from the sheet as it is now"));
        }
        output::whole(&self.sheet_path, &answer::SHEET, |out| {
            out.write_all(&written)
        })?;
        self.on_disk = written;
        Ok(())
    }
}

/// A run of the recording that is followed, its starts looked for in all of it: a session reads it from its beginning.
fn anywhere(run: &Run, recording: &str) -> Run {
    Run {
        file: recording.to_owned(),
        from_s: None,
        to_s: None,
        ..run.clone()
    }
}

/// Starts of the job that were struck in other recordings.
fn earlier(
    job: &Job,
    named: &Path,
    recording: &str,
    is_there: impl Fn(&str) -> bool,
    quiet: bool,
) -> Result<Vec<StartRow>> {
    let other = |file: &str| file != recording && is_there(file);
    if !job
        .runs
        .iter()
        .any(|run| other(&run.file) && !run.is_to_come())
    {
        return Ok(Vec::new());
    }
    let inputs = [named.to_path_buf()];
    let mut set = progress::gather(&inputs, &GatherOptions::default(), quiet)?;
    set.rows.retain(|row| *row.recording != *recording);
    Ok(set.rows)
}

/// The name by which the sheet knows a recording in the job's folder.
fn name_in(folder: &Path, file: &Path) -> Result<String> {
    let parent = file.parent().filter(|p| !p.as_os_str().is_empty());
    let parent = parent.unwrap_or(Path::new("."));
    let real = |path: &Path| path.canonicalize().map_err(|e| Error::io(path, "read", e));
    let inside = real(parent)?
        .strip_prefix(real(folder)?)
        .map(Path::to_path_buf);
    let (Ok(inside), Some(name)) = (inside, file.file_name()) else {
        let problem = "lies outside the folder of the job";
        return Err(Error::new(
            ErrorKind::OutsideTheJob,
            file.display().to_string(),
            problem,
        )
        .hint(
            "Let the recorder write into that folder: the run sheet names recordings from there",
        ));
    };
    let name = inside.join(name).to_string_lossy().replace('\\', "/");
    Ok(name)
}

/// A name that no file of the job has, for what comes in on stdin.
fn new_name(folder: &Path, first: &[u8]) -> String {
    let is_wav = [b"RI", b"RF"].iter().any(|id| first.starts_with(*id));
    let ending = if is_wav { "wav" } else { "csv" };
    let mut names = (1..).map(|number| format!("strike-{number}.{ending}"));
    let is_new = |name: &String| !folder.join(name).exists();
    names.find(is_new).expect("numbers do not end")
}
