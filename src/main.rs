//! The `dropwise` command.

use std::io::{self, Write};
use std::process::ExitCode;

use anstream::{AutoStream, ColorChoice};
use dropwise::cli::{Plain, attend, run, shows_in_pager};

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
    ExitCode::from(run(arguments, &mut out, &mut anstream::stderr()))
}
