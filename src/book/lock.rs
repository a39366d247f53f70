//! One writer at a time, who first clears up after one that was killed.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read as _, Seek as _, SeekFrom, Write as _};
use std::path::Path;
use std::process;
use std::thread;
use std::time::{Duration, Instant};

use super::changes;
use super::ending::Writing;
use crate::error::{Error, Result, waits_for};

/// The lock's file in a book; it names the process that held it last, stays where it is, and says nothing by being there.
const LOCK: &str = ".lock";

/// How long a writer waits before it says for whom, and before it gives up; how often it looks.
const SAY_AFTER: Duration = Duration::from_millis(500);
const GIVE_UP_AFTER: Duration = Duration::from_secs(30);
const LOOK_EVERY: Duration = Duration::from_millis(10);

/// The right to write to a book, until dropped.
#[derive(Debug)]
pub(super) struct Lock {
    _file: File,
    _writing: Writing,
}

/// Waits until no one else writes to the book in `folder`, and keeps others waiting until dropped. What a writer left that was
/// killed is ended or swept away.
///
/// # Errors
/// Another writes for longer than half a minute; a failure of the machine.
pub(super) fn lock(folder: &Path) -> Result<Lock> {
    let path = folder.join(LOCK);
    // The user knows the book, and not its lock.
    let failed = |cause| Error::machine("write to", folder, cause);
    let mut file = OpenOptions::new()
        .create(true)
        .truncate(false)
        .read(true)
        .write(true)
        .open(&path)
        .map_err(failed)?;
    let begun = Instant::now();
    let mut is_said = false;
    loop {
        match file.try_lock() {
            Ok(()) => break,
            Err(TryLockError::Error(cause)) => return Err(failed(cause)),
            Err(TryLockError::WouldBlock) => {}
        }
        let waited = begun.elapsed();
        if waited >= GIVE_UP_AFTER {
            let finding = format!(
                "{} has been writing to this book for {} seconds",
                holder(&mut file),
                GIVE_UP_AFTER.as_secs()
            );
            return Err(Error::busy(finding)
                .mend("end it, or try again when it is done")
                .in_file(folder));
        }
        if waited >= SAY_AFTER && !is_said {
            is_said = true;
            let whom = holder(&mut file);
            waits_for(&format!("{whom}, which writes to {}", folder.display()));
        }
        thread::sleep(LOOK_EVERY);
    }
    let writing = Writing::begin();
    // Who waits is told for whom; nothing hangs on it.
    let _ = file
        .set_len(0)
        .and_then(|()| file.seek(SeekFrom::Start(0)))
        .and_then(|_| file.write_all(process::id().to_string().as_bytes()));
    changes::end(folder)?;
    changes::sweep(folder);
    Ok(Lock {
        _file: file,
        _writing: writing,
    })
}

/// Who holds the lock, as far as it says.
fn holder(file: &mut File) -> String {
    let mut text = String::new();
    let read = file
        .seek(SeekFrom::Start(0))
        .and_then(|_| (&*file).take(20).read_to_string(&mut text));
    match (read, text.trim().parse::<u32>()) {
        (Ok(_), Ok(process)) => format!("another program (process {process})"),
        _ => "another program".to_owned(),
    }
}

/// Ends a change of the book in `folder` that was cut short, if there is one: a reader would take half of it for the whole.
///
/// # Errors
/// As [`lock`].
pub(super) fn end_half_written(folder: &Path) -> Result<()> {
    if changes::is_half_written(folder) {
        lock(folder).map_err(|error| error.within("a change of this book is half written"))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn who_waits_too_long_is_told_for_whom_and_the_next_clears_up() {
        let folder = tempfile::tempdir().expect("a folder");
        let first = lock(folder.path()).expect("nobody else");
        let begun = Instant::now();
        let error = lock(folder.path()).expect_err("taken");
        assert!(begun.elapsed() >= GIVE_UP_AFTER, "it waits first");
        assert!(error.is_machine(), "{error}");
        let whom = format!("another program (process {})", process::id());
        assert!(error.to_string().contains(&whom), "{error}");
        drop(first);
        let left = folder.path().join(".unfinished-abc");
        fs::write(&left, "half").expect("written");
        let _next = lock(folder.path()).expect("free again");
        assert!(!left.exists(), "swept");
    }
}
