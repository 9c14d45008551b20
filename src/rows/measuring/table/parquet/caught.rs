//! A panic of the format's library over a damaged file becomes an answer, and is told by nothing else.

use std::cell::Cell;
use std::panic::{self, UnwindSafe};
use std::sync::Once;

thread_local! {
    /// This thread does what may panic.
    static AT_RISK: Cell<bool> = const { Cell::new(false) };
}

/// What `read` gives; `None` where it panics. Other panics are reported as before.
pub(super) fn caught<T>(read: impl FnOnce() -> T + UnwindSafe) -> Option<T> {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let tell = panic::take_hook();
        panic::set_hook(Box::new(move |about| {
            if !AT_RISK.get() {
                tell(about);
            }
        }));
    });
    AT_RISK.set(true);
    let given = panic::catch_unwind(read);
    AT_RISK.set(false);
    given.ok()
}
