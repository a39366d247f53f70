//! `dropwise new`: begin a swatch book.

use std::path::PathBuf;

use super::{Everywhere, Outcome};
use crate::book::{Book, Starter};
use crate::error::Result;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// The folder of the new book; it is made, or must be empty
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Lay out the demo, with its invented swatches and photograph, instead of an empty log
    #[arg(long)]
    demo: bool,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let starter = if options.demo {
        Starter::Demo
    } else {
        Starter::Materials
    };
    Book::create(&options.folder, starter)?;
    let folder = options.folder.display();
    Ok(Outcome::done(if everywhere.json {
        serde_json::json!({ "book": folder.to_string() }).to_string() + "\n"
    } else {
        format!(
            "new swatch book: {folder}\n\
             its curves and drops are generic: weigh twenty drops of each bottle by\n\
             `dropwise calibrate --weigh`, and log what you cast with `dropwise swatch add`\n\
             does your reader see 45°/0° or by a sphere? book.toml says `included` (specular)\n"
        )
    }))
}
