//! Progress bar for gathering starts, on stderr and only if that is a terminal.

use std::io::IsTerminal;
use std::path::PathBuf;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::error::Result;
use crate::measuring::gather;
use crate::measuring::gather::{GatherOptions, StartSet, TakeRows};

/// Template: done, total, rate, time left.
const SHOWN: &str = "{bar:24} {pos} of {len} recordings, {per_sec}, {eta} left";

/// Gathers starts with a progress bar, unless `quiet`.
///
/// # Errors
/// Errors of gathering.
pub fn gather(inputs: &[PathBuf], options: &GatherOptions<'_>, quiet: bool) -> Result<StartSet> {
    gather_for(inputs, options, quiet, None)
}

/// [`gather`] for somebody who takes the rows while it goes on.
///
/// # Errors
/// Errors of gathering and of taking.
pub fn gather_for(
    inputs: &[PathBuf],
    options: &GatherOptions<'_>,
    quiet: bool,
    taker: Option<&mut TakeRows>,
) -> Result<StartSet> {
    if quiet || !std::io::stderr().is_terminal() {
        return gather::gather_for(inputs, options, taker);
    }
    let bar = ProgressBar::with_draw_target(Some(0), ProgressDrawTarget::stderr_with_hz(4));
    let style = ProgressStyle::with_template(SHOWN).expect("the template is well-formed");
    bar.set_style(style.progress_chars("━╸ "));
    bar.enable_steady_tick(Duration::from_millis(250));
    let tell = |done: usize, of: usize| {
        bar.set_length(of as u64);
        bar.set_position(done as u64);
    };
    let told = GatherOptions {
        progress: Some(&tell),
        ..*options
    };
    let gathered = gather::gather_for(inputs, &told, taker);
    bar.finish_and_clear();
    gathered
}
