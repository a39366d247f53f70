//! A file that is looked at through a window, so that none of it need be held.

use std::fs::File;
use std::io::{Read as _, Seek as _, SeekFrom};

/// Bytes that are held at a time.
const HELD: usize = 64 << 10;

/// A file, of which any place may be looked at; fastest one after the other.
pub(super) struct Window {
    file: File,
    bytes: usize,
    /// Where what is held begins.
    start: usize,
    held: Vec<u8>,
    /// The first thing that went wrong, after which the file is as good as ended.
    failed: Option<std::io::Error>,
}

impl Window {
    /// Over `file` of so many `bytes`.
    pub(super) fn new(file: File, bytes: usize) -> Self {
        Self {
            file,
            bytes,
            start: 0,
            held: Vec::new(),
            failed: None,
        }
    }

    /// How many bytes the file has.
    pub(super) fn len(&self) -> usize {
        self.bytes
    }

    /// The file again, wherever it stands.
    ///
    /// # Errors
    /// What went wrong on the way.
    pub(super) fn close(self) -> std::io::Result<File> {
        match self.failed {
            None => Ok(self.file),
            Some(cause) => Err(cause),
        }
    }

    /// So many bytes from `at` on, fewer at the end of the file.
    pub(super) fn at(&mut self, at: usize, count: usize) -> &[u8] {
        let is_held = at >= self.start && at + count <= self.start + self.held.len();
        if !is_held && self.failed.is_none() {
            self.move_to(at, count.max(HELD));
        }
        let from = at.saturating_sub(self.start).min(self.held.len());
        let until = (from + count).min(self.held.len());
        &self.held[from..until]
    }

    /// The same as an array; `None` at the end of the file.
    pub(super) fn array<const COUNT: usize>(&mut self, at: usize) -> Option<[u8; COUNT]> {
        self.at(at, COUNT).try_into().ok()
    }

    fn move_to(&mut self, at: usize, count: usize) {
        // At the end there is nothing more to read, however often it is asked for.
        let end = self.start + self.held.len();
        if at >= self.start && end == self.bytes {
            return;
        }
        self.held.clear();
        self.start = at;
        let moved = self.file.seek(SeekFrom::Start(at as u64));
        let read = moved.and_then(|_| {
            let mut some = (&mut self.file).take(count as u64);
            some.read_to_end(&mut self.held)
        });
        self.failed = read.err();
    }
}

#[cfg(test)]
impl Window {
    /// Over a file of these bytes.
    pub(super) fn over(content: &[u8]) -> Self {
        use std::io::Write as _;
        let mut file = tempfile::tempfile().expect("a file");
        file.write_all(content).expect("written");
        Self::new(file, content.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_place_shows_what_stands_there() {
        let content: Vec<u8> = (0..200_000_u32)
            .map(|at| u8::try_from(at % 251).expect("below 256"))
            .collect();
        let mut window = Window::over(&content);
        for at in [
            0, 1, 65_535, 65_536, 131_000, 3, 199_999, 199_990, 70_000, 200_000, 900_000,
        ] {
            for count in [0, 1, 2, 300, 70_000] {
                let until = (at + count).min(content.len());
                let want = content.get(at..until).unwrap_or_default();
                assert_eq!(window.at(at, count), want, "{count} bytes at {at}");
            }
        }
        assert_eq!(window.array::<2>(199_999), None, "no two are left");
        window.close().expect("nothing went wrong");
    }
}
