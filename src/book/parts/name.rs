//! What a part may be called: what a file can be called on any disk, and nobody confuses with another.

use std::collections::HashMap;

use crate::book::files::Files;
use crate::error::{Error, Result};
use crate::materials::{MOST_CHARACTERS, is_unseen};

/// The folder of a book that holds its parts, and how their files end.
pub(super) const FOLDER: &str = "parts";
pub(super) const ENDING: &str = ".toml";

/// The file of the part called `name`, from the book's folder.
pub(super) fn file_of(name: &str) -> String {
    format!("{FOLDER}/{name}{ENDING}")
}

/// Most bytes of a file's name on a disk.
const MOST_BYTES: usize = 250;

/// Refuses a name that no file can have, that leads out of the folder, or that can't be seen whole.
pub(super) fn check_name(name: &str) -> Result<()> {
    let shown = || {
        let begin: String = name.chars().take(40).collect();
        format!("`{}`", begin.escape_debug())
    };
    let refuse = |finding: String, mend: &str| Err(Error::input(finding).mend(mend.to_owned()));
    if name.trim().is_empty() {
        return refuse("a part without a name".into(), "such as forearm");
    }
    if name.trim() != name || name.starts_with('.') || name.ends_with('.') {
        let finding = format!(
            "the part's name {} begins or ends with a blank or a point",
            shown()
        );
        return refuse(finding, "leave it out");
    }
    let length = name.chars().count();
    if length > MOST_CHARACTERS || name.len() > MOST_BYTES {
        let finding = format!("the part's name {}… has {length} characters", shown());
        return refuse(
            finding,
            "its file is called so: 200 are the most, and fewer of long letters",
        );
    }
    if let Some(sign) = name.chars().find(|sign| "/\\:*?\"<>|".contains(*sign)) {
        let finding = format!("the part's name {} holds `{sign}`", shown());
        return refuse(
            finding,
            "its file is called so: write a blank, a point or a hyphen instead",
        );
    }
    if name.chars().any(is_unseen) {
        let finding = format!("the part's name {} holds a sign that is not seen", shown());
        return refuse(finding, "write letters, digits and blanks");
    }
    Ok(())
}

/// Refuses two parts whose names differ in case alone: one disk holds both, and another takes them for one.
pub(super) fn check_clashes(files: &Files, names: &[String]) -> Result<()> {
    let mut first_of: HashMap<String, &String> = HashMap::new();
    for name in names {
        if let Some(first) = first_of.insert(name.to_lowercase(), name) {
            let finding = format!(
                "this part and that of `{}` have one name but for its case",
                file_of(first).escape_debug()
            );
            return Err(Error::input(finding)
                .mend("rename one of the two files")
                .in_file(files.label(&file_of(name))));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_what_a_file_can_be_called_on_any_disk() {
        let long = "é".repeat(125);
        for good in ["forearm", "left forearm, 2nd", "Ärmel", "a..b", &long] {
            assert!(check_name(good).is_ok(), "{good}");
        }
        let (many, wide) = ("a".repeat(201), "é".repeat(126));
        for (bad, says) in [
            ("", "without a name"),
            ("  ", "without a name"),
            (" arm", "begins or ends"),
            ("arm.", "begins or ends"),
            ("..", "begins or ends"),
            ("../arm", "begins or ends"),
            ("a/../b", "holds `/`"),
            ("a\\b", "holds `\\`"),
            ("C:arm", "holds `:`"),
            ("arm\n", "begins or ends"),
            ("a\u{202e}rm", "not seen"),
            ("a\tb", "not seen"),
            (&many, "has 201 characters"),
            (&wide, "has 126 characters"),
        ] {
            let error = check_name(bad).expect_err(bad).to_string();
            assert!(error.contains(says), "{bad:?}: {error}");
        }
    }
}
