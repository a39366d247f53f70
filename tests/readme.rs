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

/// Commands after `    $ ` in a page, each with the indented lines below it.
fn steps_of(page: &str) -> Vec<(String, String)> {
    let mut steps: Vec<(String, String)> = Vec::new();
    let mut is_in_block = false;
    for line in page.lines() {
        if let Some(command) = line.strip_prefix("    $ ") {
            steps.push((command.to_owned(), String::new()));
            is_in_block = true;
        } else if !(line.is_empty() || line.starts_with("    ")) {
            is_in_block = false;
        } else if let (true, Some((_, printed))) = (is_in_block, steps.last_mut()) {
            printed.push_str(line.strip_prefix("    ").unwrap_or(line));
            printed.push('\n');
        }
    }
    steps
}

#[test]
fn every_help_topic_is_listed_and_its_commands_print_what_it_says() {
    let folder = root().join("src/cli/help");
    let topics = fs::read_to_string(folder.join("topics.txt")).expect("the list is there");
    let mut run = 0;
    for page in fs::read_dir(folder).expect("the pages are there") {
        let page = page.expect("a page").path();
        let name = page.file_stem().expect("a name").display().to_string();
        let listed = topics
            .lines()
            .any(|line| line.trim_start().starts_with(&format!("{name} ")));
        assert!(listed || name == "topics", "{name} is not listed");
        let text = fs::read_to_string(&page).expect("text");
        let workshop = tempfile::tempdir().expect("a temporary folder");
        let help = dropwise(&["help".to_owned(), name.clone()], workshop.path());
        assert_eq!(String::from_utf8_lossy(&help.stdout), text, "help {name}");
        let begin = [
            "new bench --demo",
            "target --lab 65.1,10.6,13.9 --save bench/keeper.json",
        ];
        for line in begin {
            let words = shlex::split(line).expect("words");
            assert!(dropwise(&words, workshop.path()).status.success(), "{line}");
        }
        for (command, printed) in steps_of(&text) {
            let words = shlex::split(&command).expect("quotes that close");
            let output = dropwise(&words[1..], &workshop.path().join("bench"));
            let errors = String::from_utf8_lossy(&output.stderr);
            assert!(output.status.success(), "{name}: {command}: {errors}");
            if !printed.trim().is_empty() {
                let out = String::from_utf8_lossy(&output.stdout);
                assert_eq!(tidy(&out), tidy(&printed), "{name}: {command}");
            }
            run += 1;
        }
    }
    assert!(run >= 5, "the topics have their commands, found {run}");
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
