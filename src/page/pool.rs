//! Where jobs run: few at a time, beside the threads that talk, and with an end to the waiting.

use std::sync::Arc;
use std::thread::available_parallelism;
use std::time::Duration;

use axum::http::StatusCode;
use tokio::sync::Semaphore;

use super::answer::Fault;

/// How long a request waits for its turn, and for its job.
const TURN: Duration = Duration::from_secs(30);
const JOB: Duration = Duration::from_secs(60);

/// The places that jobs run in.
#[derive(Clone, Debug)]
pub(super) struct Pool(Arc<Semaphore>);

impl Pool {
    /// As many as this machine has cores, and at least two.
    pub(super) fn new() -> Self {
        let cores = available_parallelism().map_or(2, usize::from);
        Self(Arc::new(Semaphore::new(cores.max(2))))
    }

    /// What `job` gives.
    ///
    /// # Errors
    /// Those of the job; no turn or no end in time. A job that has no end in time keeps its place until it has one, and what it
    /// was to write is written whole or not at all.
    pub(super) async fn run<T: Send + 'static>(
        &self,
        job: impl FnOnce() -> Result<T, Fault> + Send + 'static,
    ) -> Result<T, Fault> {
        let busy = || {
            let words = "All hands are busy. Wait a moment and ask again; nothing was changed.";
            Fault::new(StatusCode::SERVICE_UNAVAILABLE, words)
        };
        let turn = tokio::time::timeout(TURN, Arc::clone(&self.0).acquire_owned()).await;
        let turn = turn.map_err(|_| busy())?.map_err(|_| busy())?;
        let running = tokio::task::spawn_blocking(move || {
            let outcome = job();
            drop(turn);
            outcome
        });
        match tokio::time::timeout(JOB, running).await {
            Ok(Ok(outcome)) => outcome,
            Ok(Err(_)) => {
                let words = "The program failed at this, which is a fault of its own. Nothing was half written.";
                Err(Fault::new(StatusCode::INTERNAL_SERVER_ERROR, words))
            }
            Err(_) => {
                let words = "This takes longer than a minute. It goes on by itself; look again at what the book has then.";
                Err(Fault::new(StatusCode::GATEWAY_TIMEOUT, words))
            }
        }
    }
}
