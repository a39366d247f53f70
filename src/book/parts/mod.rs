//! `parts/NAME.toml`: the parts that are kept by name, one file a part.
//!
//! The file's name is the part's, so that no two have one name, and a part is renamed with its file. What is asked of it, what
//! is poured, and what became of it stand there as a hand writes them: mixes as in a notebook, dates, words. A file that is
//! written again keeps its comments, its order and the user's own keys; only values that have changed are touched. Every
//! value is checked on reading, with line and column; names of pigments and bases only where they are needed, since a bottle
//! may leave the shelf long after.
//!
//! Whoever keeps a part does it by the book, under its lock: [`Book::part`](super::Book::part) reads one,
//! [`Book::keep_part`](super::Book::keep_part) keeps a new one, [`Book::change_part`](super::Book::change_part) has one
//! changed as it stands at that moment, and [`Book::log_casting`](super::Book::log_casting) logs a reading of one and has the
//! casting noted in one go.

#[cfg(test)]
mod checks;
mod layout;
mod name;
mod read;
mod write;

use std::fs;
use std::path::Path;

use super::changes::Changes;
use super::files::Files;
use crate::error::{Error, Result};
use crate::materials::Shelf;
use crate::recipe::Part;
use name::{ENDING, FOLDER, check_clashes, check_name, file_of};
pub(super) use read::Needed;

/// The names of all parts, in the order of the alphabet; none in the demo.
///
/// # Errors
/// Two names that differ in case alone; a folder that cannot be read.
pub(super) fn names(files: &Files) -> Result<Vec<String>> {
    let folder = match files {
        Files::Folder(folder) | Files::Supposed { folder, .. } => folder.join(FOLDER),
        Files::Demo => return Ok(Vec::new()),
    };
    if !folder.is_dir() {
        return Ok(Vec::new());
    }
    let failed = |cause| Error::machine("read", &folder, cause);
    let mut names = Vec::new();
    for entry in fs::read_dir(&folder).map_err(failed)? {
        let file = entry.map_err(failed)?.file_name();
        let name = file.to_str().and_then(|file| file.strip_suffix(ENDING));
        names.extend(
            name.filter(|name| !name.starts_with('.'))
                .map(str::to_owned),
        );
    }
    names.sort();
    check_clashes(files, &names)?;
    Ok(names)
}

/// The name of the part that is meant by `name`: that one, or the only one that is written so but for its case.
///
/// # Errors
/// No such part; the nearest name is suggested.
fn known_name(files: &Files, name: &str) -> Result<String> {
    let names = names(files)?;
    let lower = name.to_lowercase();
    let meant = names.iter().find(|known| known.to_lowercase() == lower);
    meant
        .cloned()
        .ok_or_else(|| Error::unknown_name("part", name, names.iter().map(String::as_str)))
}

/// The part called `name`, with the names that are `needed` of it on the shelf.
///
/// # Errors
/// No such part; the first thing that is wrong in its file, with its place.
pub(super) fn read(files: &Files, shelf: &Shelf, name: &str, needed: Needed) -> Result<Part> {
    let name = known_name(files, name)?;
    let file = file_of(&name);
    let text = files.text(&file)?;
    read::part(&name, &text, shelf, needed).map_err(|error| error.in_file(files.label(&file)))
}

/// Refuses `name` for a new part.
///
/// # Errors
/// What no file can be called; a part of that name.
pub(super) fn check_free(files: &Files, name: &str) -> Result<()> {
    check_name(name)?;
    match known_name(files, name) {
        Ok(known) => {
            let finding = format!("a part is called `{}` already", known.escape_debug());
            Err(Error::input(finding).in_file(files.label(&file_of(&known))))
        }
        Err(_) => names(files).map(|_| ()),
    }
}

/// Puts `part` among `changes`; comments of a file that stands there are kept.
///
/// # Errors
/// A part that could not be read back.
pub(super) fn put(changes: &mut Changes, shelf: &Shelf, part: &Part) -> Result<()> {
    let file = file_of(&part.name);
    let text = write::text(part, changes.files.find(&file)?.as_deref())?;
    // What is written can be read again.
    read::part(&part.name, &text, shelf, Needed::Nothing)
        .map_err(|error| error.without_place().within("the part"))?;
    changes.put(file, text);
    Ok(())
}

/// Takes the file of `part` away from `folder`, whose lock is held.
///
/// # Errors
/// A failure of the machine.
pub(super) fn remove(folder: &Path, part: &Part) -> Result<()> {
    let path = folder.join(file_of(&part.name));
    fs::remove_file(&path).map_err(|cause| Error::machine("remove", &path, cause))
}
