//! `dropwise serve`: the local page.

use std::io::Write;
use std::net::IpAddr;
use std::path::Path;

use serde_json::json;

use super::interrupt::leave_interrupts_to_another;
use super::{Everywhere, Outcome};
use crate::book::end_writing;
use crate::error::{Error, Result};
use crate::page::{Listening, picture, serve};

#[derive(Debug, clap::Args)]
#[command(after_help = "\
The page has the same jobs as these commands, by touch: a tone off a photograph or typed, cups to pour drop by drop with a \
clock that rings, a casting compared and logged. It needs no network and loads nothing from elsewhere. What it keeps, it keeps \
in the book; the demo book keeps nothing (begin one with `dropwise new DIR`).

Ctrl-C ends it. `dropwise help page` says more.")]
pub(super) struct Options {
    /// The port to listen at; 0 takes any that is free
    #[arg(long, value_name = "N", default_value_t = 8066)]
    port: u16,
    /// Open it to others on the network, such as the telephone at the sink: prints an address with a key, and its picture. The
    /// key is another each time; who has it can read and change the book, and what is sent is not encrypted
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1, require_equals = true)]
    #[expect(
        clippy::option_option,
        reason = "not asked, asked, asked at an address"
    )]
    lan: Option<Option<IpAddr>>,
}

pub(super) fn run(
    options: &Options,
    everywhere: &Everywhere,
    out: &mut dyn Write,
) -> Result<Outcome> {
    // A book that can't be read is refused before anyone opens a page of it.
    everywhere.open_book()?;
    serve(
        everywhere.book.clone(),
        options.port,
        options.lan,
        |listening| {
            let told = match everywhere.json {
                true => document(listening),
                false => text(listening)?,
            };
            leave_interrupts_to_another();
            // It is read while the page is served, also by a program that waits for it.
            let written = out.write_all(told.as_bytes()).and_then(|()| out.flush());
            written.map_err(|cause| Error::machine("write to", Path::new("standard output"), cause))
        },
    )?;
    // What is being written is written whole before the program ends.
    end_writing();
    Ok(Outcome::done(String::new()))
}

fn document(listening: &Listening) -> String {
    let Listening { address, others } = listening;
    format!("{}\n", json!({ "address": address, "others": others }))
}

fn text(listening: &Listening) -> Result<String> {
    let Listening { address, others } = listening;
    let mut text = format!("listening at {address} (Ctrl-C ends it)\n");
    if let Some(others) = others {
        text.push_str(&format!(
            "on this network: {others}\n\n{}\n\
             Whoever has this address, or takes its picture, can read and change this book\n\
             until you end it. Others on the same network may see what is sent: use one\n\
             that you trust.\n",
            picture(others)?
        ));
    }
    Ok(text)
}
