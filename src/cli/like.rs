//! A target from the book: match a part to one that was cast.

use crate::book::Book;
use crate::error::Result;
use crate::jobs::targeting;
use crate::tone::Target;

/// An earlier casting, by its name in the book.
#[derive(Debug, clap::Args)]
pub(super) struct Like {
    /// An earlier casting of the book: its swatch's name, as in S012; its readings are averaged, and its translucency is
    /// taken where it was read over the white and the black card
    #[arg(long, value_name = "SWATCH", conflicts_with = "target")]
    #[cfg_attr(feature = "photo", arg(conflicts_with_all = ["photo", "readings"]))]
    #[cfg_attr(not(feature = "photo"), arg(conflicts_with = "readings"))]
    like: Option<String>,
    /// Which of its readings, where it was read over several backings
    #[arg(long, value_name = "BACKING", requires = "like")]
    like_over: Option<String>,
}

impl Like {
    /// Whether one is named.
    pub(super) fn is_given(&self) -> bool {
        self.like.is_some()
    }

    /// The swatch's name; empty where none is named.
    pub(super) fn name(&self) -> &str {
        self.like.as_deref().unwrap_or_default()
    }

    /// The target that the swatch makes; `None` where none is named.
    pub(super) fn target(&self, book: &Book) -> Result<Option<Target>> {
        let over = self.like_over.as_deref();
        let named = self.like.as_deref();
        named
            .map(|name| targeting::like(book, name, over))
            .transpose()
    }
}
