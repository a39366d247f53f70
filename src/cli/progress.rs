//! A line on standard error for what takes over a second, where a person watches.

use std::io::{IsTerminal, Write};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use super::shown::shown;

/// How long nothing is said, and how often the line is renewed.
const PATIENCE: Duration = Duration::from_secs(1);

/// Says what is being done until it is dropped: after a second, each second, and only to a terminal. The line
/// is taken away again, so that nothing of it stays beside the answer.
pub(super) struct Progress(Option<(Sender<()>, JoinHandle<()>)>);

impl Progress {
    /// Begins to wait; `doing` is what is said each time, such as `reading face.jpg`.
    pub(super) fn begin(doing: impl Fn() -> String + Send + 'static) -> Self {
        if !std::io::stderr().is_terminal() {
            return Self(None);
        }
        let (done, waits) = channel();
        let begun = Instant::now();
        let thread = thread::spawn(move || {
            let mut is_shown = false;
            while waits.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) {
                let seconds = begun.elapsed().as_secs();
                let doing = shown(&doing());
                // Where even standard error is gone, nobody watches. What is said may be shorter than before.
                let _ = write!(std::io::stderr(), "\r{doing} … {seconds} s\x1b[K");
                is_shown = true;
            }
            if is_shown {
                let _ = write!(std::io::stderr(), "\r\x1b[K");
            }
        });
        Self(Some((done, thread)))
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some((done, thread)) = self.0.take() {
            drop(done);
            // A thread that only writes has nothing to tell.
            let _ = thread.join();
        }
    }
}
