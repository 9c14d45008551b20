//! Placeholder.
use super::Outcome;
use crate::error::Result;

/// x
#[derive(Debug, clap::Args)]
pub struct Args {}

/// x
pub fn run(_args: Args) -> Result<Outcome> {
    Ok(Outcome::Done)
}
