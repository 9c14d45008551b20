//! Work side by side, on all cores.
//!
//! What the threads of the pool run is handed to them behind a reference: so the pool's own code, of which there is much, is compiled
//! once and not anew for every piece of work.

use std::panic::resume_unwind;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

/// Items are handed out in this many portions at the most.
const PORTIONS: usize = 1 << 12;

/// What the two give.
pub fn both<A: Send, B: Send>(
    a: impl FnOnce() -> A + Send,
    b: impl FnOnce() -> B + Send,
) -> (A, B) {
    let (mut a, mut b) = (Some(a), Some(b));
    let (mut of_a, mut of_b) = (None, None);
    join(&mut || of_a = a.take().map(|a| a()), &mut || {
        of_b = b.take().map(|b| b());
    });
    of_a.zip(of_b).expect("each of the two has been run")
}

fn join(a: &mut (dyn FnMut() + Send), b: &mut (dyn FnMut() + Send)) {
    rayon::join(a, b);
}

/// How many threads there are.
pub fn threads() -> usize {
    rayon::current_num_threads()
}

/// What `of` gives for each item, in their order. The items are taken in that order, too, each when a core is free.
pub fn each<'a, T: Sync, R: Send>(items: &'a [T], of: impl Fn(&'a T) -> R + Sync) -> Vec<R> {
    given(items, of, pooled)
}

/// [`each`] on threads of their own, each with one item at a time: those of the pool would begin with further items while they wait for
/// help within one, and hold them all.
pub fn each_apart<'a, T: Sync, R: Send>(items: &'a [T], of: impl Fn(&'a T) -> R + Sync) -> Vec<R> {
    given(items, of, apart)
}

/// What `of` gives for each item, which it may change, in their order.
pub fn each_mut<T: Send, R: Send>(items: &mut [T], of: impl Fn(&mut T) -> R + Sync) -> Vec<R> {
    let items: Vec<Mutex<&mut T>> = items.iter_mut().map(Mutex::new).collect();
    each(&items, |item| {
        of(&mut item.lock().unwrap_or_else(PoisonError::into_inner))
    })
}

/// Runs the same on this many threads.
type Run = fn(usize, &(dyn Fn() + Sync));

fn given<'a, T: Sync, R: Send>(items: &'a [T], of: impl Fn(&'a T) -> R + Sync, run: Run) -> Vec<R> {
    let slots: Vec<Mutex<Option<R>>> = items.iter().map(|_| Mutex::new(None)).collect();
    let work = |k: usize| {
        let given = of(&items[k]);
        *slots[k].lock().unwrap_or_else(PoisonError::into_inner) = Some(given);
    };
    all(items.len(), &work, run);
    let given = slots.into_iter().map(Mutex::into_inner);
    given
        .filter_map(|slot| slot.unwrap_or_else(PoisonError::into_inner))
        .collect()
}

fn all(count: usize, work: &(dyn Fn(usize) + Sync), run: Run) {
    let portion = count.div_ceil(PORTIONS).max(1);
    let next = AtomicUsize::new(0);
    let take = || {
        loop {
            let from = next.fetch_add(portion, Ordering::Relaxed);
            if from >= count {
                return;
            }
            (from..count.min(from + portion)).for_each(work);
        }
    };
    run(threads().min(count), &take);
}

fn pooled(takers: usize, take: &(dyn Fn() + Sync)) {
    let takers = (0..takers).into_par_iter();
    takers.with_max_len(1).for_each(|_| take());
}

fn apart(takers: usize, take: &(dyn Fn() + Sync)) {
    std::thread::scope(|scope| {
        let takers: Vec<_> = (0..takers).map(|_| scope.spawn(take)).collect();
        for taker in takers {
            taker.join().unwrap_or_else(|panic| resume_unwind(panic));
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_keeps_the_order_and_changes_every_item() {
        let mut items: Vec<usize> = (0..10_000).collect();
        assert_eq!(each(&items, |k| 2 * k)[7], 14);
        let before = each_mut(&mut items, |k| std::mem::replace(k, 1));
        assert!(before.into_iter().eq(0..10_000));
        assert!(items.iter().all(|k| *k == 1));
        assert_eq!(both(|| 1, || "two"), (1, "two"));
        assert!(each(&[] as &[u8], |k| *k).is_empty());
        assert_eq!(each_apart(&[3, 1, 2], |k| 2 * k), [6, 2, 4]);
    }

    #[test]
    #[should_panic(expected = "the seventh")]
    fn a_panic_is_passed_on() {
        each(&[1, 7, 3], |k| assert_ne!(*k, 7, "the seventh"));
    }
}
