//! Ctrl-C: the best so far will do.

use crate::search::{Watch, Watcher};

/// The person at the keyboard.
pub(super) static KEYBOARD: Watcher = Watcher::new();

/// Makes an interrupt from the keyboard end the search with the best so far, and a second one the program.
pub(super) fn watched_from_the_keyboard() -> Watch {
    KEYBOARD.begin();
    let handled = ctrlc::set_handler(|| {
        if KEYBOARD.stop() {
            // As a shell tells a program that was ended by an interrupt.
            std::process::exit(130);
        }
    });
    match handled {
        // A process that has its own handler, or had this one set before, keeps it.
        Ok(()) | Err(_) => Watch::by(&KEYBOARD),
    }
}
