//! An orderly end: a program that is told to end does so when nothing is being written.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::thread;
use std::time::Duration;

/// How many writes are under way, and whether no more are to begin.
static UNDER_WAY: AtomicUsize = AtomicUsize::new(0);
static IS_ENDING: AtomicBool = AtomicBool::new(false);

/// A write, or a change of several, that is under way until this is dropped.
#[derive(Debug)]
pub(super) struct Writing;

impl Writing {
    /// Begins one; where the program is ending and none is under way, this never returns.
    pub(super) fn begin() -> Self {
        let others = UNDER_WAY.fetch_add(1, Ordering::SeqCst);
        if others == 0 && IS_ENDING.load(Ordering::SeqCst) {
            UNDER_WAY.fetch_sub(1, Ordering::SeqCst);
            loop {
                thread::park();
            }
        }
        Self
    }
}

impl Drop for Writing {
    fn drop(&mut self) {
        UNDER_WAY.fetch_sub(1, Ordering::SeqCst);
    }
}

/// Waits until nothing is being written, and lets nothing begin: for whoever is about to end the program.
pub fn end_writing() {
    IS_ENDING.store(true, Ordering::SeqCst);
    while UNDER_WAY.load(Ordering::SeqCst) > 0 {
        thread::sleep(Duration::from_millis(1));
    }
}
