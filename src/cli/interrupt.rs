//! Signals, and words while it takes long. Ctrl-C: the best so far will do.

use crate::error::tell_what_is_waited_for;
use crate::search::{Watch, Watcher};

/// The person at the keyboard.
pub(super) static KEYBOARD: Watcher = Watcher::new();

/// Makes an interrupt from the keyboard end the search with the best so far, and a second one the program; so does the first where
/// nothing is found yet, such as while swatches are learnt from.
pub(super) fn watched_from_the_keyboard() -> Watch {
    KEYBOARD.begin();
    let handled = ctrlc::set_handler(|| {
        if KEYBOARD.stop() || KEYBOARD.best().is_none() {
            // As a shell tells a program that was ended by an interrupt.
            std::process::exit(130);
        }
    });
    match handled {
        // A process that has its own handler, or had this one set before, keeps it.
        Ok(()) | Err(_) => Watch::by(&KEYBOARD),
    }
}

/// Has this process tell on the error stream what it waits for, and, when it is told to end, end once nothing is being written.
pub fn attend() {
    tell_what_is_waited_for(|what| anstream::eprintln!("waiting for {what}"));
    #[cfg(unix)]
    end_in_order();
}

/// Ends on SIGTERM and SIGHUP between writes, and not within one.
#[cfg(unix)]
fn end_in_order() {
    use signal_hook::consts::{SIGHUP, SIGTERM};
    use signal_hook::iterator::Signals;

    // Where they cannot be caught they end the program as they always do; the next writer clears up.
    let Ok(mut signals) = Signals::new([SIGTERM, SIGHUP]) else {
        return;
    };
    std::thread::spawn(move || {
        if let Some(signal) = signals.forever().next() {
            crate::book::end_writing();
            // As a shell tells a program that was ended by that signal.
            std::process::exit(128 + signal);
        }
    });
}
