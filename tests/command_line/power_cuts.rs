//! A disk that fails and a power that goes at every write, rename and removal of every command that writes: the book opens,
//! holds all of the change or nothing of it, and the same command again gives the same bytes.
//!
//! The calls are made to fail, or to be the last, by strace (general-purpose, LGPL), from outside the program; where it is not
//! installed, or may not trace, these tests say so and check nothing.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

#[cfg(feature = "page")]
use super::served::Served;
use super::{Said, folder, run, starter_book, word, words};

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

/// How often each call is made by `act`; `None` where nothing can be traced here.
fn calls_of(act: &impl Fn(&[&str]) -> Option<i32>, log: &Path) -> Option<BTreeMap<String, u32>> {
    let log = log.to_string_lossy();
    act(&["-o", &log])?;
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

/// Has every `stride`th call of `line` fail, and the power go at it, beginning each time with the book in `dir` as it is; with an odd
/// stride both in turn. Returns how often.
fn cut(dir: &Path, line: &str, stride: usize) -> usize {
    cut_act(
        dir,
        line,
        stride,
        |options| traced(options, line),
        || run(line),
    )
}

/// The same of what `act` does under strace with these options and ends in this code, none where it was ended; `again` does it as
/// it is. It is `line` in words.
fn cut_act(
    dir: &Path,
    line: &str,
    stride: usize,
    act: impl Fn(&[&str]) -> Option<i32>,
    again: impl Fn() -> Said,
) -> usize {
    let before = files(dir);
    let folder = folder();
    let Some(calls) = calls_of(&act, &folder.path().join("calls")) else {
        say("skipped: strace is not installed, or may not trace here");
        return 0;
    };
    let after = files(dir);
    assert!(before != after, "it writes: {line}");
    let each = calls
        .iter()
        .flat_map(|(call, count)| (1..=*count).map(move |nth| (call, nth)));
    let faults = each.flat_map(|(call, nth)| {
        ["error=EIO", "signal=KILL"].map(|fault| format!("inject={call}:{fault}:when={nth}"))
    });
    let mut tried = 0;
    for fault in faults.step_by(stride) {
        put_back(dir, &before);
        let code = act(&["-o", "/dev/null", "-e", &fault]);
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
            // A correction is two changes, each of them whole: the reading, and then what was advised.
            let is_a_step = line.starts_with("correct ");
            assert!(
                found == before || is_new || is_a_step,
                "all or nothing: {fault}: {line}"
            );
            assert_ne!(
                code,
                Some(0),
                "what is acknowledged is there: {fault}: {line}"
            );
            let again = again();
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
            3,
        ),
        (
            format!(
                "match --part arm --pigments 'umber,iron oxide red,iron oxide yellow' --replace --date 2026-03-03 --time-limit 60 {book}"
            ),
            5,
        ),
        (
            format!("part poured arm --left-part-b-g 40 --date 2026-03-04 {book}"),
            1,
        ),
        (format!("part left arm --part-b-g 20 {book}"), 1),
        (
            format!(
                "correct --part arm --measured 60,12,15 --replace --max-add 2 --max-contrast 1 --date 2026-03-05 --time-limit 60 {book}"
            ),
            9,
        ),
        (format!("calibrate {book}"), 23),
        (
            format!("calibrate --weigh 'umber 20 drops 0.61 g' {book}"),
            31,
        ),
        (format!("calibrate --new-lot 'umber=B7' {book}"), 31),
        (
            format!(
                "let-down take 'iron oxide red 1:20 5 g' --base 'clear skin' --date 2026-03-15 {book}"
            ),
            1,
        ),
        (format!("stock take small '5 g' {book}"), 1),
        (format!("mould mark forearm --skin-g 280 {book}"), 1),
        (format!("mould remove forearm {book}"), 1),
        (format!("swatch mend S001 --lab 61,10,14 {book}"), 1),
        (format!("swatch remove S001 {book}"), 1),
        (format!("swatch undo {book}"), 1),
        (format!("part remove arm {book}"), 1),
        (
            format!("stock make other --mix 'umber 2 g; iron oxide red 1 g' --g 30 {book}"),
            7,
        ),
        (format!("stock remove small {book}"), 1),
    ] {
        tried += cut(&dir, &line, stride);
    }
    say(&format!("{tried} faults"));
}

/// The readings of a photograph go into the log, and what it was read by into a file beside it.
#[cfg(feature = "photo")]
#[test]
fn a_board_off_one_photograph_is_logged_whole_or_not_at_all() {
    let (parent, book) = starter_book();
    let dir = dir_of(&book);
    let line = board_line(parent.path());
    let tried = cut(
        &dir,
        &format!("swatch read {line} --date 2026-03-06 {book}"),
        3,
    );
    say(&format!("{tried} faults"));
}

