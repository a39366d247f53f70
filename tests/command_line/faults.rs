//! A disk that fails and a power that goes at the calls of a command or a form that writes, one after the other: the book opens,
//! holds all of the change or nothing of it, and the same again gives the same bytes.
//!
//! The calls are made to fail, or to be the last, by strace (general-purpose, LGPL), from outside the program; where it is not
//! installed, or may not trace, these tests say so and check nothing. To be quick they try every so many-th fault of what makes
//! many calls alike; `DROPWISE_FAULTS=all` has them try every one, which takes minutes.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

use super::{Said, folder, run, word, words};

/// Calls that change a disk, as the kernel knows them on any machine; a `?` before those that some have not.
const CALLS: &str = "write,ftruncate,fchmod,fsync,fdatasync,?rename,?renameat,?renameat2,?unlink,unlinkat,?mkdir,mkdirat,?link,linkat";

/// What stands in a folder, but for what says who holds it and what the next writer sweeps.
type Files = BTreeMap<PathBuf, Vec<u8>>;

fn files(dir: &Path) -> Files {
    let is_passing = |name: &str| name == ".lock" || name.starts_with(UNFINISHED);
    all_files(dir)
        .into_iter()
        .filter(|(path, _)| !is_passing(&path.file_name().unwrap_or_default().to_string_lossy()))
        .collect()
}

/// How the names of files begin that are being written.
const UNFINISHED: &str = ".unfinished-";

fn all_files(dir: &Path) -> Files {
    let mut all = Files::new();
    let entries = fs::read_dir(dir).into_iter().flatten().flatten();
    for path in entries.map(|entry| entry.path()) {
        if path.is_dir() {
            all.extend(all_files(&path));
        } else {
            let content = fs::read(&path).expect("a file");
            all.insert(path, content);
        }
    }
    all
}

/// As it was: what `all` says, and nothing else.
fn put_back(dir: &Path, all: &Files) {
    let _ = fs::remove_dir_all(dir);
    for (path, content) in all {
        fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        fs::write(path, content).expect("written");
    }
}

fn is_swept(dir: &Path) -> bool {
    let all = all_files(dir);
    let mut names = all.keys().filter_map(|path| path.file_name());
    names.all(|name| {
        let name = name.to_string_lossy();
        !name.starts_with(UNFINISHED) && name != ".half-written"
    })
}

/// strace with these options, of the program; what it is to do follows.
pub(super) fn tracer(options: &[&str]) -> Command {
    let mut tracer = Command::new("strace");
    tracer
        .args(["-f", "-qq", "-e", &format!("trace={CALLS}")])
        .args(options)
        .arg(env!("CARGO_BIN_EXE_dropwise"));
    tracer
}

/// Runs `line` under strace with these `options`; its exit code, none where a signal ended it.
fn traced(options: &[&str], line: &str) -> Option<i32> {
    let status = tracer(options)
        .args(words(line))
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    status.ok()?.code()
}

/// What `act` ends in when nothing fails, and every fault that it can meet; `None` where nothing can be traced here.
fn faults_of(act: &impl Fn(&[&str]) -> Option<i32>) -> Option<(i32, Vec<String>)> {
    let folder = folder();
    let log = folder.path().join("calls");
    let done = act(&["-o", &log.to_string_lossy()]);
    let text = fs::read_to_string(&log).unwrap_or_default();
    let mut calls: BTreeMap<&str, u32> = BTreeMap::new();
    for line in text.lines() {
        let call = line.split_whitespace().nth(1).unwrap_or_default();
        *calls.entry(call.split('(').next()?).or_default() += 1;
    }
    let (Some(done), true) = (done, calls.contains_key("write")) else {
        say("skipped: strace is not installed, or may not trace here");
        return None;
    };
    let each = calls
        .iter()
        .flat_map(|(call, count)| (1..=*count).map(move |nth| (call, nth)));
    let faults = each.flat_map(|(call, nth)| {
        ["error=EIO", "signal=KILL"].map(|fault| format!("inject={call}:{fault}:when={nth}"))
    });
    Some((done, faults.collect()))
}

#[expect(clippy::print_stdout, reason = "a check that is skipped says so")]
pub(super) fn say(words: &str) {
    println!("{words}");
}

/// How many faults were tried, of how many there are, since when: it says so when it is dropped.
pub(super) struct Tried {
    of: &'static str,
    tried: usize,
    all: usize,
    begun: Instant,
}

impl Tried {
    /// None yet of what is called `of`.
    pub(super) fn of(of: &'static str) -> Self {
        Self {
            of,
            tried: 0,
            all: 0,
            begun: Instant::now(),
        }
    }

    /// Has every `stride`th call of `line` fail, and the power go at it, beginning each time with the folder `dir` as it is: a book's,
    /// one of documents, or one in which documents lie beside the book `bench`. With an odd stride both in turn.
    pub(super) fn cut(&mut self, dir: &Path, line: &str, stride: usize) {
        let act = |options: &[&str]| traced(options, line);
        self.cut_act(dir, line, stride, act, || run(line));
    }

