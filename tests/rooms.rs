//! The rooms of the library import one way only: each may use those in its row and no other.
//!
//! The table is the one of DEVELOPERS.md, which this test reads, so that neither can go astray.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Rows ``| `room` | … | `other`, `third` |`` of the table under "The rooms".
fn allowed() -> BTreeMap<String, Vec<String>> {
    let guide = fs::read_to_string(root().join("DEVELOPERS.md")).expect("the guide is there");
    let table = guide
        .split("## The rooms")
        .nth(1)
        .expect("the guide has a chapter on rooms");
    let table = table
        .split("\n## ")
        .next()
        .expect("split has a first piece");
    let names = |cell: &str| -> Vec<String> {
        cell.split('`')
            .skip(1)
            .step_by(2)
            .map(str::to_owned)
            .collect()
    };
    table
        .lines()
        .filter(|line| line.starts_with("| `"))
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split('|').collect();
            let room = names(cells[0]).remove(0);
            (room, names(cells[cells.len() - 1]))
        })
        .collect()
}

fn sources(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).expect("src is a folder");
    let mut found = Vec::new();
    for entry in entries {
        let path = entry.expect("src can be read").path();
        if path.is_dir() {
            found.extend(sources(&path));
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// The room that a source file belongs to: its folder under src, or its own name.
fn room_of(source: &Path) -> String {
    let inside = source.strip_prefix(root().join("src")).expect("under src");
    let first = inside.components().next().expect("a file has a name");
    first
        .as_os_str()
        .to_string_lossy()
        .trim_end_matches(".rs")
        .to_owned()
}

/// Rooms named after `crate::` in code. Comments don't count, nor do tests at the end of a file, which may build what
/// they test from any room; a list in braces would hide its names, and the house has none.
fn imports(source: &str) -> Vec<String> {
    let source = source
        .split("#[cfg(test)]\nmod tests {")
        .next()
        .unwrap_or_default();
    let code = source
        .lines()
        .map(|line| line.split("//").next().unwrap_or_default());
    let code: String = code.collect::<Vec<_>>().join("\n");
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

#[test]
fn every_room_imports_only_what_its_row_allows() {
    let allowed = allowed();
    for source in sources(&root().join("src")) {
        let room = room_of(&source);
        if room == "lib" || room == "main" {
            continue;
        }
        let row = allowed
            .get(&room)
            .unwrap_or_else(|| panic!("DEVELOPERS.md has no row for `{room}`"));
        let text = fs::read_to_string(&source).expect("a source can be read");
        for import in imports(&text) {
            // `crate::Result` and `crate::Error` are the error room's.
            let import = if matches!(import.as_str(), "Result" | "Error") {
                "error".to_owned()
            } else {
                import
            };
            assert!(
                import == room || row.contains(&import),
                "{} imports `{import}`; `{room}` may import {row:?}",
                source.display()
            );
        }
    }
}

#[test]
fn the_table_names_every_room_and_no_other() {
    let rooms: Vec<String> = allowed().into_keys().collect();
    let mut found: Vec<String> = sources(&root().join("src"))
        .iter()
        .map(|source| room_of(source))
        .collect();
    found.sort();
    found.dedup();
    found.retain(|room| room != "lib" && room != "main");
    assert_eq!(rooms, found, "rows of the table, and folders under src");
}

#[test]
fn the_checker_sees_an_import_that_is_not_allowed() {
    let text = "use crate::colour::Lab;\nfn f() { crate::optics::g() } // crate::cli\n";
    assert_eq!(
        imports(text),
        ["colour", "optics"],
        "uses and paths, no comments"
    );
}
