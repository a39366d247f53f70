//! Files that change whole or not at all, and one writer at a time.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read as _, Write as _};
use std::path::Path;

use super::files::check_no_dangling_link;
use crate::error::{Error, Mend, Result, Setting};

/// The lock's file in a book; it is empty, stays where it is, and says nothing by being there.
const LOCK: &str = ".lock";

/// Writes `contents` to the file at `path`, new or in place of the old one.
///
/// They go to a temporary file in the same folder, onto the disk, and are then renamed, so that at every
/// moment `path` holds all of the old or all of the new. The old file's permissions are kept, and a
/// symbolic link goes on pointing at its file. A pipe or a device, which has nothing to lose, is written to.
///
/// # Errors
/// A folder that isn't there, or one in the file's place; the folder or the disk refuses, or the old file is
/// marked read-only. The old file is then as it was.
pub fn write_whole(path: &Path, contents: &[u8]) -> Result<()> {
    check_no_dangling_link(path)?;
    let old = fs::metadata(path).ok();
    if old.as_ref().is_some_and(fs::Metadata::is_dir) {
        return Err(Error::input("this is a folder; expected the name of a file").in_file(path));
    }
    let folder = folder_of(path);
    if !folder.is_dir() {
        let finding = format!("there is no folder `{}` to write to", folder.display());
        return Err(Error::input(finding)
            .mend("make it first, or check the name")
            .in_file(path));
    }
    let written = match old {
        Some(old) if !old.is_file() => {
            let opened = OpenOptions::new().write(true).open(path);
            opened.and_then(|mut stream| stream.write_all(contents))
        }
        _ => replace(path, |file| file.write_all(contents)),
    };
    written.map_err(|cause| Error::machine("write", path, cause))
}

/// The folder that the file at `path` lies in.
fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

fn replace(path: &Path, fill: impl FnOnce(&mut File) -> io::Result<()>) -> io::Result<()> {
    let linked = path.canonicalize();
    let path = linked.as_deref().unwrap_or(path);
    let old = fs::metadata(path).ok().map(|old| old.permissions());
    if old.as_ref().is_some_and(fs::Permissions::readonly) {
        let finding = "it is marked read-only";
        return Err(io::Error::new(io::ErrorKind::PermissionDenied, finding));
    }
    let folder = folder_of(path);
    let mut builder = tempfile::Builder::new();
    builder.prefix(".unfinished-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // What any new file gets; the process's umask takes its part away.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    // Without the temporary name, which says nothing to the user.
    let mut unfinished = builder
        .tempfile_in(folder)
        .map_err(|cause| io::Error::from(cause.kind()))?;
    fill(unfinished.as_file_mut())?;
    if let Some(old) = old {
        unfinished.as_file().set_permissions(old)?;
    }
    unfinished.as_file().sync_all()?;
    unfinished.persist(path).map_err(|error| error.error)?;
    // The new file is in place; that its name outlives a power cut can only be asked for.
    #[cfg(unix)]
    let _ = File::open(folder).and_then(|folder| folder.sync_all());
    Ok(())
}

/// Waits until no one else writes to the book in `folder`, and keeps others waiting until dropped.
pub(super) fn lock(folder: &Path) -> Result<File> {
    let path = folder.join(LOCK);
    let file = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&path);
    file.and_then(|file| file.lock().map(|()| file))
        // The user knows the book, and not its lock.
        .map_err(|cause| Error::machine("write to", folder, cause))
}

/// What tells documents of ours from any other: the head of each holds one of these.
const MARKS: [&str; 3] = [
    r#""written_by":"dropwise""#,
    r#"<meta name="generator" content="dropwise"#,
    r#"ORIGINATOR "dropwise"#,
];

/// Bytes of a document's head in which its mark stands.
const HEAD_BYTES: u64 = 4096;

/// The mark in the head of `document`, if it is one of ours.
fn mark(document: &[u8]) -> Option<&'static str> {
    let head = &document[..document.len().min(HEAD_BYTES as usize)];
    let holds = |mark: &&&str| {
        let mut windows = head.windows(mark.len());
        windows.any(|window| window == mark.as_bytes())
    };
    MARKS.iter().find(holds).copied()
}

