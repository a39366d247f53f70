//! What all requests share.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::Semaphore;

use super::answer::Fault;
use super::doors::Doors;
use super::fields::Fields;
#[cfg(feature = "photo")]
use super::pictures::Pictures;
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
    #[cfg(feature = "photo")]
    pub(super) pictures: Pictures,
    book: Option<PathBuf>,
    /// The book as it was last read, and the state that it was in.
    last: Mutex<Option<(String, Book)>>,
    pool: Pool,
}

/// The same for each of them.
pub(super) type Shared = Arc<House>;

impl House {
    pub(super) fn new(Settings { book, doors }: Settings) -> Shared {
        Arc::new(Self {
            doors,
            photographs: Semaphore::new(PHOTOGRAPHS),
            #[cfg(feature = "photo")]
            pictures: Pictures::default(),
            book,
            last: Mutex::new(None),
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
        let house = Arc::clone(self);
        self.pool.run(move || job(&mut house.open()?)).await
    }

    /// Does `job` with the book and the form `fields`, which goes to `path`: where the book is another than the form was drawn of, or
    /// becomes one before the job writes to it, nothing is written and the form is given back. The demo never becomes another.
    ///
    /// # Errors
    /// A form that is [stale](Fault::Stale); as [`with_book`](Self::with_book).
    pub(super) async fn with_form<T: Send + 'static>(
        self: &Arc<Self>,
        fields: Fields,
        path: String,
        job: impl FnOnce(&mut Book, &Fields) -> Result<T, Fault> + Send + 'static,
    ) -> Result<T, Fault> {
        let house = Arc::clone(self);
        self.with_book(move |book| {
            let drawn_of = fields.text("revision");
            // Before any time goes into it; and again where no one else can write any more.
            let is_old = book.folder().is_some() && drawn_of != book.revision();
            if !is_old {
                book.expect(drawn_of);
                match job(book, &fields) {
                    Err(Fault::Job(error)) if error.is_outdated() => {}
                    outcome => return outcome,
                }
            }
            let mut again = fields;
            again.set("revision", house.open()?.revision());
            Err(Fault::Stale(path, again))
        })
        .await
    }

    /// The book as it is now: read anew only where it was written to since, since a nudge takes less than reading a book does.
    fn open(&self) -> Result<Book, Fault> {
        let folder = self.book.as_deref();
        let state = Book::settled_revision(folder);
        let last = || self.last.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = last().as_ref().filter(|(of, _)| Some(of) == state.as_ref()) {
            return Ok(known.1.clone());
        }
        let book = Book::open_watched(folder)?;
        let told = state.filter(|state| *state == book.revision());
        *last() = told.map(|state| (state, book.clone()));
        Ok(book)
    }
}
