//! The `dropwise` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    // Both strip colour where it isn't wanted: NO_COLOR, a pipe, a terminal without it.
    let (mut out, mut err) = (anstream::stdout(), anstream::stderr());
    ExitCode::from(dropwise::cli::run(std::env::args_os(), &mut out, &mut err))
}
