//! Pictures that a screen shows of what was read: kept in memory, the newest few, under addresses that nobody guesses.

use std::collections::VecDeque;
use std::sync::{Mutex, PoisonError};

use super::key::Key;
use crate::error::Result;

/// So many are kept: those of the screens that are likely open.
const MOST: usize = 8;

/// The pictures, the oldest first, each with its name.
#[derive(Debug, Default)]
pub(super) struct Pictures(Mutex<VecDeque<(String, Vec<u8>)>>);

impl Pictures {
    /// Keeps a `png` for a while, and returns its address.
    ///
    /// # Errors
    /// A system without a source of chance.
    pub(super) fn keep(&self, png: Vec<u8>) -> Result<String> {
        let name = Key::new()?.as_str().to_owned();
        let address = format!("/pictures/{name}");
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.push_back((name, png));
        while kept.len() > MOST {
            kept.pop_front();
        }
        Ok(address)
    }

    /// The picture called `name`, as long as it is kept.
    pub(super) fn find(&self, name: &str) -> Option<Vec<u8>> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let found = kept.iter().find(|(known, _)| known == name);
        found.map(|(_, png)| png.clone())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_few_are_kept() {
        let pictures = Pictures::default();
        let keep = |shade| pictures.keep(vec![shade]).expect("a source of chance");
        let first = keep(0);
        let named = |address: &str| address.trim_start_matches("/pictures/").to_owned();
        assert_eq!(pictures.find(&named(&first)), Some(vec![0]), "kept");
        for shade in 1..=8 {
            keep(shade);
        }
        assert_eq!(pictures.find(&named(&first)), None, "the oldest goes");
    }
}
