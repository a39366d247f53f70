//! Bad input: one clear line on the error stream, nothing on the other, exit code 2, nothing lost.

mod amounts;
mod files;
mod lies;
mod words;

use super::run;

const LAYER: &str = r#"match --target 66,12,17 --base-g 600 --backing "white card""#;

/// Asserts that `line` is refused with one line that holds `says`.
fn assert_refused(line: &str, says: &str) {
    assert_refused_in(line, &[says]);
}

/// Asserts that `line` is refused with one line that holds all of `says`.
pub(super) fn assert_refused_in(line: &str, says: &[&str]) {
    let said = run(line);
    assert_eq!(
        (said.code, said.out.as_str()),
        (2, ""),
        "{line}: {}",
        said.err
    );
    assert!(
        said.err.starts_with("error: ") && said.err.ends_with('\n'),
        "{line}: {}",
        said.err
    );
    assert_eq!(said.err.lines().count(), 1, "{line}: {}", said.err);
    for words in says {
        assert!(said.err.contains(words), "{line}: {}", said.err);
    }
    assert!(!said.err.contains('\u{1b}'), "{line}: plain text");
}

fn assert_all_refused(base: &str, cases: &[(&str, &str)]) {
    for (rest, says) in cases {
        assert_refused(&format!("{base} {rest}"), says);
    }
}
