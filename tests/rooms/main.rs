//! The rooms of the library import one way only: each may use those in its row and no other. Inside a room no files
//! import each other in a circle, and no room but the faces names a flag of the command line.
//!
//! The table is the one of DEVELOPERS.md, which this test reads, so that neither can go astray.

mod circles;
mod source;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use source::Source;

/// Rooms that people face: they alone may speak of flags.
const FACES: [&str; 2] = ["cli", "page"];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn src() -> PathBuf {
    root().join("src")
}

/// What each room may import: the rows of the table under "The rooms", whose last cell lists rooms, or says `all above`,
/// or `all above but` some. Only rooms that stand above it may be named, so the table has no circle.
fn allowed() -> BTreeMap<String, Vec<String>> {
    let guide = fs::read_to_string(root().join("DEVELOPERS.md")).expect("the guide is there");
    let chapter = guide
        .split("\n## ")
        .find_map(|chapter| chapter.strip_prefix("The rooms\n"))
        .expect("the guide has a chapter on rooms");
    let names = |cell: &str| -> Vec<String> {
        cell.split('`')
            .skip(1)
            .step_by(2)
            .map(str::to_owned)
            .collect()
    };
    let mut above: Vec<String> = Vec::new();
    let mut table = BTreeMap::new();
    for line in chapter.lines().filter(|line| line.starts_with("| `")) {
        let cells: Vec<&str> = line.trim_matches('|').split('|').collect();
        let room = names(cells[0]).remove(0);
        let last = cells[cells.len() - 1].trim();
        let named = names(last);
        for name in &named {
            assert!(
                above.contains(name),
                "`{name}` does not stand above `{room}`"
            );
        }
        let row = if last.starts_with("all above") {
            let kept = above.iter().filter(|name| !named.contains(name));
            kept.cloned().collect()
        } else {
            named
        };
        above.push(room.clone());
        table.insert(room, row);
    }
    table
}

/// The room that a module belongs to.
fn room_of(module: &str) -> &str {
    module.split("::").next().unwrap_or(module)
}

/// Rooms named after `crate::` in code. A list in braces would hide its names, and the house has none.
fn imports(code: &str) -> Vec<String> {
    assert!(
        !code.contains("crate::{"),
        "write one `use crate::` for each room"
    );
    let room = |rest: &str| -> String {
        rest.chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect()
    };
    code.split("crate::")
        .skip(1)
        .map(room)
        .filter(|room| !room.is_empty())
        .collect()
}

/// The flags that a text names: two hyphens and a lower-case letter at the beginning of a word.
fn flags(text: &str) -> Vec<&str> {
    let is_flag = |c: char| c.is_ascii_lowercase() || c == '-';
    text.match_indices("--")
        .filter(|(at, _)| !text[..*at].ends_with(|c: char| c.is_alphanumeric() || c == '-'))
        .map(|(at, _)| &text[at..])
        .filter(|rest| rest[2..].starts_with(|c: char| c.is_ascii_lowercase()))
        .map(|rest| rest.split(|c| !is_flag(c)).next().unwrap_or(rest))
        .collect()
}

#[test]
fn every_room_imports_only_what_its_row_allows() {
    let allowed = allowed();
    for (module, source) in source::modules(&src()) {
        let room = room_of(&module);
        if room == "lib" || room == "main" {
            continue;
        }
        let row = allowed
            .get(room)
            .unwrap_or_else(|| panic!("DEVELOPERS.md has no row for `{room}`"));
        for import in imports(&source.code) {
            // `crate::Result` and `crate::Error` are the error room's.
            let import = if matches!(import.as_str(), "Result" | "Error") {
                "error".to_owned()
            } else {
                import
            };
            assert!(
                import == room || row.contains(&import),
                "{module} imports `{import}`; `{room}` may import {row:?}"
            );
        }
    }
}

#[test]
fn the_table_names_every_room_and_no_other() {
    let rooms: Vec<String> = allowed().into_keys().collect();
    let mut found: Vec<String> = source::modules(&src())
        .keys()
        .map(|module| room_of(module).to_owned())
        .collect();
    found.dedup();
    found.retain(|room| room != "lib" && room != "main");
    assert_eq!(rooms, found, "rows of the table, and folders under src");
}

#[test]
fn no_files_of_a_room_import_each_other_in_a_circle() {
    let mut files = source::modules(&src());
    files.retain(|module, _| module != "lib" && module != "main");
    let found = circles::circles(&files);
    let told: Vec<String> = found
        .iter()
        .flat_map(|circle| {
            let head = format!("{} files:", circle.len());
            let rows = circle
                .iter()
                .map(|(module, others)| format!("    {module} imports {others:?}"));
            std::iter::once(head).chain(rows)
        })
        .collect();
    assert!(found.is_empty(), "circles:\n{}", told.join("\n"));
}

#[test]
fn no_room_but_the_faces_names_a_flag() {
    let mut found = Vec::new();
    for (module, source) in source::modules(&src()) {
        if FACES.contains(&room_of(&module)) {
            continue;
        }
        for (line, text) in &source.words {
            for flag in flags(text) {
                found.push(format!("{module}, text that begins in line {line}: {flag}"));
            }
        }
    }
    assert!(
        found.is_empty(),
        "flags; give advice as data, which a face words:\n{}",
        found.join("\n")
    );
}

#[test]
fn unsafe_code_stands_where_the_guide_says_and_nowhere_else() {
    let guide = fs::read_to_string(root().join("DEVELOPERS.md")).expect("the guide is there");
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    let found: Vec<String> = source::modules(&src())
        .iter()
        .map(|(module, source)| {
            let words = source.code.split(|c| !is_word(c));
            (module, words.filter(|word| *word == "unsafe").count())
        })
        .filter(|(_, count)| *count > 0)
        .map(|(module, count)| format!("unsafe code: {count} times in `{module}`"))
        .collect();
    assert!(!found.is_empty(), "the checker sees it");
    for sentence in &found {
        assert!(guide.contains(sentence), "DEVELOPERS.md says: {sentence}");
    }
    assert_eq!(
        guide.matches("unsafe code: ").count(),
        found.len(),
        "and no more: {found:?}"
    );
}

#[test]
fn the_checker_sees_an_import_that_is_not_allowed() {
    let text = "use crate::colour::Lab;\nfn f() { crate::optics::g() } // crate::cli\n";
    assert_eq!(
        imports(&Source::of(text).code),
        ["colour", "optics"],
        "uses and paths, no comments"
    );
}

#[test]
fn the_checker_sees_a_flag() {
    let text = "\"--day, `--max-add 0`, (leave --one-tint out)\"";
    assert_eq!(flags(text), ["--day", "--max-add", "--one-tint"], "flags");
    assert!(
        flags("a -- b, --- and x--y, --{name}").is_empty(),
        "hyphens that are no flags"
    );
}
