//! A change of several files of a book that comes to be whole or not at all, whenever the power fails or the program is
//! killed.
//!
//! Its texts are first written to files beside the book's own and onto the disk, then a list of them is put in place by one
//! rename: from then on the change is made. Only then do the files take their places, one by one, and last the list goes.
//! Whoever next holds the book's lock finds the list of a change that was cut short, and ends it; what was cut before the
//! list stood is swept away.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;

use super::files::{Files, check_within_book};
use super::write::{self, UNFINISHED};
use crate::error::{Error, Result};

/// The list of a change that is made, and perhaps not yet everywhere: a line a file, what it lies in and what it is to be.
const LIST: &str = ".half-written";

/// What a change is about to write.
pub(super) struct Changes {
    texts: BTreeMap<String, String>,
    /// The book as it would be.
    pub(super) files: Files,
}

impl Changes {
    /// None yet, of the book in `folder`, whose lock is held.
    pub(super) fn of(folder: &Path) -> Self {
        Self {
            texts: BTreeMap::new(),
            files: Files::Supposed {
                folder: folder.to_owned(),
                texts: std::collections::HashMap::new(),
            },
        }
    }

    /// Has `text` stand in the file `name`, a path with `/` from the book's folder.
    pub(super) fn put(&mut self, name: impl Into<String>, text: String) {
        let name = name.into();
        if let Files::Supposed { texts, .. } = &mut self.files {
            texts.insert(name.clone(), text.clone());
        }
        self.texts.insert(name, text);
    }

    /// Writes them all to the book in `folder`, whose lock is held.
    ///
    /// # Errors
    /// A failure of the machine. Before the list stands the book is then as it was; after that the error says that the next
    /// command ends the change.
    pub(super) fn write(self, folder: &Path) -> Result<()> {
        let mut texts = self.texts.into_iter();
        if texts.len() < 2 {
            return texts.try_for_each(|(name, text)| {
                make_folder_of(folder, &name)?;
                write::write_whole(&folder.join(name), text.as_bytes())
            });
        }
        let mut ready = Vec::new();
        let mut list = String::new();
        for (name, text) in texts {
            make_folder_of(folder, &name)?;
            let path = folder.join(&name);
            write::check_may_write(&path)?;
            let unfinished = write::unfinished(&path, folder, |file| {
                io::Write::write_all(file, text.as_bytes())
            })
            .map_err(|cause| Error::machine("write", &path, cause))?;
            let lies_in = unfinished.path().file_name().unwrap_or_default();
            list += &format!("{}\t{name}\n", lies_in.to_string_lossy());
            ready.push(unfinished.into_temp_path());
        }
        write::write_whole(&folder.join(LIST), list.as_bytes())?;
        for unfinished in ready {
            // It is the list's now, and no longer goes when this ends.
            unfinished
                .keep()
                .map_err(|kept| Error::machine("write", folder, kept.error))?;
        }
        end(folder)
    }
}

fn make_folder_of(folder: &Path, name: &str) -> Result<()> {
    let path = folder.join(name);
    match path.parent() {
        Some(parent) if !parent.is_dir() => fs::create_dir_all(parent)
            .map_err(|cause| Error::machine("make the folder of", &path, cause)),
        _ => Ok(()),
    }
}

/// Whether a change of the book in `folder` was made, and perhaps not everywhere.
pub(super) fn is_half_written(folder: &Path) -> bool {
    folder.join(LIST).exists()
}

