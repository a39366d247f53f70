//! The README keeps its word: every command in its `console` blocks prints what stands below it, its first command
//! runs, and its first paragraph is that of the library's front door.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn readme() -> String {
    fs::read_to_string(root().join("README.md")).expect("the README is there")
}

fn dropwise(words: &[String], folder: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_dropwise"))
        .args(words)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .output()
        .expect("the binary starts")
}

/// Lines without the spaces at their ends, where a terminal has its colour patches.
fn tidy(text: &str) -> String {
    text.lines()
        .map(str::trim_end)
        .collect::<Vec<_>>()
        .join("\n")
        .trim_end()
        .to_owned()
}

#[test]
fn every_command_of_the_worked_session_prints_what_the_readme_says() {
    let workshop = tempfile::tempdir().expect("a temporary folder");
    let mut folder = PathBuf::from(workshop.path());
    let readme = readme();
    let mut run = 0;
    for block in readme.split("```console\n").skip(1) {
        let block = block.split("```").next().expect("split has a first piece");
        for step in format!("\n{block}").split("\n$ ").skip(1) {
            let (command, printed) = step.split_once('\n').unwrap_or((step, ""));
            let words = shlex::split(command).expect("quotes that close");
            match words[0].as_str() {
                "cd" => folder.push(&words[1]),
                "dropwise" => {
                    let output = dropwise(&words[1..], &folder);
                    let errors = String::from_utf8_lossy(&output.stderr);
                    assert!(output.status.success(), "{command}: {errors}");
                    assert_eq!(
                        tidy(&String::from_utf8_lossy(&output.stdout)),
                        tidy(printed),
                        "{command}"
                    );
                    run += 1;
                }
                other => panic!("the README runs `{other}`"),
            }
        }
    }
    assert!(run >= 5, "the session has its commands, found {run}");
}

#[test]
fn the_first_command_makes_a_sheet() {
    let readme = readme();
    let command = readme
        .split("cargo run --release -- ")
        .nth(1)
        .and_then(|rest| rest.lines().next());
    let words = shlex::split(command.expect("a first command")).expect("quotes that close");
    let in_the_folder = |word: &String| match word.strip_prefix("swatches/") {
        Some(file) => root().join("swatches").join(file).display().to_string(),
        None => word.clone(),
    };
    let words: Vec<String> = words.iter().map(in_the_folder).collect();
    let folder = tempfile::tempdir().expect("a temporary folder");
    let output = dropwise(&words, folder.path());
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let sheet = fs::read_to_string(folder.path().join("sheet.html")).expect("the sheet is written");
    assert!(
        sheet.contains("iron oxide red"),
        "the sheet names its pigments"
    );
}

#[test]
fn the_first_paragraph_is_that_of_the_front_door() {
    let front_door = fs::read_to_string(root().join("src/lib.rs")).expect("lib.rs is there");
    let first = |text: &str| {
        text.split("\n\n")
            .next()
            .unwrap_or_default()
            .trim()
            .to_owned()
    };
    let door: Vec<&str> = front_door
        .lines()
        .map_while(|line| line.strip_prefix("//!"))
        .collect();
    let door = door
        .iter()
        .map(|line| line.trim())
        .collect::<Vec<_>>()
        .join("\n");
    let readme = readme();
    let readme = readme
        .strip_prefix("# dropwise\n\n")
        .expect("the README opens with its name");
    assert_eq!(first(readme), first(&door), "README.md and src/lib.rs");
}