/// A picture of flat fields of invented colours, four rows of six for a chart and two for a board, each a chip of its own; in the
/// words of `swatch read`.
#[cfg(feature = "photo")]
fn board_line(folder: &Path) -> String {
    use std::fmt::Write as _;

    use palette::{FromColor as _, Lab, Srgb, white_point::D65};

    const FIELD: u32 = 40;
    const CHIPS: [[u8; 3]; 2] = [[206, 150, 130], [190, 140, 120]];
    let chart = |column: u32, row: u32| {
        let of =
            |count: u32, index: u32| u8::try_from(30 + 190 * index / count).expect("below 256");
        match row {
            // Greys tell of the camera's curve.
            3 => [of(5, column); 3],
            _ => [of(5, column), of(2, row), of(7, (column + 2 * row) % 8)],
        }
    };
    let size = (9 * FIELD, 4 * FIELD);
    let picture = image::RgbImage::from_fn(size.0, size.1, |x, y| {
        let (column, row) = (x / FIELD, y / FIELD);
        image::Rgb(match column {
            0..=5 => chart(column, row),
            7 if (1..3).contains(&row) => CHIPS[row as usize - 1],
            _ => [128; 3],
        })
    });
    let photo = folder.join("board.png");
    picture.save(&photo).expect("written");
    let mut values = "row,column,L,a,b,illuminant,observer\n".to_owned();
    for row in 0..4 {
        for column in 0..6 {
            let rgb: Srgb<f64> = Srgb::from(chart(column, row)).into_format();
            let Lab { l, a, b, .. } = Lab::<D65, f64>::from_color(rgb);
            writeln!(
                values,
                "{},{},{l:.3},{a:.3},{b:.3},D65,2",
                row + 1,
                column + 1
            )
            .expect("a row");
        }
    }
    let values = super::file(folder, "values.csv", &values);
    let chips = super::file(
        folder,
        "chips.csv",
        "row,column,swatch,base,base_g,mix,thickness_mm,backing\n\
         1,1,P1,clear skin,100,titanium white 12; iron oxide red 2; iron oxide yellow 4,2,white card\n\
         2,1,P2,clear skin,100,titanium white 12; iron oxide red 3; iron oxide yellow 4,2,white card\n",
    );
    format!(
        "{} --chart 0,0,240,0,240,160,0,160 --chart-values {values} --grid 280,40,320,40,320,120,280,120 --chips {chips}",
        word(&photo)
    )
}

/// Serves the page of the book in `dir` by `server`, sends it this form and ends it. Returns what a command would have ended in:
/// none where there was no answer.
#[cfg(feature = "page")]
fn posted(dir: &Path, server: Command, path: &str, form: &str) -> Option<i32> {
    let revision = dropwise::book::Book::open(dir).ok()?.revision();
    let served = Served::begin(server, dir);
    match served.post(path, &format!("revision={revision}&{form}"))? {
        200 | 303 => Some(0),
        500 => Some(3),
        other => panic!("{other}: {path} {form}"),
    }
}

/// The page writes as commands do: what it says is kept is kept, and what is cut is not there at all.
#[cfg(feature = "page")]
#[test]
fn a_book_outlives_a_fault_at_every_write_of_the_page() {
    let (_parent, book) = starter_book();
    let dir = dir_of(&book);
    let made = run(&format!(
        "match --target 65,11,14 --base-g 600 --foam-g 300 --fibre-g 12 --pigments 'umber,iron oxide red' --tolerance 99 --part arm --date 2026-03-02 --time-limit 60 {book}"
    ));
    assert_eq!(made.code, 0, "{}", made.err);
    let begun = std::time::SystemTime::UNIX_EPOCH.elapsed();
    let begun_ms = begun.expect("after 1970").as_millis();
    let clock = format!("cup=skin+1&begun={begun_ms}");
    let mut tried = 0;
    for (path, form, stride) in [
        ("/parts/arm/compare", "only=log&l=60&a=12&b=15&tone=", 3),
        ("/parts/arm/clock", clock.as_str(), 3),
    ] {
        let what = format!("POST {path} {form}");
        let post = |tracer: Command| posted(&dir, tracer, path, form);
        tried += cut_act(
            &dir,
            &what,
            stride,
            |options| {
                let mut tracer = Command::new("strace");
                tracer.args(["-f", "-qq", "-e", &format!("trace={CALLS}")]);
                // Other writes of a server are no file's; which thread makes them first is chance.
                tracer.args(options).arg(env!("CARGO_BIN_EXE_dropwise"));
                post(tracer)
            },
            || {
                let code = post(Command::new(env!("CARGO_BIN_EXE_dropwise")));
                Said {
                    code: code.map_or(255, |code| u8::try_from(code).expect("a code")),
                    out: String::new(),
                    err: String::new(),
                }
            },
        );
    }
    say(&format!("{tried} faults"));
}
