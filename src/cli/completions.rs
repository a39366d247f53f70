//! `dropwise completions`: what a shell needs to complete a line.

use clap::CommandFactory as _;
use clap_complete::Shell;

use super::{Arguments, Outcome};
use crate::error::Result;

/// Arguments of `completions`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
For bash: dropwise completions bash > ~/.local/share/bash-completion/completions/dropwise

For zsh: dropwise completions zsh > a file _dropwise in a folder of $fpath

For fish: dropwise completions fish > ~/.config/fish/completions/dropwise.fish")]
pub(super) struct Options {
    /// The shell
    shell: Shell,
}

pub(super) fn run(options: &Options) -> Result<Outcome> {
    let mut script = Vec::new();
    clap_complete::generate(
        options.shell,
        &mut Arguments::command(),
        "dropwise",
        &mut script,
    );
    let text = String::from_utf8(script).expect("completions are made of our own text");
    Ok(Outcome::done(text))
}
