//! Signals, and words while it takes long. Ctrl-C: the best so far will do.

use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

use super::shown::shown;
use crate::book::end_writing;
use crate::error::tell_what_is_waited_for;
use crate::materials::Kind;
use crate::search::{Watch, Watcher};

/// The person at the keyboard.
static KEYBOARD: Watcher = Watcher::new();

/// Whether an interrupt is heard elsewhere: by the page, which ends with what is under way.
static IS_HEARD_ELSEWHERE: AtomicBool = AtomicBool::new(false);

/// What a shell takes a program's exit code for that an interrupt ended.
const INTERRUPTED: i32 = 130;

/// Has an interrupt from the keyboard end the search that now begins with the best so far: see [`attend`].
pub(super) fn watched_from_the_keyboard() -> Watch {
    KEYBOARD.begin();
    Watch::by(&KEYBOARD)
}

/// The cup that is being worked out, and the ΔE00 of the best recipe for it so far.
pub(super) fn best_so_far() -> Option<(Kind, f64)> {
    KEYBOARD.best()
}

/// Leaves it to another to hear an interrupt from now on.
#[cfg(feature = "page")]
pub(super) fn leave_interrupts_to_another() {
    IS_HEARD_ELSEWHERE.store(true, Ordering::Relaxed);
}

/// Has this process tell on the error stream what it waits for, and end in order.
///
/// An interrupt from the keyboard ends a search that has found something with the best so far. Where nothing is found yet, such as
/// while swatches are learnt from, or it was interrupted before, the program ends between two writes, and not within one; so it does
/// when it is told to end. One more interrupt ends it at once.
pub fn attend() {
    tell_what_is_waited_for(|what| anstream::eprintln!("waiting for {}", shown(what)));
    // Where a signal cannot be caught it ends the program as it always does; the next writer clears up.
    let _ = ctrlc::set_handler(interrupted);
    #[cfg(unix)]
    end_in_order();
}

fn interrupted() {
    static IS_ENDING: AtomicBool = AtomicBool::new(false);
    if IS_HEARD_ELSEWHERE.load(Ordering::Relaxed) {
        return;
    }
    let is_the_best_wanted = KEYBOARD.best().is_some() && !KEYBOARD.stop();
    if is_the_best_wanted {
        return;
    }
    if IS_ENDING.swap(true, Ordering::Relaxed) {
        std::process::exit(INTERRUPTED);
    }
    // Apart, so that another interrupt is heard if what is written to hangs.
    thread::spawn(|| {
        end_writing();
        std::process::exit(INTERRUPTED);
    });
}

/// Ends on SIGTERM and SIGHUP between writes, and not within one.
#[cfg(unix)]
fn end_in_order() {
    use signal_hook::consts::{SIGHUP, SIGTERM};
    use signal_hook::iterator::Signals;

    let Ok(mut signals) = Signals::new([SIGTERM, SIGHUP]) else {
        return;
    };
    thread::spawn(move || {
        if let Some(signal) = signals.forever().next() {
            end_writing();
            // As a shell tells a program that was ended by that signal.
            std::process::exit(128 + signal);
        }
    });
}
