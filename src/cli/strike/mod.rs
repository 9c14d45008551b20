//! `tipstrike strike`: a session at the bench, from what to strike next to the filled run sheet.

mod backend;
mod bench;
mod letters;
mod news;
mod plain;
mod screen;
mod shown;

use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::cli::outcome::Outcome;
use crate::cli::terminal;
use crate::error::Result;
use crate::job::Job;
use bench::Bench;
use news::{Key, News};
use shown::View;

/// Strike by the plan: says what to strike next, hears each start, writes it into the run sheet, says whether it is enough
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tipstrike strike my-lids --follow my-lids/session.wav
  tipstrike strike my-lids --follow my-lids/session.wav --plain
  recorder | tipstrike strike my-lids --follow -

The plan is the run sheet: rows with their number of starts and no recording yet, as
`tipstrike begin --tips` or `tipstrike plan --sheet` writes them. The sheet is written anew after
each start, so nothing is lost whatever ends the session: start it again and it goes on.

Keys: f the last start was fumbled, r the tip was ground anew, u takes the last of these back, q
ends. f is for a slip of the hand, not for a rough start: setting those aside spoils the answer.
You may stop as soon as it says \"enough\": that answer is not spoilt by looking.

Caution: look at the screen between starts, at the arc through the shade. A score accepts no
weld.")]
pub struct StrikeArgs {
    /// Job file, or folder that holds job.toml
    #[arg(value_name = "JOB")]
    job: PathBuf,
    /// Recording that is being written, in the job's folder; - for what a recorder writes to stdin, which is kept there
    #[arg(long, value_name = "FILE")]
    follow: PathBuf,
    /// Print lines instead of a full screen; a key is then a line with its letter
    #[arg(long)]
    plain: bool,
}

/// Time between two looks at how long the recording is.
const REFRESH: Duration = Duration::from_secs(1);

/// Runs the verb.
///
/// # Errors
/// A job without a plan, an input that is not a recording, a sheet that cannot be written.
pub fn run(args: StrikeArgs, quiet: bool) -> Result<Outcome> {
    let job = Job::read(&args.job)?;
    let stdin = args.follow == Path::new("-");
    let first = if stdin {
        news::first_of_stdin()?
    } else {
        Vec::new()
    };
    let mut bench = Bench::open(&job, &args.job, &args.follow, &first, quiet)?;
    let full = !args.plain && io::stdout().is_terminal();
    let (news, keys) = news::listen(&args.follow, full);
    let mut view: Box<dyn View> = match full {
        true => Box::new(screen::Screen::open()?),
        false => Box::new(plain::Lines::new(keys)),
    };
    let ended = session(&mut bench, &news, view.as_mut(), &first);
    // The terminal is itself again before anything else is said.
    drop(view);
    let lost = ended?;
    tell_end(&bench)?;
    let Some(lost) = lost else {
        return Ok(Outcome::Done);
    };
    terminal::say(&format!("tipstrike: {}: {lost}", args.follow.display()));
    Ok(Outcome::SomeNotRead)
}

/// Goes on until the recording or the welder ends it; returns what happened to a file that was lost.
fn session(
    bench: &mut Bench,
    news: &std::sync::mpsc::Receiver<News>,
    view: &mut dyn View,
    first: &[u8],
) -> Result<Option<&'static str>> {
    bench.takes(first)?;
    view.show(&bench.shown())?;
    let mut shown_at = Instant::now();
    // The threads that send hold the other end until the program ends.
    while let Ok(news) = news.recv() {
        match news {
            News::Bytes(bytes) => {
                // Between starts, that the recording grows is all there is to show.
                if !bench.takes(&bytes)? && shown_at.elapsed() < REFRESH {
                    continue;
                }
            }
            News::CaughtUp => bench.has_caught_up(),
            News::End(lost) => {
                bench.ends()?;
                view.show(&bench.shown())?;
                return Ok(lost);
            }
            News::Failed(error) => return Err(error),
            News::Key(Key::Quit) => {
                bench.stops()?;
                break;
            }
            News::Key(key) => bench.marks(key)?,
            News::Redraw => {}
        }
        view.show(&bench.shown())?;
        shown_at = Instant::now();
    }
    Ok(None)
}

/// Where it stands, and how to go on.
fn tell_end(bench: &Bench) -> Result<()> {
    let text = bench.says_at_end();
    terminal::out(|out| out.write_all(text.as_bytes()))
}
