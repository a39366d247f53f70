//! `dropwise help TOPIC`: pages of plain text, embedded; in a pager where a person reads on a terminal.

use std::ffi::OsString;
use std::io::{self, IsTerminal as _, Write as _};
use std::process::{Command, Stdio};

/// The topics, each with its page; `topics` is the list of them.
pub(super) const TOPICS: [(&str, &str); 18] = [
    ("charts", include_str!("help/charts.txt")),
    ("files", include_str!("help/files.txt")),
    ("foams", include_str!("help/foams.txt")),
    ("json", include_str!("help/json.txt")),
    ("learning", include_str!("help/learning.txt")),
    ("let-downs", include_str!("help/let-downs.txt")),
    ("lights", include_str!("help/lights.txt")),
    ("limits", include_str!("help/limits.txt")),
    ("lots", include_str!("help/lots.txt")),
    ("moulds", include_str!("help/moulds.txt")),
    ("others", include_str!("help/others.txt")),
    ("page", include_str!("help/page.txt")),
    ("parts", include_str!("help/parts.txt")),
    ("photographs", include_str!("help/photographs.txt")),
    ("pots", include_str!("help/pots.txt")),
    ("readings", include_str!("help/readings.txt")),
    ("stocks", include_str!("help/stocks.txt")),
    ("topics", include_str!("help/topics.txt")),
];

/// The page that `arguments` (the program's name first) ask for; `None` where they ask for something else.
pub(super) fn page(arguments: &[OsString]) -> Option<&'static str> {
    let [_, help, topic] = arguments else {
        return None;
    };
    if help != "help" {
        return None;
    }
    let mut topics = TOPICS.iter();
    let (_, page) = topics.find(|(name, _)| topic == name)?;
    Some(page)
}

/// Shows the page that `arguments` ask for in a pager; whether it did. Where standard output is no terminal, or no pager is
/// there, nothing is shown.
pub fn shows_in_pager(arguments: &[OsString]) -> bool {
    let Some(page) = page(arguments) else {
        return false;
    };
    io::stdout().is_terminal() && paged(page)
}

/// Whether a pager took `page`: that of `PAGER`, else `less`.
fn paged(page: &str) -> bool {
    let pager = std::env::var("PAGER").unwrap_or_else(|_| "less".to_owned());
    let mut words = pager.split_whitespace();
    let Some(program) = words.next() else {
        return false;
    };
    let started = Command::new(program)
        .args(words)
        .stdin(Stdio::piped())
        .spawn();
    let Ok(mut child) = started else {
        return false;
    };
    if let Some(mut into) = child.stdin.take() {
        // A pager that is left early closes its end.
        let _ = into.write_all(page.as_bytes());
    }
    child.wait().is_ok()
}
