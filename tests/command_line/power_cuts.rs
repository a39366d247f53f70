//! A disk that fails and a power that goes at every write, rename and removal of every command that writes: the book opens,
//! holds all of the change or nothing of it, and the same command again gives the same bytes.
//!
//! The calls are made to fail, or to be the last, by strace (general-purpose, LGPL), from outside the program; where it is not
//! installed, or may not trace, these tests say so and check nothing.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use super::{folder, run, starter_book, word, words};

/// Calls that change a disk, as the kernel knows them on any machine; a `?` before those that some have not.
const CALLS: &str = "write,ftruncate,fchmod,fsync,fdatasync,?rename,?renameat,?renameat2,?unlink,unlinkat,?mkdir,mkdirat,?link,linkat";

/// What stands in a folder, but for what says who holds it and what the next writer sweeps.
type Files = BTreeMap<PathBuf, Vec<u8>>;

fn files(dir: &Path) -> Files {
    let mut all = Files::new();
    let Ok(entries) = fs::read_dir(dir) else {
        return all;
    };
    for entry in entries.flatten() {
        let (path, name) = (entry.path(), entry.file_name());
        let name = name.to_string_lossy();
        if path.is_dir() {
            all.extend(files(&path));
        } else if name != ".lock" && !name.starts_with(".unfinished-") {
            all.insert(path.clone(), fs::read(path).expect("a file"));
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
    let entries = fs::read_dir(dir).expect("a folder").flatten();
    entries.into_iter().all(|entry| {
        let path = entry.path();
        let name = entry.file_name().to_string_lossy().into_owned();
        let is_left = name.starts_with(".unfinished-") || name == ".half-written";
        !is_left && (!path.is_dir() || is_swept(&path))
    })
}

/// Runs `line` under strace with these `options`; its exit code, none where a signal ended it.
fn traced(options: &[&str], line: &str) -> Option<i32> {
    let status = Command::new("strace")
        .args(["-f", "-qq", "-e", &format!("trace={CALLS}")])
        .args(options)
        .arg(env!("CARGO_BIN_EXE_dropwise"))
        .args(words(line))
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    status.ok()?.code()
}

/// How often each call is made by `line`; `None` where nothing can be traced here.
fn calls_of(line: &str, log: &Path) -> Option<BTreeMap<String, u32>> {
    let log = log.to_string_lossy();
    traced(&["-o", &log], line)?;
    let text = fs::read_to_string(&*log).ok()?;
    let mut calls = BTreeMap::new();
    for line in text.lines() {
        let call = line.split_whitespace().nth(1)?.split('(').next()?;
        *calls.entry(call.to_owned()).or_default() += 1;
    }
    calls.contains_key("write").then_some(calls)
}

#[expect(clippy::print_stdout, reason = "a check that is skipped says so")]
fn say(words: &str) {
    println!("{words}");
}

/// Has every `stride`th call of `line` fail, and the power go at it, beginning each time with the book in `dir` as it is.
/// Returns how often.
fn cut(dir: &Path, line: &str, stride: usize) -> usize {
    let before = files(dir);
    let folder = folder();
    let Some(calls) = calls_of(line, &folder.path().join("calls")) else {
        say("skipped: strace is not installed, or may not trace here");
        return 0;
    };
    let after = files(dir);
    assert_ne!(before, after, "it writes: {line}");
    let each = calls
        .iter()
        .flat_map(|(call, count)| (1..=*count).map(move |nth| (call, nth)));
    let faults = each.flat_map(|(call, nth)| {
        ["error=EIO", "signal=KILL"].map(|fault| format!("inject={call}:{fault}:when={nth}"))
    });
    let mut tried = 0;
    for fault in faults.step_by(stride) {
        put_back(dir, &before);
        let code = traced(&["-o", "/dev/null", "-e", &fault], line);
        tried += 1;
        assert!(
            matches!(code, None | Some(0 | 3 | 137)),
            "done, failed or ended, and no panic: {code:?}, {fault}: {line}"
        );
        if dir.join("book.toml").exists() {
            let opened = run(&format!("let-down list --book {}", word(dir)));
            assert_eq!(opened.code, 0, "it opens: {}, {fault}: {line}", opened.err);
        }
        let found = files(dir);
        if found != after {
            let is_new = before.is_empty() && !dir.join("book.toml").exists();
            assert!(found == before || is_new, "all or nothing: {fault}: {line}");
            assert_ne!(
                code,
                Some(0),
                "what is acknowledged is there: {fault}: {line}"
            );
            let again = run(line);
            assert_eq!(again.code, 0, "again: {}, {fault}: {line}", again.err);
            assert_eq!(files(dir), after, "the same bytes: {fault}: {line}");
            assert!(is_swept(dir), "nothing is left over: {fault}: {line}");
        }
    }
    put_back(dir, &after);
    tried
}

fn dir_of(book: &str) -> PathBuf {
    book.trim_start_matches("--book ").trim_matches('"').into()
}

const CHIP: &str =
    "--base 'clear skin' --base-g 60 --thickness-mm 2 --backing 'white card' --date 2026-03-01";

#[test]
fn a_new_book_is_whole_or_is_begun_again() {
    let parent = folder();
    let dir = parent.path().join("bench");
    cut(&dir, &format!("new {}", word(&dir)), 7);
}

#[test]
fn a_book_outlives_a_fault_at_every_write_of_every_command() {
    let (parent, book) = starter_book();
    let dir = dir_of(&book);
    let mut spectrum = "wavelength_nm,r\n".to_owned();
    for nm in (380..=730).step_by(10) {
        spectrum += &format!("{nm},0.4\n");
    }
    let spectrum = super::file(parent.path(), "flat.csv", &spectrum);
    let mut tried = 0;
    for (line, stride) in [
        (
            format!("swatch add {CHIP} --mix 'umber 2' --lab 60,10,14 {book}"),
            1,
        ),
        (
            format!("swatch add {CHIP} --mix 'iron oxide red 2' --r-file {spectrum} {book}"),
            1,
        ),
        (
            format!("pigment add ochre --like 'iron oxide yellow' --drop-g 0.03 {book}"),
            1,
        ),
        (
            format!(
                "base add 'soft skin' --kind skin --density-g-ml 1.05 --parts 1:1 --pot-life-min 5 {book}"
            ),
            1,
        ),
        (format!("backing add 'pale card' --lab 80,1,3 {book}"), 1),
        (
            format!("stock make small --mix 'umber 1 g; iron oxide red 2 g' --g 30 {book}"),
            1,
        ),
        (
            format!(
                "let-down add 'iron oxide red 1:20 20 g' --base 'clear skin' --date 2026-03-14 {book}"
            ),
            1,
        ),
        (
            format!("mould add forearm --skin-g 300 --foam-g 210 {book}"),
            1,
        ),
        (
            format!(
                "match --target 65,11,14 --base-g 600 --foam-g 300 --fibre-g 12 --pigments 'umber,iron oxide red' --tolerance 99 --part arm --date 2026-03-02 --time-limit 60 {book}"
            ),
            1,
        ),
        (format!("calibrate {book}"), 5),
        (format!("swatch remove S001 {book}"), 1),
        (format!("swatch undo {book}"), 1),
        (format!("part remove arm {book}"), 1),
    ] {
        tried += cut(&dir, &line, stride);
    }
    say(&format!("{tried} faults"));
}
