//! Findings become sentences: the one place where they are made.

mod cause;
mod concern;
mod quantity;
mod seen;
mod source;
mod way_out;

use crate::fit::concern::Concern;
use crate::fit::edit::Edit;
use crate::fit::remark::Remark;

pub(super) use seen::of_seen;

/// The sentences of a concern.
pub(super) fn of_concern(concern: &Concern, ways: &[Vec<Edit>]) -> Remark {
    Remark {
        what: concern::what(concern),
        why: concern::why(concern),
        source: source::of(concern),
        to_try: way_out::to_try(concern, ways),
    }
}
