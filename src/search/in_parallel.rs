//! The same done to many things on several threads, with an answer that depends on none of them.

/// What `each` makes of every one of `items`, in their order, on at most so many `threads`, of which each has at least `least` items.
pub(crate) fn in_parallel<T: Sync, R: Send>(
    (threads, least): (usize, usize),
    items: &[T],
    each: impl Fn(&T) -> R + Sync,
) -> Vec<R> {
    let each = &each;
    let share = items.len().div_ceil(threads.max(1)).max(least.max(1));
    let mut all = Vec::with_capacity(items.len());
    std::thread::scope(|scope| {
        let mut shares = items.chunks(share);
        let mine = shares.next().unwrap_or_default();
        let others: Vec<_> = shares
            .map(|share| scope.spawn(move || share.iter().map(each).collect::<Vec<_>>()))
            .collect();
        all.extend(mine.iter().map(each));
        for other in others {
            match other.join() {
                Ok(theirs) => all.extend(theirs),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
    });
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_answers_stand_in_the_order_of_the_items_on_any_number_of_threads() {
        let items: Vec<u32> = (0..100).collect();
        let squares: Vec<u32> = items.iter().map(|item| item * item).collect();
        for threads in [0, 1, 3, 200] {
            let found = in_parallel((threads, 1), &items, |item| item * item);
            assert_eq!(found, squares, "{threads} threads");
        }
        assert!(
            in_parallel((2, 64), &[], |item: &u32| *item).is_empty(),
            "of none"
        );
    }
}
