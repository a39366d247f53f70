//! What a source file says in code, and what it says in words.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// A source file, read apart.
pub(crate) struct Source {
    /// Code alone: blanks stand for comments and for what strings hold.
    pub(crate) code: String,
    /// String literals and doc comments, each with the line it begins in, counted from 1.
    pub(crate) words: Vec<(usize, String)>,
    /// Modules that are compiled for tests alone and stand in files of their own.
    test_modules: Vec<String>,
}

impl Source {
    /// Reads `text` apart and leaves out what is compiled for tests alone, which may build what it tests from any room.
    pub(crate) fn of(text: &str) -> Self {
        let chars: Vec<char> = text.chars().collect();
        let mut code = String::with_capacity(text.len());
        let mut words = Vec::new();
        let mut at = 0;
        while at < chars.len() {
            let end = token(&chars, at);
            let piece: String = chars[at..end].iter().collect();
            let is_code = end == at + 1 || is_plain(&piece);
            if is_code {
                code.push_str(&piece);
            } else {
                let is_doc = piece.starts_with("///") || piece.starts_with("//!");
                if piece.ends_with(['"', '#']) || is_doc {
                    words.push((code.len(), piece.clone()));
                }
                // Blanks of the same length keep every offset and line.
                code.extend(
                    piece
                        .bytes()
                        .map(|byte| if byte == b'\n' { '\n' } else { ' ' }),
                );
            }
            at = end;
        }
        let (code, test_modules) = without_tests(&code);
        let kept = |offset: &usize| !code[*offset..].starts_with(TEST_CODE);
        let line = |offset: usize| 1 + code[..offset].matches('\n').count();
        let words = words
            .into_iter()
            .filter(|(offset, _)| kept(offset))
            .map(|(offset, piece)| (line(offset), piece))
            .collect();
        Self {
            code: code.replace(TEST_CODE, " "),
            words,
            test_modules,
        }
    }
}

/// Stands for every character but a line's end in code that is compiled for tests alone.
const TEST_CODE: char = '\u{1}';

/// Whether a token is code of more than one character: a lifetime, a character, a name.
fn is_plain(token: &str) -> bool {
    token.starts_with('\'')
        || token.starts_with(|c: char| c.is_alphanumeric() || c == '_')
            && !token.ends_with(['"', '#'])
}

/// Where the token that begins at `at` ends: a comment, a string, a character, a name, or one character of anything else.
fn token(chars: &[char], at: usize) -> usize {
    let starts = |offset: usize, text: &str| {
        text.chars()
            .enumerate()
            .all(|(i, c)| chars.get(at + offset + i) == Some(&c))
    };
    let find = |from: usize, done: &dyn Fn(usize) -> bool| {
        (from..chars.len())
            .find(|&i| done(i))
            .unwrap_or(chars.len())
    };
    if starts(0, "//") {
        return find(at, &|i| chars[i] == '\n');
    }
    assert!(!starts(0, "/*"), "the house writes comments by line");
    if chars[at] == '"' {
        return end_of_string(chars, at + 1);
    }
    if chars[at] == '\'' {
        let escaped = chars.get(at + 1) == Some(&'\\');
        let quoted = escaped || chars.get(at + 2) == Some(&'\'');
        return if quoted {
            find(at + 3 - usize::from(!escaped), &|i| chars[i] == '\'') + 1
        } else {
            at + 1
        };
    }
    if !(chars[at].is_alphanumeric() || chars[at] == '_') {
        return at + 1;
    }
    let end = find(at, &|i| !(chars[i].is_alphanumeric() || chars[i] == '_'));
    let name: String = chars[at..end].iter().collect();
    match name.as_str() {
        "b" | "c" if chars.get(end) == Some(&'"') => end_of_string(chars, end + 1),
        "r" | "br" | "cr" => {
            let opened = find(end, &|i| chars[i] != '#');
            if chars.get(opened) != Some(&'"') {
                return end;
            }
            let hashes = opened - end;
            let closes =
                |i: usize| chars[i] == '"' && (1..=hashes).all(|n| chars.get(i + n) == Some(&'#'));
            (find(opened + 1, &closes) + 1 + hashes).min(chars.len())
        }
        _ => end,
    }
}

