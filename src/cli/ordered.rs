//! Many inputs on many cores, results in input order, memory bounded.

use rayon::ThreadPool;
use std::collections::BTreeMap;
use std::sync::mpsc;

/// Inputs in work or waiting for their turn, to a thread. Enough that a slow print holds nobody up, few enough that the
/// results waiting for it stay small.
pub(super) const IN_FLIGHT_PER_THREAD: usize = 8;
/// The same where inputs are large scans: each may take a hundred megabytes while it is worked on, and a whole card keeps several threads busy
/// by itself.
pub(super) const LARGE_IN_FLIGHT_PER_THREAD: usize = 1;

/// Works on `items` with every thread of `pool`, `per_thread` items a thread begun at a time, and hands the results to `take` in the order of the items.
///
/// # Errors
/// The first error of `take`, after which no further item is begun.
pub(super) fn for_each_in_order<Item, Done, E>(
    pool: &ThreadPool,
    items: &[Item],
    per_thread: usize,
    work: impl Fn(&Item) -> Done + Sync,
    mut take: impl FnMut(Done) -> Result<(), E>,
) -> Result<(), E>
where
    Item: Sync,
    Done: Send,
{
    let (sender, receiver) = mpsc::channel();
    let window = per_thread * pool.current_num_threads();
    let work = &work;
    pool.in_place_scope_fifo(|scope| {
        let mut waiting_items = items.iter().enumerate();
        let mut begin_next = || {
            if let Some((index, item)) = waiting_items.next() {
                let sender = sender.clone();
                // The receiver outlives the scope's tasks unless `take` failed, and then nobody wants the result.
                scope.spawn_fifo(move |_| drop(sender.send((index, work(item)))));
            }
        };
        (0..window).for_each(|_| begin_next());
        let mut early = BTreeMap::new();
        for turn in 0..items.len() {
            let done = loop {
                if let Some(done) = early.remove(&turn) {
                    break done;
                }
                // Every begun item sends: `work` does not panic (see `screen::screened`), so this does not hang or fail.
                match receiver.recv() {
                    Ok((index, done)) => early.insert(index, done),
                    Err(mpsc::RecvError) => return Ok(()),
                };
            };
            take(done)?;
            begin_next();
        }
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_input_order_however_long_each_takes() {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(4).build().unwrap();
        let items: Vec<u64> = (0..200).collect();
        let mut seen = Vec::new();
        let work = |&i: &u64| {
            std::thread::sleep(std::time::Duration::from_micros((i * 7919) % 900));
            i
        };
        let outcome: Result<(), ()> = for_each_in_order(&pool, &items, IN_FLIGHT_PER_THREAD, work, |i| {
            seen.push(i);
            Ok(())
        });
        assert_eq!(outcome, Ok(()));
        assert_eq!(seen, items);
    }

    #[test]
    fn nothing_more_is_begun_once_the_taker_refuses() {
        use std::sync::atomic::{AtomicUsize, Ordering};
        let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        let begun = AtomicUsize::new(0);
        let items = [(); 1000];
        let count = |(): &()| begun.fetch_add(1, Ordering::Relaxed);
        let outcome = for_each_in_order(&pool, &items, IN_FLIGHT_PER_THREAD, count, |_| Err("full"));
        assert_eq!(outcome, Err("full"));
        assert!(begun.into_inner() <= IN_FLIGHT_PER_THREAD);
    }
}
