//! Where a book's files come from: a folder, or the demo that the program carries.

use std::collections::HashMap;
use std::path::{Component, Path, PathBuf};

use super::carried;
use crate::error::{Error, FileKind, Result, read};

/// The file that makes a folder a swatch book: its settings.
pub(super) const SETTINGS: &str = "book.toml";
/// The tables of what stands on the shelf.
pub(super) const BASES: &str = "bases.csv";
pub(super) const PIGMENTS: &str = "pigments.csv";
pub(super) const BACKINGS: &str = "backings.csv";
/// The table of stocks; a book without one has none.
pub(super) const STOCKS: &str = "stocks.csv";
/// The table of moulds; a book without one has none.
pub(super) const MOULDS: &str = "moulds.csv";

/// Whether the folder `dir` is a swatch book.
pub(super) fn holds_book(dir: &Path) -> bool {
    dir.join(SETTINGS).is_file()
}

/// Where a book's files come from.
#[derive(Clone, Debug)]
pub(super) enum Files {
    /// A folder on disk.
    Folder(PathBuf),
    /// A folder on disk as it would be if some of its files had other texts: by name, what they would say.
    Supposed {
        /// The folder, which is not written to.
        folder: PathBuf,
        /// The texts.
        texts: HashMap<String, String>,
    },
    /// The demo book inside the program.
    Demo,
}

impl Files {
    /// What messages call the file `name`.
    pub(super) fn label(&self, name: &str) -> PathBuf {
        match self {
            Self::Folder(folder) | Self::Supposed { folder, .. }
                if folder.as_os_str().is_empty() || folder == Path::new(".") =>
            {
                name.into()
            }
            Self::Folder(folder) | Self::Supposed { folder, .. } => folder.join(name),
            Self::Demo => Path::new("the demo book").join(name),
        }
    }

    /// The text of the file `name`, a path with `/` from the book's folder; `None` if there is none.
    ///
    /// # Errors
    /// A file that cannot be read or is not UTF-8.
    pub(super) fn find(&self, name: &str) -> Result<Option<String>> {
        if let Self::Supposed { texts, .. } = self
            && let Some(text) = texts.get(name)
        {
            return Ok(Some(text.clone()));
        }
        let label = self.label(name);
        let bytes = match self {
            Self::Demo => carried::demo_file(name).map(<[u8]>::to_vec),
            Self::Folder(_) | Self::Supposed { .. } => {
                let is_there = label.try_exists();
                if is_there.map_err(|cause| Error::unreadable(&label, cause))? {
                    Some(read(&label, kind_of(name))?)
                } else {
                    check_no_dangling_link(&label)?;
                    None
                }
            }
        };
        bytes.map(|bytes| utf8(&label, bytes)).transpose()
    }

    /// The text of the file `name`, which every book has.
    pub(super) fn text(&self, name: &str) -> Result<String> {
        self.find(name)?.ok_or_else(|| {
            Error::input("this file of the swatch book is missing")
                .mend("bring it back from a copy; `dropwise new DIR` writes a fresh book to compare with")
                .in_file(self.label(name))
        })
    }
}

/// Which kind of file of a book is called `name`.
fn kind_of(name: &str) -> FileKind {
    if name.ends_with(".toml") {
        FileKind::Document
    } else {
        FileKind::Table
    }
}

/// Refuses a link whose file is gone: what it stood for is to be brought back, and not to be begun anew.
pub(super) fn check_no_dangling_link(path: &Path) -> Result<()> {
    if path.is_symlink() && !path.exists() {
        return Err(Error::input("this is a link to a file that is not there")
            .mend("bring that file back, or take the link away")
            .in_file(path));
    }
    Ok(())
}

/// Reads the whole of a text file that a user named.
pub(super) fn named_text(path: &Path) -> Result<String> {
    let bytes = read(path, FileKind::Table)?;
    utf8(path, bytes)
}

/// Reads the whole of a text file that an instrument's program wrote: UTF-8, or else Latin-1.
pub(super) fn lenient_text(path: &Path) -> Result<String> {
    let bytes = read(path, FileKind::Table)?;
    if bytes.contains(&0) {
        let error = Error::input("this is no text: it holds a zero byte");
        return Err(error
            .mend("export the readings as plain text in UTF-8, CGATS or CSV")
            .in_file(path));
    }
    Ok(String::from_utf8(bytes).unwrap_or_else(|error| {
        // Latin-1 is the first 256 characters.
        error.into_bytes().into_iter().map(char::from).collect()
    }))
}

fn utf8(label: &Path, bytes: Vec<u8>) -> Result<String> {
    String::from_utf8(bytes).map_err(|error| {
        let sound = &error.as_bytes()[..error.utf8_error().valid_up_to()];
        let line = 1 + sound.iter().filter(|byte| **byte == b'\n').count() as u64;
        Error::input("this is not UTF-8 text")
            .mend("save it again as UTF-8; a spreadsheet calls that CSV UTF-8")
            .at(line, None)
            .in_file(label)
    })
}

/// Refuses a path that does not stay within the book.
pub(super) fn check_within_book(name: &str) -> Result<()> {
    let within = Path::new(name)
        .components()
        .all(|part| matches!(part, Component::Normal(_) | Component::CurDir));
    if within && !name.contains('\\') {
        return Ok(());
    }
    Err(Error::input(format!(
        "`{}` does not stay within the book's folder",
        name.escape_debug()
    ))
    .mend("copy the file into the book and write its path from there with `/`, such as spectra/umber.csv"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_stays_within_the_book() {
        for good in ["spectra/umber.csv", "a.csv", "./a.csv", "spectra/..a.csv"] {
            assert!(check_within_book(good).is_ok(), "{good}");
        }
        for bad in [
            "/etc/passwd",
            "../a.csv",
            "spectra/../../a.csv",
            "spectra\\a.csv",
        ] {
            assert!(check_within_book(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn text_of_another_encoding_is_named_with_its_line() {
        let error = utf8(Path::new("a.csv"), b"fine\nbr\xfbl\xe9\n".to_vec());
        let line = error.expect_err("Latin-1").to_string();
        assert_eq!(
            line,
            "a.csv:2: this is not UTF-8 text (save it again as UTF-8; a spreadsheet calls that CSV UTF-8)"
        );
    }
}