    /// The same of what `act` does under strace with these options and ends in this code, none where it was ended; `again` does it
    /// as it is. It is `line` in words.
    pub(super) fn cut_act(
        &mut self,
        dir: &Path,
        line: &str,
        stride: usize,
        act: impl Fn(&[&str]) -> Option<i32>,
        again: impl Fn() -> Said,
    ) {
        let before = files(dir);
        let Some((done, faults)) = faults_of(&act) else {
            return;
        };
        let after = files(dir);
        assert!(before != after, "it writes: {done}: {line}");
        let places = [dir.to_owned(), dir.join("bench")];
        let mut books = places.iter();
        let book = books.find(|book| after.contains_key(&book.join("book.toml")));
        for fault in self.some_of(&faults, stride) {
            put_back(dir, &before);
            let code = act(&["-o", "/dev/null", "-e", fault]);
            let what = format!("{code:?}, {fault}: {line}");
            assert!(
                matches!(code, None | Some(3 | 137)) || code == Some(done),
                "done, failed or ended, and no panic: {what}"
            );
            let is_begun = book.is_some_and(|book| book.join("book.toml").exists());
            if let Some(book) = book.filter(|_| is_begun) {
                let opened = run(&opening(book));
                assert_eq!(opened.code, 0, "it opens: {}, {what}", opened.err);
            }
            let found = files(dir);
            if found == after {
                continue;
            }
            assert_ne!(code, Some(done), "what is acknowledged is there: {what}");
            // Documents may be ahead of the book: who is told of an error asks again, which a book that is ahead might refuse.
            let [was, is, is_to_be] = [&before, &found, &after].map(|files| parted(files, book));
            let is_whole = is.book == was.book && (is.rest == was.rest || is.rest == is_to_be.rest);
            let is_no_book_yet = before.is_empty() && book.is_some() && !is_begun;
            assert!(is_whole || is_no_book_yet, "all or nothing: {what}");
            let again = again();
            assert_eq!(i32::from(again.code), done, "again: {}, {what}", again.err);
            assert_eq!(files(dir), after, "the same bytes: {what}");
            // Nobody holds a folder of documents, so that nobody sweeps it.
            let is_left = book.is_some_and(|book| !is_swept(book));
            assert!(!is_left, "nothing is left over: {what}");
        }
        put_back(dir, &after);
    }

    /// Has the power go between the files of the change that `line` makes of the book in `dir`, and then every call fail, or be the
    /// last, of the command that comes next and ends that change.
    pub(super) fn cut_the_next(&mut self, dir: &Path, line: &str) {
        let before = files(dir);
        let Some((_, faults)) = faults_of(&|options: &[&str]| traced(options, line)) else {
            return;
        };
        let after = files(dir);
        let is_renaming = |fault: &&String| fault.contains("rename") && fault.contains("KILL");
        let mut half_written = Vec::new();
        for fault in faults.iter().filter(is_renaming) {
            put_back(dir, &before);
            traced(&["-o", "/dev/null", "-e", fault], line);
            if dir.join(".half-written").exists() {
                half_written.push(all_files(dir));
            }
        }
        assert!(half_written.len() > 1, "it is of several files: {line}");
        let next = opening(dir);
        for state in half_written {
            put_back(dir, &state);
            let Some((_, faults)) = faults_of(&|options: &[&str]| traced(options, &next)) else {
                return;
            };
            for fault in self.some_of(&faults, 1) {
                put_back(dir, &state);
                traced(&["-o", "/dev/null", "-e", fault], &next);
                let opened = run(&next);
                assert_eq!(opened.code, 0, "{}, {fault}: {line}", opened.err);
                assert_eq!(files(dir), after, "the same bytes: {fault}: {line}");
                assert!(is_swept(dir), "nothing is left over: {fault}: {line}");
            }
        }
    }

    /// Every `stride`th of `faults`, or all of them where that is asked for.
    fn some_of<'a>(&mut self, faults: &'a [String], stride: usize) -> Vec<&'a str> {
        let stride = match std::env::var("DROPWISE_FAULTS") {
            Ok(asked) if asked == "all" => 1,
            Ok(other) => panic!("DROPWISE_FAULTS is {other:?}; expected all"),
            Err(_) => stride,
        };
        let some: Vec<&str> = faults.iter().step_by(stride).map(String::as_str).collect();
        self.all += faults.len();
        self.tried += some.len();
        some
    }
}

/// What opens the book in `dir` and writes nothing.
fn opening(dir: &Path) -> String {
    format!("let-down list --book {}", word(dir))
}

/// Files of a book, and those beside it.
struct Parted {
    book: Files,
    rest: Files,
}

fn parted(files: &Files, book: Option<&PathBuf>) -> Parted {
    let is_of_it = |path: &Path| book.is_some_and(|book| path.starts_with(book));
    let files = files.clone().into_iter();
    let (book, rest) = files.partition(|(path, _)| is_of_it(path));
    Parted { book, rest }
}

impl Drop for Tried {
    fn drop(&mut self) {
        let Self { of, tried, all, .. } = self;
        let seconds = self.begun.elapsed().as_secs();
        say(&format!("{of}: {tried} faults of {all}, {seconds} s"));
    }
}
