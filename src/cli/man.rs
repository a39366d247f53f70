//! `dropwise man`: pages for `man`.

use clap::CommandFactory as _;
use clap_mangen::Man;

use super::{Arguments, Outcome};
use crate::error::{Error, Result};

/// Arguments of `man`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
To read: dropwise man | man -l -

To keep: dropwise man > ~/.local/share/man/man1/dropwise.1 && dropwise man match > \
~/.local/share/man/man1/dropwise-match.1")]
pub(super) struct Options {
    /// A command, for its own page [default: the page of the program]
    command: Option<String>,
}

pub(super) fn run(options: &Options) -> Result<Outcome> {
    let mut program = Arguments::command();
    // So that a command's own page lists what every command takes.
    program.build();
    let asked = match &options.command {
        None => program,
        Some(name) => {
            let found = program.find_subcommand(name).cloned();
            found.ok_or_else(|| {
                Error::input(format!("no command `{name}`")).mend("`dropwise --help` lists them")
            })?
        }
    };
    let mut page = Vec::new();
    let written = Man::new(asked).render(&mut page);
    written.expect("memory takes all that is written");
    let text = String::from_utf8(page).expect("pages are made of our own text");
    Ok(Outcome::done(text))
}
