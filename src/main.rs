//! The `dropwise` command.

use std::io::{self, IsTerminal as _, Write};
use std::process::ExitCode;

use anstream::{AutoStream, ColorChoice};
use dropwise::cli::{Plain, attend, run, run_asking, shows_in_pager};

fn main() -> ExitCode {
    // Colour isn't wanted by NO_COLOR, a pipe, a terminal without it.
    let mut out: Box<dyn Write> = match AutoStream::choice(&io::stdout()) {
        ColorChoice::Never => Box::new(Plain::new(io::stdout())),
        _ => Box::new(anstream::stdout()),
    };
    attend();
    let arguments: Vec<_> = std::env::args_os().collect();
    if shows_in_pager(&arguments) {
        return ExitCode::SUCCESS;
    }
    let err = &mut anstream::stderr();
    let can_be_asked = io::stdin().is_terminal() && io::stdout().is_terminal();
    ExitCode::from(if can_be_asked {
        run_asking(arguments, &mut io::stdin().lock(), &mut out, err)
    } else {
        run(arguments, &mut out, err)
    })
}
