//! What all requests share.

use std::path::PathBuf;
use std::sync::Arc;

use tokio::sync::Semaphore;

use super::answer::Fault;
use super::doors::Doors;
use super::pool::Pool;
use crate::book::Book;

/// Photographs that are read at a time.
const PHOTOGRAPHS: usize = 2;

/// What is served, and to whom.
#[derive(Clone, Debug)]
pub struct Settings {
    /// The swatch book's folder; the current folder's, or else the demo, where `None`.
    pub book: Option<PathBuf>,
    /// Under what names it may be asked for, and with what key.
    pub doors: Doors,
}

/// What all requests share.
#[derive(Debug)]
pub(super) struct House {
    pub(super) doors: Doors,
    pub(super) photographs: Semaphore,
    book: Option<PathBuf>,
    pool: Pool,
}

/// The same for each of them.
pub(super) type Shared = Arc<House>;

impl House {
    pub(super) fn new(Settings { book, doors }: Settings) -> Shared {
        Arc::new(Self {
            doors,
            photographs: Semaphore::new(PHOTOGRAPHS),
            book,
            pool: Pool::new(),
        })
    }

    /// Does `job` with the book as it is now, where jobs are done.
    ///
    /// # Errors
    /// A book that can't be read; those of the job; see [`Pool::run`].
    pub(super) async fn with_book<T: Send + 'static>(
        self: &Arc<Self>,
        job: impl FnOnce(&mut Book) -> Result<T, Fault> + Send + 'static,
    ) -> Result<T, Fault> {
        let folder = self.book.clone();
        self.pool
            .run(move || job(&mut Book::open_or_demo(folder.as_deref())?))
            .await
    }
}
