//! What a name, and any other text that is shown again, may hold: signs that are seen, and not too many of them.

use crate::error::{Error, Result};

/// Most characters of a name.
pub(crate) const MOST_CHARACTERS: usize = 200;

/// Whether `sign` prints nothing by itself, or changes how what stands around it is shown: controls, marks that turn the
/// line round, blanks of no width.
pub(crate) fn is_unseen(sign: char) -> bool {
    sign.is_control()
        || (sign.is_whitespace() && !matches!(sign, ' ' | '\u{a0}' | '\u{202f}' | '\u{3000}'))
        || matches!(
            sign,
            '\u{ad}'
                | '\u{61c}'
                | '\u{180e}'
                | '\u{200b}'..='\u{200f}'
                | '\u{202a}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}'
                | '\u{feff}'
                | '\u{fff9}'..='\u{fffb}'
                | '\u{e0000}'..='\u{e007f}'
        )
}

/// Refuses `text`, that of `what`, with a sign that is [not seen](is_unseen); lines may end and tabs part.
///
/// # Errors
/// An input error that names the sign by its number.
pub(crate) fn check_seen(what: &str, text: &str) -> Result<()> {
    if is_printed_ascii(text) {
        return Ok(());
    }
    let unseen = |sign: &char| is_unseen(*sign) && !matches!(sign, '\n' | '\r' | '\t');
    text.chars()
        .find(unseen)
        .map_or(Ok(()), |sign| Err(refusal(what, sign)))
}

/// Refuses `name`, that of `what`, which is longer than [`MOST_CHARACTERS`] or holds a sign that is [not seen](is_unseen).
///
/// # Errors
/// An input error that does not repeat the name.
pub(crate) fn check_name(what: &str, name: &str) -> Result<()> {
    if is_printed_ascii(name) && name.len() <= MOST_CHARACTERS {
        return Ok(());
    }
    let length = name.chars().count();
    if length > MOST_CHARACTERS {
        let finding = format!("{what} has {length} characters; expected at most {MOST_CHARACTERS}");
        return Err(Error::input(finding).mend("give it a shorter one"));
    }
    name.chars()
        .find(|sign| is_unseen(*sign))
        .map_or(Ok(()), |sign| Err(refusal(what, sign)))
}

/// Whether all of `text` is plain and seen, as nearly all cells of a log are: told without asking of each sign what it is.
fn is_printed_ascii(text: &str) -> bool {
    text.bytes().all(|byte| matches!(byte, b' '..=b'~'))
}

fn refusal(what: &str, sign: char) -> Error {
    let finding = format!(
        "{what} holds U+{:04X}, a sign that is not seen",
        u32::from(sign)
    );
    Error::input(finding).mend("write letters, digits, blanks and what else is seen")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_short_and_seen_whole() {
        for good in ["iron oxide red", "Müller’s 3 – α", "肌色", ""] {
            assert!(check_name("the name", good).is_ok(), "{good}");
        }
        let long = "a".repeat(201);
        let error = check_name("the name", &long)
            .expect_err("too long")
            .to_string();
        assert!(
            error.starts_with("the name has 201 characters; expected at most 200"),
            "{error}"
        );
        for sign in [
            '\u{202e}', '\u{1b}', '\0', '\u{200b}', '\n', '\u{2066}', '\u{2028}',
        ] {
            let error = check_name("the name", &format!("a{sign}b")).expect_err("not seen");
            assert!(error.to_string().contains("holds U+"), "{error}");
        }
        assert!(
            check_seen("the note", "two\nlines").is_ok(),
            "lines may end"
        );
        assert!(
            check_seen("the note", "\u{1b}[2J").is_err(),
            "and nothing else"
        );
    }
}
