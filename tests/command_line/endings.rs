//! What is killed, waits, never ends or never comes: nothing is lost, nothing is left, and nobody waits for ever.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::thread;
use std::time::{Duration, Instant};

#[cfg(feature = "page")]
use super::served::{Form, Served};
use super::{dir_of, folder, run, starter_book, words};

/// How often a writer is killed.
const KILLS: u64 = 20;

fn begin(line: &str) -> Child {
    Command::new(env!("CARGO_BIN_EXE_dropwise"))
        .args(words(line))
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the binary starts")
}

fn send(signal: &str, child: &Child) {
    let sent = Command::new("kill")
        .args([signal, &child.id().to_string()])
        .status();
    assert!(sent.expect("kill runs").success(), "the signal is sent");
}

fn ended(child: Child) -> (Option<i32>, String) {
    let Output { status, stderr, .. } = child.wait_with_output().expect("it ends");
    (status.code(), String::from_utf8_lossy(&stderr).into_owned())
}

/// The files of `dir` and of its folders that writers leave when they are killed.
fn left_over(dir: &Path) -> Vec<PathBuf> {
    let mut left = Vec::new();
    for entry in fs::read_dir(dir).expect("a folder").flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if entry.path().is_dir() {
            left.extend(left_over(&entry.path()));
        } else if name.starts_with(".unfinished-") || name == ".half-written" {
            left.push(entry.path());
        }
    }
    left
}

/// A casting with a spectrum, which goes to a file of its own.
fn spectral(book: &str) -> String {
    let spectrum = dir_of(book).join("flat.csv");
    let mut text = "wavelength_nm,r\n".to_owned();
    for nm in (380..=730).step_by(10) {
        text += &format!("{nm},0.4\n");
    }
    fs::write(&spectrum, text).expect("written");
    format!(
        "swatch add {book} --base \"clear skin\" --base-g 60 --thickness-mm 2 --backing \"white card\" --r-file \"{}\"",
        spectrum.display()
    )
}

/// The spectra of readings that stand in the folder, and the rows that name one.
fn spectra_and_rows(book: &str) -> (usize, usize) {
    let dir = dir_of(book);
    let files = fs::read_dir(dir.join("spectra"))
        .expect("a folder")
        .flatten();
    let of_readings = files.filter(|file| file.file_name().to_string_lossy().starts_with('S'));
    let of_readings =
        of_readings.filter(|file| file.path().extension().is_some_and(|it| it == "csv"));
    let log = fs::read_to_string(dir.join("swatches.csv")).expect("the log");
    (of_readings.count(), log.matches("spectra/S").count())
}

#[test]
fn writers_that_are_killed_leave_no_spectrum_without_a_row_and_the_next_clears_up() {
    let (_parent, book) = starter_book();
    let line = spectral(&book);
    for signal in ["-KILL", "-TERM", "-INT"] {
        for round in 0..KILLS {
            let mut child = begin(&line);
            thread::sleep(Duration::from_millis(5 * (round + 1)));
            if child.try_wait().expect("it can be asked").is_none() {
                send(signal, &child);
            }
            ended(child);
            if signal != "-KILL" {
                let left = left_over(&dir_of(&book));
                assert!(left.is_empty(), "{signal}, round {round}: {left:?}");
            }
        }
        let said = run(&line);
        assert_eq!(said.code, 0, "{}", said.err);
        assert!(left_over(&dir_of(&book)).is_empty(), "all is swept");
        let (spectra, rows) = spectra_and_rows(&book);
        assert_eq!(spectra, rows, "each spectrum has its row");
        assert!(rows > 0, "the last was logged");
    }
}

