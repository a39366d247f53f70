//! The one way in which a file that a user named is read: never more of it than its kind can hold, and never for ever.

use std::fs::{self, File};
use std::io::{self, Read as _};
use std::path::Path;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use super::waiting::waits_for;
use super::{Error, Result};

/// What a file is, and so how much it may hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum FileKind {
    /// Settings, a target, a part: what a hand or this program writes.
    Document,
    /// A table, or the readings of an instrument.
    Table,
    /// A photograph.
    #[cfg(feature = "photo")]
    Picture,
}

impl FileKind {
    /// The most bytes that such a file may hold.
    pub(crate) fn most_bytes(self) -> u64 {
        const MIB: u64 = 1 << 20;
        match self {
            Self::Document => 4 * MIB,
            Self::Table => 32 * MIB,
            #[cfg(feature = "photo")]
            Self::Picture => 1024 * MIB,
        }
    }
}

/// How long a pipe may be silent before it is said what is waited for, and before it is given up.
const SAY_AFTER: Duration = Duration::from_millis(500);
const GIVE_UP_AFTER: Duration = Duration::from_secs(10);

/// Bytes that are read at a time from what is no file.
const CHUNK: usize = 64 << 10;

/// All bytes of the file at `path`, which is a `kind`.
///
/// # Errors
/// No such file, a folder; more bytes than such a file holds; a pipe from which nothing comes for ten seconds. The machine's
/// where it cannot be read.
pub(crate) fn read(path: &Path, kind: FileKind) -> Result<Vec<u8>> {
    if is_stream(path, kind)? {
        return read_stream(path, kind);
    }
    let most = kind.most_bytes();
    let read = || -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        // It may have grown since it was measured.
        File::open(path)?.take(most + 1).read_to_end(&mut bytes)?;
        Ok(bytes)
    };
    let bytes = read().map_err(|cause| Error::unreadable(path, cause))?;
    check_size(path, bytes.len() as u64, kind)?;
    Ok(bytes)
}

/// The file at `path`, opened, which is a `kind` and holds no more than it may.
///
/// # Errors
/// As [`read`]; a pipe or a device, in which nobody can go back.
#[cfg(feature = "photo")]
pub(crate) fn open(path: &Path, kind: FileKind) -> Result<File> {
    if is_stream(path, kind)? {
        return Err(Error::input("this is a pipe or a device; expected a file")
            .mend("save it as a file first")
            .in_file(path));
    }
    File::open(path).map_err(|cause| Error::unreadable(path, cause))
}

/// Whether `path` is a pipe or a device; a file is measured.
fn is_stream(path: &Path, kind: FileKind) -> Result<bool> {
    let found = fs::metadata(path).map_err(|cause| Error::unreadable(path, cause))?;
    if found.is_dir() {
        return Err(Error::unreadable(path, io::ErrorKind::IsADirectory.into()));
    }
    if found.is_file() {
        check_size(path, found.len(), kind)?;
    }
    Ok(!found.is_file())
}

fn check_size(path: &Path, bytes: u64, kind: FileKind) -> Result<()> {
    let most = kind.most_bytes();
    if bytes <= most {
        return Ok(());
    }
    let finding = format!(
        "this file is too large: more than {} MiB, which no {} holds",
        most >> 20,
        match kind {
            FileKind::Document => "document",
            FileKind::Table => "table",
            #[cfg(feature = "photo")]
            FileKind::Picture => "photograph",
        }
    );
    Err(Error::input(finding)
        .mend("check the name; was another file meant?")
        .in_file(path))
}

/// All that comes from the pipe or device at `path`. It is read by a thread of its own, since even to open a pipe may take for
/// ever; one that is given up ends with the program.
fn read_stream(path: &Path, kind: FileKind) -> Result<Vec<u8>> {
    let (sender, receiver) = mpsc::sync_channel::<io::Result<Vec<u8>>>(1);
    let source = path.to_owned();
    thread::spawn(move || {
        let mut stream = match File::open(&source) {
            Ok(stream) => stream,
            Err(cause) => return drop(sender.send(Err(cause))),
        };
        loop {
            let mut chunk = vec![0; CHUNK];
            let sent = match stream.read(&mut chunk) {
                Ok(0) => return,
                Ok(count) => {
                    chunk.truncate(count);
                    sender.send(Ok(chunk))
                }
                Err(cause) if cause.kind() == io::ErrorKind::Interrupted => continue,
                Err(cause) => sender.send(Err(cause)),
            };
            if sent.is_err() {
                return;
            }
        }
    });
    let mut bytes = Vec::new();
    loop {
        let received = receiver.recv_timeout(SAY_AFTER).or_else(|silent| {
            if silent == RecvTimeoutError::Disconnected {
                return Err(silent);
            }
            waits_for(&format!("something to come from {}", path.display()));
            receiver.recv_timeout(GIVE_UP_AFTER.saturating_sub(SAY_AFTER))
        });
        match received {
            Ok(Ok(chunk)) => {
                bytes.extend(chunk);
                check_size(path, bytes.len() as u64, kind)?;
            }
            Ok(Err(cause)) => return Err(Error::unreadable(path, cause)),
            Err(RecvTimeoutError::Disconnected) => return Ok(bytes),
            Err(RecvTimeoutError::Timeout) => {
                let seconds = GIVE_UP_AFTER.as_secs();
                let finding = format!("nothing has come from this pipe for {seconds} seconds");
                return Err(Error::input(finding)
                    .mend("see to what should write to it, or name a file")
                    .in_file(path));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_is_too_large_is_refused_before_it_is_read() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("sparse.csv");
        let file = File::create(&path).expect("made");
        file.set_len(6 << 30).expect("sparse");
        for kind in [FileKind::Document, FileKind::Table] {
            let error = read(&path, kind).expect_err("too large");
            assert!(error.is_input(), "{error}");
            assert!(error.to_string().contains("is too large"), "{error}");
        }
        file.set_len(FileKind::Document.most_bytes()).expect("cut");
        let bytes = read(&path, FileKind::Document).expect("the most");
        assert_eq!(bytes.len() as u64, FileKind::Document.most_bytes(), "all");
    }

    #[cfg(unix)]
    #[test]
    fn what_never_ends_is_refused() {
        for endless in ["/dev/zero", "/dev/urandom"] {
            let error = read(Path::new(endless), FileKind::Document).expect_err(endless);
            assert!(error.is_input(), "{error}");
            #[cfg(feature = "photo")]
            assert!(
                open(Path::new(endless), FileKind::Picture).is_err(),
                "no picture"
            );
        }
        let nothing = read(Path::new("/dev/null"), FileKind::Document).expect("nothing");
        assert!(nothing.is_empty(), "nothing comes");
    }
}
