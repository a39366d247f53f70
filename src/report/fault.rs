//! What went wrong, for other programs.

use serde::Serialize;

use super::document::document;
use super::poured::SCHEMA;
use crate::error::{Error, Naming};

/// A document with `error` alone.
#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    error: Fault<'a>,
}

/// What went wrong. What is not known is `null`.
#[derive(Serialize)]
struct Fault<'a> {
    /// `input`, `out of reach` or `machine`.
    kind: &'a str,
    /// The whole line, as it is printed for people.
    message: &'a str,
    /// What was found.
    finding: &'a str,
    /// What would be right.
    mend: Option<String>,
    /// The file that it was found in.
    file: Option<String>,
    /// The line in it, from 1.
    line: Option<u64>,
    /// The column, from 1.
    column: Option<u64>,
}

/// `error` as a document, with settings as `naming` calls them.
pub fn json(error: &Error, naming: Naming) -> String {
    let kind = if error.is_out_of_reach() {
        "out of reach"
    } else if error.is_machine() {
        "machine"
    } else {
        "input"
    };
    let (line, column) = error.line_and_column();
    document(&Document {
        schema: SCHEMA,
        error: Fault {
            kind,
            message: &error.worded(naming),
            finding: error.finding(),
            mend: error.advice().map(|mend| mend.worded(naming)),
            file: error.file().map(|file| file.display().to_string()),
            line,
            column,
        },
    })
}

/// A request that was not understood, `message` being all that is known of it.
pub fn usage_json(message: &str) -> String {
    document(&Document {
        schema: SCHEMA,
        error: Fault {
            kind: "input",
            message,
            finding: message,
            mend: None,
            file: None,
            line: None,
            column: None,
        },
    })
}
