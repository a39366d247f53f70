//! One thing asked at a time, of somebody at a terminal.
//!
//! What was typed is never lost: a bad answer is asked for again with its mend, and whoever says no at the end goes through the
//! questions once more with every answer standing.

use std::collections::HashMap;
use std::io::{BufRead, Write};

use super::naming;
use super::shown::shown;
use crate::error::{Error, Result};

/// Somebody who can be asked.
pub(super) struct Asking<'a> {
    input: &'a mut dyn BufRead,
    out: &'a mut dyn Write,
    /// What was answered so far, by what was asked, with what was known then.
    answers: HashMap<&'static str, (Option<String>, String)>,
}

impl<'a> Asking<'a> {
    /// Asks on `out` and hears on `input`.
    pub(super) fn of(input: &'a mut dyn BufRead, out: &'a mut dyn Write) -> Self {
        Self {
            input,
            out,
            answers: HashMap::new(),
        }
    }

    /// What `read` makes of the answer to `question`, and the answer itself. An empty answer takes what was answered before, where
    /// the same was known then, or else what is `known`, if there is either.
    ///
    /// # Errors
    /// No more answers come; the terminal fails.
    pub(super) fn ask<T>(
        &mut self,
        question: &'static str,
        known: Option<&str>,
        read: impl Fn(&str) -> Result<T>,
    ) -> Result<(String, T)> {
        let before = self.answers.get(question);
        let before = before.filter(|(then, _)| then.as_deref() == known);
        let offered = before.map(|(_, answer)| answer.as_str()).or(known);
        let offered = offered.map(str::to_owned);
        loop {
            self.say(&match &offered {
                Some(offered) => format!("{question} [{offered}]: "),
                None => format!("{question}: "),
            })?;
            let mut line = String::new();
            let heard = self.input.read_line(&mut line);
            if heard.map_err(|cause| Error::busy(format!("cannot hear the answer: {cause}")))? == 0
            {
                self.say("\n")?;
                return Err(
                    Error::input("the answers ended, and nothing was written").mend(
                        "answer all that is asked; an empty line takes what stands in brackets",
                    ),
                );
            }
            let typed = line.trim();
            let answer = match &offered {
                Some(offered) if typed.is_empty() => offered.clone(),
                _ => typed.to_owned(),
            };
            match read(&answer) {
                Ok(value) => {
                    let known = known.map(str::to_owned);
                    self.answers.insert(question, (known, answer.clone()));
                    return Ok((answer, value));
                }
                Err(error) => self.say(&format!("  {}\n", shown(&error.worded(naming::option))))?,
            }
        }
    }

    /// Whether the answer to `question` is yes.
    ///
    /// # Errors
    /// As [`ask`](Self::ask).
    pub(super) fn agrees(&mut self, question: &'static str) -> Result<bool> {
        self.answers.remove(question);
        let read = |answer: &str| match answer.to_lowercase().as_str() {
            "y" | "yes" => Ok(true),
            "n" | "no" => Ok(false),
            _ => Err(Error::input("neither yes nor no").mend("write yes or no")),
        };
        self.ask(question, None, read).map(|(_, agrees)| agrees)
    }

    /// Says `words`, at once.
    ///
    /// # Errors
    /// The terminal fails.
    pub(super) fn say(&mut self, words: &str) -> Result<()> {
        let said = (self.out.write_all(words.as_bytes())).and_then(|()| self.out.flush());
        said.map_err(|cause| Error::busy(format!("cannot ask: {cause}")))
    }
}
