//! Writes the starter book's spectra from physics: pigments by Mie theory from published optical
//! constants and painted patches, bases and cards as smooth stand-ins.
//!
//! ```text
//! cargo run --example starter_pigments -- swatches/spectra           write the files
//! cargo run --example starter_pigments -- --check swatches/spectra   exit 1 if one differs
//! ```
//!
//! What flows: `tables` (measured data) and `patch` (constants from a painted patch) →
//! `particles` (grains by `mie` over `size`; soot by `aggregate`) → `dispersion` (per gram, with
//! spread) → `book_files` (text). The list of pigments, and what to edit, is `catalogue`.

#![expect(clippy::print_stderr, reason = "a program speaks to whoever runs it")]

use std::error::Error;
use std::fs;
use std::path::Path;
use std::process::ExitCode;

use book_files::BookFile;

mod aggregate;
mod bases;
mod book_files;
mod catalogue;
mod dispersion;
mod grid;
mod mie;
mod particles;
mod patch;
mod size;
mod tables;

const USAGE: &str = "usage: starter_pigments [--check] DIR";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let outcome = match arguments.as_slice() {
        ["--check", folder] if !folder.starts_with('-') => check(Path::new(folder)),
        [folder] if !folder.starts_with('-') => write(Path::new(folder)),
        _ => {
            eprintln!("{USAGE}");
            return ExitCode::from(2);
        }
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("starter_pigments: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Writes every file, each whole or not at all.
fn write(folder: &Path) -> Result<(), Box<dyn Error>> {
    let files = book_files::all()?;
    fs::create_dir_all(folder).map_err(|error| at(folder, &error))?;
    for BookFile { name, text } in files {
        let path = folder.join(&name);
        let unfinished = folder.join(format!(".{name}.part"));
        fs::write(&unfinished, text)
            .and_then(|()| fs::rename(&unfinished, &path))
            .map_err(|error| at(&path, &error))?;
    }
    Ok(())
}

/// Compares every file with the one in the folder; the first that differs is the error.
fn check(folder: &Path) -> Result<(), Box<dyn Error>> {
    for BookFile { name, text } in book_files::all()? {
        let path = folder.join(name);
        let found = fs::read_to_string(&path).map_err(|error| at(&path, &error))?;
        if let Some(line) = first_difference(&found, &text) {
            return Err(format!(
                "{}:{line}: differs from what the catalogue gives; write the folder anew without --check",
                path.display()
            )
            .into());
        }
    }
    Ok(())
}

/// Number of the first line in which two texts differ.
fn first_difference(found: &str, expected: &str) -> Option<usize> {
    if found == expected {
        return None;
    }
    let same = found
        .lines()
        .zip(expected.lines())
        .take_while(|(found, expected)| found == expected)
        .count();
    Some(same + 1)
}

fn at(path: &Path, error: &std::io::Error) -> String {
    format!("{}: {error}", path.display())
}

#[cfg(test)]
mod tests {
    use super::{check, first_difference, write};
    use std::fs;

    #[test]
    fn the_line_that_differs_is_named() {
        assert_eq!(first_difference("a\nb\n", "a\nb\n"), None, "the same text");
        assert_eq!(
            first_difference("a\nb\n", "a\nc\n"),
            Some(2),
            "another line"
        );
        assert_eq!(first_difference("a\n", "a\nb\n"), Some(2), "a line too few");
    }

    #[test]
    fn a_folder_just_written_passes_the_check_and_a_changed_one_fails_it_by_name() {
        let folder = std::env::temp_dir().join(format!("starter-pigments-{}", std::process::id()));
        write(&folder).expect("the folder can be written");
        check(&folder).expect("nothing has changed");

        let changed = folder.join("umber.csv");
        let text = fs::read_to_string(&changed).expect("the file was written");
        fs::write(&changed, text.replace("\n400,", "\n401,")).expect("the file can be written");
        let message = check(&folder).expect_err("a line has changed").to_string();
        fs::remove_dir_all(&folder).expect("the folder is ours");
        assert!(message.contains("umber.csv:4:"), "{message}");
    }
}