/// Writes `text`, a document of ours, to `path`, where nothing stands or an earlier one of its kind, told by its mark: an
/// answer never takes the place of a book's table, of an instrument's file or of a page of the user's own.
///
/// # Errors
/// Something else stands there, which [`write_whole`] would replace; the file cannot be written, and is then as it was.
pub fn write_document(path: &Path, text: &str) -> Result<()> {
    // A device is written to as it is.
    if path.is_file() {
        let mut old = Vec::new();
        let read = File::open(path).and_then(|file| file.take(HEAD_BYTES).read_to_end(&mut old));
        let is_older = mark(&old).is_some_and(|old| Some(old) == mark(text.as_bytes()));
        if read.is_err() || !(old.is_empty() || is_older) {
            let mend = Mend::from("choose another name, or replace it with ").set(Setting::Force);
            return Err(Error::input(
                "something else stands in this file, which was not written by dropwise",
            )
            .mend(mend)
            .in_file(path));
        }
    }
    write_whole(path, text.as_bytes())
}

/// `<stem>-<n>.csv`, with the first number that no file in `folder` has.
pub(super) fn free_name(folder: &Path, stem: &str) -> String {
    let mut number = 1;
    loop {
        let name = format!("{stem}-{number}.csv");
        if fs::symlink_metadata(folder.join(&name)).is_err() {
            return name;
        }
        number += 1;
    }
}

/// `name` in signs that every disk takes.
pub(super) fn plain(name: &str) -> String {
    let sign = |c: char| {
        if c.is_alphanumeric() || c == '_' {
            c
        } else {
            '-'
        }
    };
    name.chars().map(sign).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).expect("a folder");
        let names = entries.map(|entry| entry.expect("an entry").file_name());
        names.map(|name| name.to_string_lossy().into()).collect()
    }

    #[test]
    fn a_write_that_fails_half_way_leaves_the_old_file_whole_and_nothing_else() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("swatches.csv");
        write_whole(&path, b"old").expect("written");
        let full_disk = replace(&path, |file| {
            file.write_all(b"half")?;
            Err(io::Error::from(io::ErrorKind::StorageFull))
        });
        assert!(full_disk.is_err(), "the failure is told");
        assert_eq!(fs::read(&path).expect("still there"), b"old", "untouched");
        assert_eq!(names(folder.path()), ["swatches.csv"], "nothing left over");
    }

    #[test]
    fn what_must_not_be_replaced_is_not() {
        let folder = tempfile::tempdir().expect("a folder");
        let taken = folder.path().join("taken");
        fs::create_dir(&taken).expect("a folder in the file's place");
        let error = write_whole(&taken, b"new").expect_err("a folder");
        assert!(error.is_input(), "{error}");
        let error = write_whole(&folder.path().join("none/x.csv"), b"new").expect_err("no folder");
        assert!(error.is_input(), "{error}");
        let path = folder.path().join("fixed.csv");
        write_whole(&path, b"old").expect("written");
        let mut fixed = fs::metadata(&path).expect("there").permissions();
        fixed.set_readonly(true);
        fs::set_permissions(&path, fixed).expect("marked");
        let error = write_whole(&path, b"new")
            .expect_err("read-only")
            .to_string();
        let end = "fixed.csv: cannot write this file: it is marked read-only";
        assert!(error.contains(end), "{error}");
        assert_eq!(fs::read(&path).expect("still there"), b"old", "untouched");
        assert_eq!(names(folder.path()).len(), 2, "nothing left over");
    }

    #[cfg(unix)]
    #[test]
    fn permissions_and_links_are_kept() {
        use std::os::unix::fs::PermissionsExt as _;
        let folder = tempfile::tempdir().expect("a folder");
        let (path, link) = (
            folder.path().join("real.csv"),
            folder.path().join("link.csv"),
        );
        write_whole(&path, b"old").expect("written");
        fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).expect("set");
        std::os::unix::fs::symlink(&path, &link).expect("linked");
        write_whole(&link, b"new").expect("written through the link");
        assert_eq!(fs::read(&path).expect("there"), b"new", "the linked file");
        assert!(link.is_symlink(), "the link is still one");
        let mode = fs::metadata(&path).expect("there").permissions().mode();
        assert_eq!(mode & 0o777, 0o640, "as it was");
    }
}
