//! Which state a book is in, told without reading it: so that who looked at it before sees that others have written since.

use std::fs;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::path::Path;
use std::time::{Duration, SystemTime};

use super::changes::is_half_written;
use super::clocks::CLOCKS;

/// How long ago a file must have been changed for another change to show: the file system's clock has steps.
const STEP: Duration = Duration::from_millis(100);

/// The state of the book in `folder`: its tables, its settings, its curves and its parts, by name, size and time of their last
/// change. Times of the clock on the wall are no state of a book, so that one that is begun makes no screen old.
pub(super) fn of(folder: &Path) -> String {
    told(&files(folder))
}

/// The same where it tells the book for sure: `None` while a change is so young that the next might not show, or waits to be ended.
pub(super) fn settled(folder: &Path) -> Option<String> {
    let files = files(folder);
    let is_old = |changed: &Option<SystemTime>| {
        changed.is_some_and(|changed| changed.elapsed().is_ok_and(|ago| ago > STEP))
    };
    let is_settled = files.iter().all(|(_, _, changed)| is_old(changed));
    (is_settled && !is_half_written(folder)).then(|| told(&files))
}

/// A file of a book's state: name, size and time of its last change.
type About = (String, u64, Option<SystemTime>);

/// The state that these files are in, in a word.
fn told(files: &[About]) -> String {
    let mut hasher = DefaultHasher::new();
    files.hash(&mut hasher);
    format!("{:016x}", hasher.finish())
}

/// The files of a book's state.
fn files(folder: &Path) -> Vec<About> {
    let mut files: Vec<About> = Vec::new();
    for of_it in ["", "parts", "spectra"].map(|within| folder.join(within)) {
        let entries = fs::read_dir(&of_it).into_iter().flatten().flatten();
        files.extend(entries.filter_map(|entry| {
            let name = entry.file_name().to_string_lossy().into_owned();
            let is_state = name.ends_with(".csv") || name.ends_with(".toml");
            // What is being written beside a file stands under a name with a point before it.
            if !is_state || name.starts_with('.') || name == CLOCKS {
                return None;
            }
            let about = entry.metadata().ok()?;
            Some((name, about.len(), about.modified().ok()))
        }));
    }
    files.sort();
    files
}