fn end_of_string(chars: &[char], from: usize) -> usize {
    let mut at = from;
    while at < chars.len() && chars[at] != '"' {
        at += if chars[at] == '\\' { 2 } else { 1 };
    }
    (at + 1).min(chars.len())
}

/// `code` with every item behind `#[cfg(test)]` struck out, and the names of those that are modules in files of their own.
fn without_tests(code: &str) -> (String, Vec<String>) {
    const MARK: &str = "#[cfg(test)]";
    let mut code = code.to_owned();
    let mut modules = Vec::new();
    while let Some(start) = code.find(MARK) {
        let body = start + MARK.len();
        let mut depth = 0;
        let end = code[body..]
            .char_indices()
            .find_map(|(i, c)| {
                depth += i32::from("([{".contains(c)) - i32::from(")]}".contains(c));
                (depth == 0 && matches!(c, ';' | '}')).then_some(body + i + 1)
            })
            .expect("an item ends");
        let item = code[body..end].trim().trim_end_matches(';');
        if let (Some((_, name)), false) = (item.rsplit_once("mod "), item.contains('{')) {
            modules.push(name.to_owned());
        }
        // Byte for byte, so that offsets stay.
        let struck: String = code[start..end]
            .bytes()
            .map(|byte| if byte == b'\n' { '\n' } else { TEST_CODE })
            .collect();
        code.replace_range(start..end, &struck);
    }
    (code, modules)
}

/// The sources under a folder by their module path: `search::proof::kernel`, and `search` for `search/mod.rs`. Modules
/// that are compiled for tests alone are left out.
pub(crate) fn modules(folder: &Path) -> BTreeMap<String, Source> {
    let mut found: BTreeMap<String, Source> = files(folder)
        .into_iter()
        .map(|file| {
            let text = fs::read_to_string(&file).expect("a source can be read");
            (module_path(&file, folder), Source::of(&text))
        })
        .collect();
    let tests: Vec<String> = found
        .iter()
        .flat_map(|(path, source)| {
            source
                .test_modules
                .iter()
                .map(move |name| format!("{path}::{name}"))
        })
        .collect();
    found.retain(|path, _| {
        !tests
            .iter()
            .any(|test| path == test || path.starts_with(&format!("{test}::")))
    });
    found
}

fn module_path(file: &Path, folder: &Path) -> String {
    let inside = file.strip_prefix(folder).expect("under the folder");
    let mut names: Vec<String> = inside
        .with_extension("")
        .components()
        .map(|name| name.as_os_str().to_string_lossy().into_owned())
        .collect();
    if names.last().is_some_and(|name| name == "mod") {
        names.pop();
    }
    names.join("::")
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("the folder is there") {
        let path = entry.expect("the folder can be read").path();
        if path.is_dir() {
            found.extend(files(&path));
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
    found
}

#[test]
fn words_are_told_from_code_and_tests_are_left_out() {
    let source = Source::of(
        "/// Says `--a`.\nfn f<'a>(c: &'a str) -> char { g(\"crate::x \\\" --b\", r#\"--c\"#); '\"' } // --d\n\
         #[cfg(test)]\nmod checks;\n#[cfg(test)]\nmod tests { fn h() -> [u8; 2] { i(\"--e\") } }\n\
         #[cfg(test)]\nfn j() -> [u8; 2] { l() }\nuse super::k;\n",
    );
    let words: Vec<(usize, &str)> = source
        .words
        .iter()
        .map(|(line, text)| (*line, text.as_str()))
        .collect();
    assert_eq!(
        words,
        [
            (1, "/// Says `--a`."),
            (2, "\"crate::x \\\" --b\""),
            (2, "r#\"--c\"#")
        ],
        "words"
    );
    assert!(!source.code.contains("crate::x"), "a string is no code");
    assert!(source.code.contains("'\"' }"), "a character is code");
    assert!(
        source.code.contains("use super::k;"),
        "code goes on after tests"
    );
    assert!(
        !source.code.contains("fn h") && !source.code.contains("l()"),
        "tests are left out"
    );
    assert_eq!(source.test_modules, ["checks"], "modules of tests alone");
}
