//! Which state a book is in, told without reading it: so that who looked at it before sees that others have written since.

use std::fs;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::path::Path;
use std::time::SystemTime;

use super::clocks::CLOCKS;

/// The state of the book in `folder`: its tables, its settings and its parts, by name, size and time of their last change. Times of
/// the clock on the wall are no state of a book, so that one that is begun makes no screen old.
pub(super) fn of(folder: &Path) -> String {
    let mut files: Vec<(String, u64, Option<SystemTime>)> = Vec::new();
    for of_it in [folder.to_owned(), folder.join("parts")] {
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
    let mut hasher = DefaultHasher::new();
    files.hash(&mut hasher);
    format!("{:016x}", hasher.finish())
}
