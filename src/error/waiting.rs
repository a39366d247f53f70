//! A word on what is waited for, where it takes long enough to wonder.

use std::sync::Mutex;

/// Who takes the word; nobody where no face has said.
static TAKES: Mutex<Option<fn(&str)>> = Mutex::new(None);

/// Has `takes` told what the program waits for: a writer before it, a pipe that is silent. The library itself prints nothing.
pub(crate) fn tell_what_is_waited_for(takes: fn(&str)) {
    if let Ok(mut slot) = TAKES.lock() {
        *slot = Some(takes);
    }
}

/// Says that `what` is waited for.
pub(crate) fn waits_for(what: &str) {
    let takes = TAKES.lock().ok().and_then(|slot| *slot);
    if let Some(takes) = takes {
        takes(what);
    }
}
