//! Documents of ours, which take the place of nothing but their like.

use std::fs::File;
use std::io::Read as _;
use std::path::Path;

use super::files::holds_book;
use super::lock::lock;
use super::write::{folder_of, write_whole};
use crate::error::{Error, Mend, Result, Setting};

/// What tells documents of ours from any other: the head of each holds one of these.
const MARKS: [&str; 5] = [
    r#""written_by":"dropwise""#,
    r#"<meta name="generator" content="dropwise"#,
    r#"ORIGINATOR "dropwise"#,
    "<metadata>generator: dropwise",
    "tEXtSoftware\0dropwise",
];

/// Bytes of a document's head in which its mark stands.
const HEAD_BYTES: usize = 4096;

/// The mark in the head of `document`, if it is one of ours.
fn mark(document: &[u8]) -> Option<&'static str> {
    let head = &document[..document.len().min(HEAD_BYTES)];
    let holds = |mark: &&&str| {
        let mut windows = head.windows(mark.len());
        windows.any(|window| window == mark.as_bytes())
    };
    MARKS.iter().find(holds).copied()
}

/// Writes `content`, a document of ours, to `path`, where nothing stands or an earlier one of its kind, told by its mark: an
/// answer never takes the place of a book's table, of an instrument's file or of a page of the user's own.
///
/// # Errors
/// Something else stands there, which [`replace_document`] would replace; the file cannot be written, and is then as it was.
pub fn write_document(path: &Path, content: impl AsRef<[u8]>) -> Result<()> {
    let content = content.as_ref();
    // A device is written to as it is.
    if path.is_file() {
        let mut old = Vec::new();
        let read =
            File::open(path).and_then(|file| file.take(HEAD_BYTES as u64).read_to_end(&mut old));
        let is_older = mark(&old).is_some_and(|old| Some(old) == mark(content));
        if read.is_err() || !(old.is_empty() || is_older) {
            let mend = Mend::from("choose another name, or replace it with ").set(Setting::Force);
            return Err(Error::input(
                "something else stands in this file, which was not written by dropwise",
            )
            .mend(mend)
            .in_file(path));
        }
    }
    replace_document(path, content)
}

/// Writes `content` to `path`, whatever stands there. Where that is a book, no one else writes to it meanwhile.
///
/// # Errors
/// The file cannot be written, and is then as it was.
pub fn replace_document(path: &Path, content: impl AsRef<[u8]>) -> Result<()> {
    let folder = folder_of(path);
    let _lock = holds_book(folder).then(|| lock(folder)).transpose()?;
    write_whole(path, content.as_ref())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn only_what_is_marked_as_ours_gives_way() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("readings.txt");
        let ours = "CGATS.17\nORIGINATOR \"dropwise 1\"\n";
        write_document(&path, ours).expect("nothing stands there");
        write_document(&path, ours).expect("an earlier one");
        for other in [
            "CGATS.17\nORIGINATOR \"an instrument\"\n",
            "<!DOCTYPE html><title>dropwise</title>",
            "{\"written_by\":\"dropwise\"}",
        ] {
            fs::write(&path, other).expect("written");
            let error = write_document(&path, ours).expect_err(other);
            assert!(error.is_input(), "{error}");
            let kept = fs::read_to_string(&path).expect("there");
            assert_eq!(kept, other, "as it was");
        }
        replace_document(&path, ours).expect("whatever stands there");
        assert_eq!(fs::read_to_string(&path).expect("there"), ours, "replaced");
    }
}
