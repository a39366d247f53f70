//! Who watches a search: is told the best so far, and may say that it will do.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

use crate::materials::Kind;

/// Someone who watches a search, such as a person at a keyboard.
#[derive(Debug)]
pub struct Watcher {
    has_enough: AtomicBool,
    best: Mutex<Option<(Kind, f64)>>,
}

impl Watcher {
    /// One who has seen and said nothing yet.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            has_enough: AtomicBool::new(false),
            best: Mutex::new(None),
        }
    }

    /// Forgets what was seen and said.
    pub fn begin(&self) {
        self.has_enough.store(false, Ordering::Relaxed);
        self.see(None);
    }

    /// Says that the best so far will do; whether that was said before.
    pub fn stop(&self) -> bool {
        self.has_enough.swap(true, Ordering::Relaxed)
    }

    /// The cup that is being worked out, and the ΔE00 of the best recipe for it so far.
    pub fn best(&self) -> Option<(Kind, f64)> {
        *self.best.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn see(&self, best: Option<(Kind, f64)>) {
        *self.best.lock().unwrap_or_else(PoisonError::into_inner) = best;
    }
}

impl Default for Watcher {
    fn default() -> Self {
        Self::new()
    }
}

/// A search as a [`Watcher`] sees it, if anyone watches.
#[derive(Clone, Copy, Debug, Default)]
pub struct Watch(Option<&'static Watcher>);

impl Watch {
    /// Watched by `watcher`.
    pub fn by(watcher: &'static Watcher) -> Self {
        Self(Some(watcher))
    }

    /// Whether the best so far will do.
    pub fn is_stopped(self) -> bool {
        self.0
            .is_some_and(|watcher| watcher.has_enough.load(Ordering::Relaxed))
    }

    /// Tells the ΔE00 of the best recipe so far for a cup of this kind.
    pub(super) fn tell(self, kind: Kind, delta_e: f64) {
        if let Some(watcher) = self.0 {
            watcher.see(Some((kind, delta_e)));
        }
    }
}

impl PartialEq for Watch {
    /// Whether the same one watches both, or no one.
    fn eq(&self, other: &Self) -> bool {
        match (self.0, other.0) {
            (Some(one), Some(other)) => std::ptr::eq(one, other),
            (one, other) => one.is_none() && other.is_none(),
        }
    }
}
