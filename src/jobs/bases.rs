//! The base that is meant where none is named.

use crate::error::{Error, Result};
use crate::materials::{Kind, Shelf};

/// The base called `name`, or the shelf's first of that kind.
pub(crate) fn base_name(shelf: &Shelf, name: Option<&str>, kind: Kind) -> Result<String> {
    if let Some(name) = name {
        return Ok(shelf.base(name)?.name.clone());
    }
    let first = shelf.bases.iter().find(|base| base.kind.kind() == kind);
    first.map(|base| base.name.clone()).ok_or_else(|| {
        Error::input(format!("this book has no {kind} base")).mend("add one to bases.csv")
    })
}
