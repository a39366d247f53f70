//! Ctrl-C: the best so far will do.

use std::sync::atomic::{AtomicBool, Ordering};

use crate::search::Stop;

/// Whether the keyboard has asked for the best so far.
static INTERRUPTED: AtomicBool = AtomicBool::new(false);

/// Makes an interrupt from the keyboard end the search with the best so far, and a second one the program.
pub(super) fn stop_at_interrupt() -> Stop {
    INTERRUPTED.store(false, Ordering::Relaxed);
    let handled = ctrlc::set_handler(|| {
        if INTERRUPTED.swap(true, Ordering::Relaxed) {
            // As a shell tells a program that was ended by an interrupt.
            std::process::exit(130);
        }
    });
    match handled {
        // A process that has its own handler, or had this one set before, keeps it.
        Ok(()) | Err(_) => Stop::when(&INTERRUPTED),
    }
}