#[test]
fn an_interrupt_at_any_moment_ends_the_program_or_gives_the_best_so_far_and_leaves_nothing() {
    /// From before the program listens to signals until after its search has found something.
    const MOMENTS_MS: [u64; 6] = [0, 3, 20, 120, 400, 900];
    let (_parent, book) = starter_book();
    let dir = dir_of(&book);
    let cast = "--base 'clear skin' --base-g 600 --thickness-mm 2 --backing 'white card'";
    let cup = format!("{cast} --mix 'iron oxide red 3; umber 2; fibre 12 g'");
    let said = run(&format!("swatch add {cup} --lab 60,10,14 {book}"));
    assert_eq!(said.code, 0, "{}", said.err);
    let mut answered = 0;
    for moment_ms in MOMENTS_MS {
        for line in [
            format!(
                "match --target 65,11,14 --base-g 600 --foam-g 300 --within 0 --time-limit 60 --part arm{moment_ms} {book}"
            ),
            format!(
                "correct --target 65,11,14 --measured 60,12,15 {cup} --within 0 --time-limit 60 {book}"
            ),
            format!("calibrate {book}"),
        ] {
            let child = begin(&line);
            thread::sleep(Duration::from_millis(moment_ms));
            send("-INT", &child);
            let (code, err) = ended(child);
            // None: the signal came before anything listened, and ended it.
            assert!(
                matches!(code, None | Some(0 | 1 | 130)),
                "{code:?} after {moment_ms} ms: {err}: {line}"
            );
            answered += usize::from(matches!(code, Some(0 | 1)));
            let left = left_over(&dir);
            assert!(left.is_empty(), "after {moment_ms} ms: {left:?}: {line}");
            let opened = run(&format!("let-down list {book}"));
            assert_eq!(opened.code, 0, "it opens: {}: {line}", opened.err);
        }
    }
    assert!(answered > 0, "the last found something");
}

#[test]
fn four_writers_at_once_of_mixed_commands_and_the_page_lose_nothing() {
    const ROUNDS: usize = 50;
    let (_parent, book) = starter_book();
    let dir = dir_of(&book);
    let made = run(&format!(
        "match --target 65,11,14 --base-g 600 --foam-g 300 --fibre-g 12 --tolerance 99 --part arm --date 2026-03-02 {book}"
    ));
    assert_eq!(made.code, 0, "{}", made.err);
    #[cfg(feature = "page")]
    let served = Served::begin(Command::new(env!("CARGO_BIN_EXE_dropwise")), &dir);
    let posted = if cfg!(feature = "page") { ROUNDS } else { 0 };
    let rows = |table: &str, of: &str| {
        let text = fs::read_to_string(dir.join(table)).expect("a table");
        text.matches(of).count()
    };
    for round in 0..ROUNDS {
        let writers = [
            format!(
                "swatch add {book} --base \"clear skin\" --base-g 60 --thickness-mm 2 --backing \"white card\" --lab 60,10,14 --mix \"umber 2\""
            ),
            format!("let-down add \"iron oxide red 1:20 20 g\" {book} --base \"clear skin\" --date 2026-03-14"),
            format!("mould add \"mould {round}\" {book} --skin-g 300 --foam-g 210"),
            // The swatch may not be there yet: then nothing is removed, and that is said.
            format!("swatch remove {book} S{:03}", round + 1),
        ]
        .map(|line| begin(&line));
        // What others wrote since the form was drawn makes it old: it comes back, and is sent again.
        #[cfg(feature = "page")]
        for _ in 0..100 {
            let revision = dropwise::book::Book::open(&dir).expect("a book").revision();
            let form = Form::of(&[
                ("revision", revision.as_str()),
                ("only", "log"),
                ("l", &format!("60.{round:02}")),
                ("a", "12.34"),
                ("b", "15.67"),
                ("tone", ""),
            ]);
            match served.post("/parts/arm/compare", &form) {
                Some(200) => break,
                Some(409) => {}
                other => panic!("round {round}: {other:?}"),
            }
        }
        let codes = writers.map(|child| ended(child).0);
        assert_eq!(codes[..3], [Some(0); 3], "round {round}");
        assert!(matches!(codes[3], Some(0 | 2)), "round {round}: {codes:?}");
    }
    assert_eq!(rows("let-downs.csv", "iron oxide red 1:20"), ROUNDS, "jars");
    assert_eq!(rows("moulds.csv", "mould "), ROUNDS, "moulds");
    let (logged, removed) = (
        rows("swatches.csv", "umber 2"),
        rows("history.csv", "umber 2"),
    );
    assert_eq!(
        logged + removed,
        ROUNDS,
        "{logged} logged, {removed} removed"
    );
    let of_the_page = rows("swatches.csv", "12.34,15.67") + rows("history.csv", "12.34,15.67");
    assert_eq!(of_the_page, posted, "readings off the page");
    assert!(left_over(&dir).is_empty(), "nothing is left");
}

