//! A new book, laid out in a folder of its own.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::carried::{DEMO, MATERIALS};
use super::files::{SETTINGS, holds_book};
use super::starter::Starter;
use super::{changes, settings, swatches, write};
use crate::error::{Error, Result};
use crate::materials::check_name;

/// What stands in a folder in which a book is begun and not whole yet; named as what the next writer sweeps.
const BEGUN: &str = ".unfinished-book";

/// Writes the files of `starter` into `dir`; all of them, or, after an error, none.
pub(super) fn create(dir: &Path, starter: Starter) -> Result<()> {
    check_free(dir)?;
    let mut contents: Vec<(&str, Vec<u8>)> = match starter {
        Starter::Demo => MATERIALS.iter().chain(DEMO).map(copied).collect(),
        Starter::Materials => {
            let mut contents: Vec<_> = MATERIALS.iter().map(copied).collect();
            contents.push((swatches::SWATCHES, swatches::header().into_bytes()));
            contents
        }
    };
    // The settings come last: until then the folder is no book.
    contents.sort_by_key(|(name, _)| *name == SETTINGS);
    if let (Starter::Materials, Some((_, content))) = (starter, contents.last_mut()) {
        let text = settings::renamed(&String::from_utf8_lossy(content), &name_for(dir))?;
        *content = text.into_bytes();
    }
    let mut made = Made::default();
    // Until the book is whole this says that what stands here is its beginning, and may be written again.
    let begun = dir.join(BEGUN);
    let outcome = made.write(&begun, b"").and_then(|()| {
        contents
            .iter()
            .try_for_each(|(name, content)| made.write(&dir.join(name), content))
    });
    match outcome {
        Ok(()) => {
            // The book is whole: this goes, and what another left that was killed over it.
            changes::sweep(dir);
            Ok(())
        }
        Err(error) => {
            made.undo();
            Err(error)
        }
    }
}

fn copied(file: &(&'static str, &'static [u8])) -> (&'static str, Vec<u8>) {
    (file.0, file.1.to_vec())
}

fn check_free(dir: &Path) -> Result<()> {
    if holds_book(dir) {
        return Err(Error::input("a swatch book is here already")
            .mend("choose another folder for the new one")
            .in_file(dir));
    }
    if dir.join(BEGUN).is_file() {
        return Ok(());
    }
    let entries = match fs::read_dir(dir) {
        Ok(entries) => entries,
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(cause) if cause.kind() == io::ErrorKind::NotADirectory => {
            return Err(
                Error::input("this is a file; expected a folder, or nothing yet")
                    .mend("choose another name for the book")
                    .in_file(dir),
            );
        }
        Err(cause) => return Err(Error::machine("read", dir, cause)),
    };
    for entry in entries {
        let name = entry
            .map_err(|cause| Error::machine("read", dir, cause))?
            .file_name();
        if !name.as_encoded_bytes().starts_with(b".") {
            let found = name.to_string_lossy();
            let finding = format!(
                "the folder is not empty: it holds `{}`",
                found.escape_debug()
            );
            return Err(Error::input(finding)
                .mend("choose a new or an empty folder for the book")
                .in_file(dir));
        }
    }
    Ok(())
}

/// The book's name: that of its folder, where it can be shown.
fn name_for(dir: &Path) -> String {
    let whole = dir.canonicalize();
    let name = whole.as_deref().unwrap_or(dir).file_name();
    let name = name.map(|name| name.to_string_lossy().into_owned());
    name.filter(|name| check_name("name", name).is_ok())
        .unwrap_or_else(|| "swatch book".to_owned())
}

/// What has been made so far, in order.
#[derive(Default)]
struct Made {
    folders: Vec<PathBuf>,
    files: Vec<PathBuf>,
}

impl Made {
    fn write(&mut self, path: &Path, content: &[u8]) -> Result<()> {
        if let Some(folder) = path.parent() {
            self.make_folder(folder)
                .map_err(|cause| Error::machine("make the folder of", path, cause))?;
        }
        write::write_whole(path, content)?;
        self.files.push(path.to_owned());
        Ok(())
    }

    fn make_folder(&mut self, folder: &Path) -> io::Result<()> {
        if folder.as_os_str().is_empty() || folder.is_dir() {
            return Ok(());
        }
        if let Some(parent) = folder.parent() {
            self.make_folder(parent)?;
        }
        fs::create_dir(folder)?;
        self.folders.push(folder.to_owned());
        Ok(())
    }

    /// Takes it all away again, as far as the machine lets it; the error that led here is the one to tell.
    fn undo(self) {
        for file in self.files {
            let _ = fs::remove_file(file);
        }
        for folder in self.folders.iter().rev() {
            let _ = fs::remove_dir(folder);
        }
    }
}
