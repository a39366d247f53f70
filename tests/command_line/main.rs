//! The command line from outside: every command by `dropwise::cli::run` as a test calls it, and by the binary
//! where it takes a process. What is invented here (targets, mixes, names) is an example and no check by itself;
//! the checks are that commands agree with each other, with what is documented, and with common practice.

mod asked;
mod batches;
mod books;
mod bottles;
mod calibrating;
mod calibration_report;
mod clocks;
mod common_practice;
mod corrected_cups;
mod correcting_parts;
mod corrections;
mod documented_json;
#[cfg(unix)]
mod endings;
mod expectations;
#[cfg(target_os = "linux")]
mod faults;
mod foams;
mod gone_over;
#[cfg(unix)]
mod interrupts;
mod left_over;
mod left_part_b;
mod let_downs;
mod lights;
mod likenesses;
mod log_kept_right;
mod logging;
mod long_shelves;
mod missed;
mod moulds;
mod one_layer;
mod one_screen;
mod one_tint;
#[cfg(all(target_os = "linux", feature = "page"))]
mod page_cuts;
mod parts;
mod patch;
#[cfg(all(target_os = "linux", feature = "photo"))]
mod photographed_board;
mod planning;
#[cfg(feature = "page")]
mod plots;
#[cfg(target_os = "linux")]
mod power_cuts;
mod predictions;
mod readings;
mod refusals;
mod repairs;
#[cfg(feature = "page")]
mod served;
mod shells;
mod shelving;
mod stocks;
mod streams;
mod targets;
mod weighings;
#[cfg(all(feature = "photo", feature = "page"))]
mod whole_part;

use std::ffi::OsString;
use std::fs;
use std::path::Path;

use dropwise::colour::Lab;
use serde_json::Value;

/// The demo's photograph with the regions of its skin and its card.
#[cfg(feature = "photo")]
const PHOTO: &str =
    "swatches/reference-photo.jpg --region 640,690,760,120 --card 310,240,330,160 --card-lab grey";

/// What a run of the program said.
struct Said {
    code: u8,
    out: String,
    err: String,
}

/// Runs the program on `line`, parted as a shell does. A search has a minute unless `line` says how long, since an
/// answer that the clock cut short on a busy machine is not the one that the same line has elsewhere.
fn run(line: &str) -> Said {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let searches = line.starts_with("match ") || line.starts_with("correct ");
    let minute = if searches && !line.contains("--time-limit") {
        " --time-limit 60"
    } else {
        ""
    };
    let arguments = words(&format!("dropwise {line}{minute}"));
    let code = dropwise::cli::run(
        arguments.into_iter().map(OsString::from),
        &mut out,
        &mut err,
    );
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    Said {
        code,
        out: text(out),
        err: text(err),
    }
}

/// Runs `line`, which must end in `code`, say nothing on the error stream and print one JSON document.
fn json_with(code: u8, line: &str) -> Value {
    let said = run(&format!("{line} --json"));
    assert_eq!((said.code, said.err.as_str()), (code, ""), "{line}");
    serde_json::from_str(&said.out).unwrap_or_else(|error| panic!("{line}: {error}: {}", said.out))
}

fn json(line: &str) -> Value {
    json_with(0, line)
}

/// The words of a line as a shell parts them.
fn words(line: &str) -> Vec<String> {
    shlex::split(line).expect("quotes that close")
}

/// `text` in a file of that name in `folder`, as a word of a command line.
fn file(folder: &Path, name: &str, text: &str) -> String {
    let path = folder.join(name);
    fs::write(&path, text).expect("a file to read");
    word(&path)
}

fn word(path: &Path) -> String {
    format!("\"{}\"", path.display())
}

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

/// A new book in a folder of its own, and the option that names it.
fn starter_book() -> (tempfile::TempDir, String) {
    let parent = folder();
    let book = word(&parent.path().join("bench"));
    let said = run(&format!("new {book}"));
    assert_eq!((said.code, said.err.as_str()), (0, ""), "a new book");
    (parent, format!("--book {book}"))
}

/// The folder of the book that this option names.
fn dir_of(book: &str) -> std::path::PathBuf {
    book.trim_start_matches("--book ").trim_matches('"').into()
}

const COLUMNS: &str = "build,base,base_g,mix,thickness_mm,backing,contact,foam,foam_g,foam_mix,paint,paint_g,paint_mix,paint_mm";

/// What `predict` says of the builds in `rows`, each the cells of [`COLUMNS`] (those at the end may be left out).
fn predict<S: AsRef<str>>(rows: &[S], options: &str) -> Vec<Value> {
    let columns = COLUMNS.split(',').count();
    let mut table = COLUMNS.to_owned();
    for row in rows {
        let row = row.as_ref();
        let missing = columns - row.split(',').count();
        table += &format!("\n{row}{}", ",".repeat(missing));
    }
    let folder = folder();
    let builds = file(folder.path(), "builds.csv", &table);
    let answer = json(&format!("predict --builds {builds} {options}"));
    let builds = answer["builds"].as_array().expect("a list of builds");
    assert_eq!(builds.len(), rows.len(), "a prediction for each build");
    builds.clone()
}

/// The one colour that `predict` says a build has.
fn colour_of(row: &str) -> Lab {
    lab(&predict(&[row], "")[0])
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("a number: {value}"))
}

/// The colour in the keys `L`, `a`, `b` of an object, or in a list of three.
fn lab(value: &Value) -> Lab {
    if value.is_array() {
        Lab::new(number(&value[0]), number(&value[1]), number(&value[2]))
    } else {
        Lab::new(
            number(&value["L"]),
            number(&value["a"]),
            number(&value["b"]),
        )
    }
}

/// Asserts that two colours are the same but for the rounding of sums.
fn assert_same(one: Lab, other: Lab, what: &str) {
    const EPSILON: f64 = 1e-9;
    for (one, other) in [(one.l, other.l), (one.a, other.a), (one.b, other.b)] {
        assert!((one - other).abs() <= EPSILON, "{what}: {one} and {other}");
    }
}

/// `drops` of a recipe in JSON, as a mix.
fn mix_of(drops: &Value) -> String {
    let drops = drops.as_object().expect("drops by name");
    let entries: Vec<String> = drops
        .iter()
        .map(|(name, count)| format!("{name} {count}"))
        .collect();
    entries.join("; ")
}

#[test]
fn the_program_runs_twice_in_one_process_and_says_the_same() {
    let line = "target --lab 65,12,17 --illuminants A,FL11";
    let (first, second) = (run(line), run(line));
    assert_eq!(first.code, 0, "{}", first.err);
    assert_eq!(first.out, second.out, "the same question, the same answer");
}