#[test]
fn a_change_that_was_cut_between_its_files_is_ended_by_the_next_command() {
    let (_parent, book) = starter_book();
    let dir = dir_of(&book);
    let settings = fs::read_to_string(dir.join("book.toml")).expect("there");
    fs::write(
        dir.join(".unfinished-7"),
        settings.replace("name = \"", "name = \"whole "),
    )
    .expect("written");
    fs::write(
        dir.join(".half-written"),
        ".unfinished-6\tspectra/x.csv\n.unfinished-7\tbook.toml\n",
    )
    .expect("written");
    let said = run(&format!("let-down list {book}"));
    assert_eq!(said.code, 0, "{}", said.err);
    let now = fs::read_to_string(dir.join("book.toml")).expect("there");
    assert!(now.contains("name = \"whole "), "it is ended");
    assert!(left_over(&dir).is_empty(), "and nothing is left");
}

#[test]
fn a_writer_that_waits_says_for_whom_and_gives_up() {
    let (_parent, book) = starter_book();
    let lock = File::create(dir_of(&book).join(".lock")).expect("made");
    fs::write(dir_of(&book).join(".lock"), "4711").expect("written");
    lock.lock().expect("nobody else");
    let begun = Instant::now();
    let (code, err) = ended(begin(&spectral(&book)));
    assert!(begun.elapsed() >= Duration::from_secs(29), "it waits first");
    assert_eq!(code, Some(3), "{err}");
    assert!(
        err.starts_with("waiting for another program (process 4711)"),
        "{err}"
    );
    assert!(
        err.contains("has been writing to this book for 30 seconds"),
        "{err}"
    );
}

#[test]
fn a_pipe_that_stays_silent_is_refused_and_one_that_speaks_is_read() {
    let folder = folder();
    let pipe = folder.path().join("pipe");
    let made = Command::new("mkfifo").arg(&pipe).status();
    assert!(made.expect("mkfifo runs").success(), "a pipe");
    let line = format!("target --reading \"{}\"", pipe.display());
    let begun = Instant::now();
    let (code, err) = ended(begin(&line));
    assert!(begun.elapsed() < Duration::from_secs(20), "not for ever");
    assert_eq!(code, Some(2), "{err}");
    assert!(
        err.starts_with("waiting for something to come from "),
        "{err}"
    );
    assert!(
        err.contains("nothing has come from this pipe for 10 seconds"),
        "{err}"
    );
    let child = begin(&line);
    fs::write(&pipe, "L,a,b\n60,9,9\n").expect("somebody reads");
    let (code, err) = ended(child);
    assert_eq!(code, Some(0), "{err}");
}

#[test]
fn what_never_ends_is_refused_by_every_reader() {
    let folder = folder();
    let sparse = folder.path().join("sparse");
    let file = File::create(&sparse).expect("made");
    file.set_len(6 << 30).expect("sparse");
    let layer = r#"--base-g 600 --backing "white card""#;
    for endless in [
        "/dev/zero".to_owned(),
        "/dev/urandom".to_owned(),
        format!("\"{}\"", sparse.display()),
    ] {
        for line in [
            format!("target --reading {endless}"),
            format!("match {layer} --target {endless}"),
            format!("predict {endless}"),
            format!("match {layer} --target 66,12,17 --illuminants {endless}"),
            #[cfg(feature = "photo")]
            format!("target {endless}"),
        ] {
            let (code, err) = ended(begin(&line));
            assert_eq!(code, Some(2), "{line}: {err}");
        }
    }
}

#[test]
fn a_page_and_an_instruments_file_are_not_replaced_unless_it_is_forced() {
    let folder = folder();
    let at = |name: &str| folder.path().join(name);
    let cases = [
        (
            "swatch export",
            "readings.txt",
            "CGATS.17\nORIGINATOR \"an instrument\"\n",
        ),
        ("target --lab 66,12,17 --save", "tone.json", "{\"L\": 1}"),
        #[cfg(feature = "page")]
        (
            r#"match --target 66,12,17 --base-g 600 --backing "white card" --sheet"#,
            "page.html",
            "<!DOCTYPE html><html lang=\"en\"><title>a page</title></html>",
        ),
    ];
    for (command, name, other) in cases {
        let line = format!("{command} \"{}\"", at(name).display());
        fs::write(at(name), other).expect("written");
        let said = run(&line);
        assert_eq!(said.code, 2, "{line}: {}", said.err);
        assert!(
            said.err.contains(
                "not written by dropwise (choose another name, or replace it with --force)"
            ),
            "{}",
            said.err
        );
        assert_eq!(fs::read_to_string(at(name)).expect("there"), other, "kept");
        let forced = run(&format!("{line} --force"));
        assert!(forced.code < 2, "{line}: {}", forced.err);
        let again = run(&line);
        assert!(again.code < 2, "its own is replaced: {}", again.err);
    }
}
