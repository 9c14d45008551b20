//! Outcome of a verb, and its exit code.

/// Outcome of a verb; its number is the exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Done, within limits.
    Done = 0,
    /// Done, but limits are exceeded.
    OverLimits = 1,
    /// Done, except for recordings that could not be read.
    SomeNotRead = 3,
}
