//! How far long work has come, where a person watches.

use std::io::{self, IsTerminal as _, Write as _};
use std::time::{Duration, Instant};

/// A line on a terminal's standard error that tells how far long work has come; nothing elsewhere.
pub(super) struct Bar {
    what: &'static str,
    since: Instant,
    shown: bool,
}

impl Bar {
    /// Work that takes less than this is not told of.
    const PATIENCE: Duration = Duration::from_secs(1);

    pub(super) fn new(what: &'static str) -> Self {
        Self {
            what,
            since: Instant::now(),
            shown: false,
        }
    }

    /// Tells that `share` (0–1) is done.
    pub(super) fn show(&mut self, share: f64) {
        let mut err = io::stderr();
        if !err.is_terminal() || self.since.elapsed() < Self::PATIENCE {
            return;
        }
        self.shown = true;
        // A terminal that cannot be written to is no reason to stop.
        let _ = write!(err, "\r{} {:3.0} %", self.what, 100.0 * share);
        let _ = err.flush();
    }

    /// Takes the line away.
    pub(super) fn clear(&mut self) {
        if self.shown {
            let _ = write!(io::stderr(), "\r\x1b[2K");
        }
    }
}