/// Ends a change that was cut short, if there is one, in the book in `folder`, whose lock is held.
///
/// # Errors
/// A failure of the machine, or a list that is none; the list then stays.
pub(super) fn end(folder: &Path) -> Result<()> {
    let path = folder.join(LIST);
    let list = match fs::read_to_string(&path) {
        Ok(list) => list,
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(cause) => return Err(unended(folder, cause)),
    };
    for (line, text) in (1..).zip(list.lines()) {
        let parts = text.split_once('\t').filter(|(lies_in, name)| {
            lies_in.starts_with(UNFINISHED) && !lies_in.contains('/') && !name.is_empty()
        });
        let Some((lies_in, name)) = parts else {
            return Err(
                Error::input("this is no list of a change that was cut short")
                    .mend("take this file away, and calibrate the book again")
                    .at(line, None)
                    .in_file(&path),
            );
        };
        check_within_book(name).map_err(|error| error.at(line, None).in_file(&path))?;
        let from = folder.join(lies_in);
        // Those that are no longer there have taken their places.
        if from.exists() {
            write::put(&from, &folder.join(name)).map_err(|cause| unended(folder, cause))?;
        }
    }
    write::sync(folder);
    fs::remove_file(&path).map_err(|cause| unended(folder, cause))
}

fn unended(folder: &Path, cause: io::Error) -> Error {
    Error::machine("end a change that was cut short in", folder, cause)
}

/// Takes away what writers left that were killed, in the book in `folder`, whose lock is held, and in which no change waits to
/// be ended. What cannot be taken away stays: it harms nobody.
pub(super) fn sweep(folder: &Path) {
    for within in [
        "",
        "spectra",
        "spectra/first-guess",
        "spectra/earlier",
        "lights",
        "parts",
    ] {
        let Ok(entries) = fs::read_dir(folder.join(within)) else {
            continue;
        };
        for entry in entries.flatten() {
            let is_left = entry.file_name().to_string_lossy().starts_with(UNFINISHED);
            if is_left && entry.file_type().is_ok_and(|kind| kind.is_file()) {
                let _ = fs::remove_file(entry.path());
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).expect("a folder");
        let names = entries.map(|entry| entry.expect("an entry").file_name());
        let mut names: Vec<String> = names.map(|name| name.to_string_lossy().into()).collect();
        names.sort();
        names
    }

    #[test]
    fn a_change_cut_short_is_ended_by_the_next_and_leaves_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        let at = |name: &str| folder.path().join(name);
        fs::write(at("a.csv"), "new a").expect("written");
        fs::write(at("b.csv"), "old b").expect("written");
        // As it is when the program was killed between the two renames.
        fs::write(at(".unfinished-2"), "new b").expect("written");
        fs::write(at(LIST), ".unfinished-1\ta.csv\n.unfinished-2\tb.csv\n").expect("written");
        assert!(is_half_written(folder.path()), "it can be told");
        end(folder.path()).expect("ended");
        assert_eq!(fs::read(at("b.csv")).expect("there"), b"new b", "the rest");
        assert_eq!(names(folder.path()), ["a.csv", "b.csv"], "nothing left");
    }

    #[test]
    fn a_change_of_several_files_comes_to_be_and_what_was_left_is_swept() {
        let folder = tempfile::tempdir().expect("a folder");
        fs::write(folder.path().join(".unfinished-xyz"), "half").expect("written");
        let mut changes = Changes::of(folder.path());
        changes.put("a.csv", "a".to_owned());
        changes.put("spectra/b.csv", "b".to_owned());
        let seen = changes.files.find("spectra/b.csv").expect("readable");
        assert_eq!(seen.as_deref(), Some("b"), "seen before it is written");
        changes.write(folder.path()).expect("written");
        sweep(folder.path());
        assert_eq!(names(folder.path()), ["a.csv", "spectra"], "and no more");
        let text = fs::read(folder.path().join("spectra/b.csv"));
        assert_eq!(text.expect("there"), b"b");
    }

    #[test]
    fn a_list_that_leads_out_of_the_book_is_refused() {
        let folder = tempfile::tempdir().expect("a folder");
        fs::write(folder.path().join(".unfinished-1"), "x").expect("written");
        for list in [".unfinished-1\t../a.csv\n", "a.csv\tb.csv\n", "words\n"] {
            fs::write(folder.path().join(LIST), list).expect("written");
            let error = end(folder.path()).expect_err(list);
            assert!(error.is_input(), "{error}");
        }
        assert!(!folder.path().join("../a.csv").exists(), "nothing outside");
    }
}
