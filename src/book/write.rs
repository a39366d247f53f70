//! Files that change whole or not at all.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write as _};
use std::path::Path;

use tempfile::NamedTempFile;

use super::ending::Writing;
use super::files::check_no_dangling_link;
use crate::error::{Error, Result};

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
    check_may_write(path)?;
    let _writing = Writing::begin();
    let written = match fs::metadata(path) {
        Ok(old) if !old.is_file() => {
            let opened = OpenOptions::new().write(true).open(path);
            opened.and_then(|mut stream| stream.write_all(contents))
        }
        _ => replace(path, |file| file.write_all(contents)),
    };
    written.map_err(|cause| Error::machine("write", path, cause))
}

/// Refuses what cannot be a file to write: a folder, a link to nothing, a name in a folder that is not there.
pub(super) fn check_may_write(path: &Path) -> Result<()> {
    check_no_dangling_link(path)?;
    if path.is_dir() {
        return Err(Error::input("this is a folder; expected the name of a file").in_file(path));
    }
    let folder = folder_of(path);
    if !folder.is_dir() {
        let finding = format!("there is no folder `{}` to write to", folder.display());
        return Err(Error::input(finding)
            .mend("make it first, or check the name")
            .in_file(path));
    }
    Ok(())
}

/// The folder that the file at `path` lies in.
pub(super) fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

fn replace(path: &Path, fill: impl FnOnce(&mut File) -> io::Result<()>) -> io::Result<()> {
    let linked = path.canonicalize();
    let path = linked.as_deref().unwrap_or(path);
    let folder = folder_of(path);
    unfinished(path, folder, fill)?
        .persist(path)
        .map_err(|error| error.error)?;
    sync(folder);
    Ok(())
}

/// How the names of files begin that are being written.
pub(super) const UNFINISHED: &str = ".unfinished-";

/// A file in `folder` that `fill` has filled, with the permissions of what stands at `path`, whose place it is to take. It is on
/// the disk.
pub(super) fn unfinished(
    path: &Path,
    folder: &Path,
    fill: impl FnOnce(&mut File) -> io::Result<()>,
) -> io::Result<NamedTempFile> {
    let old = fs::metadata(path).ok().map(|old| old.permissions());
    if old.as_ref().is_some_and(fs::Permissions::readonly) {
        let finding = "it is marked read-only";
        return Err(io::Error::new(io::ErrorKind::PermissionDenied, finding));
    }
    let mut builder = tempfile::Builder::new();
    builder.prefix(UNFINISHED);
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
    Ok(unfinished)
}

/// Puts the finished file at `from` in the place of what stands at `path`, or of what a link there points at.
pub(super) fn put(from: &Path, path: &Path) -> io::Result<()> {
    let linked = path.canonicalize();
    let path = linked.as_deref().unwrap_or(path);
    fs::rename(from, path)?;
    sync(folder_of(path));
    Ok(())
}

/// Asks that the names in `folder` outlive a power cut; it can only be asked for.
pub(super) fn sync(folder: &Path) {
    #[cfg(unix)]
    let _ = File::open(folder).and_then(|folder| folder.sync_all());
    #[cfg(not(unix))]
    let _ = folder;
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
