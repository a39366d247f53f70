//! `dropwise plan`: the chips to cast next.

use super::input::{Bar, count_to};
use super::matching::typed_target;
use super::ordering::base_name;
use super::{Everywhere, Outcome};
use crate::characterise::{Wish, foam_pairs, plan};
use crate::error::Result;
use crate::materials::Kind;
use crate::report::advice;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// How many chips
    #[arg(long, value_name = "N", value_parser = count_to::<usize>(100), default_value_t = 4)]
    count: usize,
    /// A tone that is to be made: L*,a*,b*, or a file kept by `target --save` [default: skin of all tones]
    #[arg(long, value_name = "L,a,b|FILE", allow_hyphen_values = true)]
    target: Option<String>,
    /// The skin that chips are cast of [default: the book's first]
    #[arg(long, value_name = "NAME")]
    base: Option<String>,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    let book = everywhere.open_book()?;
    let first = book.first_guesses()?;
    let base = base_name(&first, options.base.as_deref(), Kind::Skin)?;
    let viewing = first.settings.viewing;
    let tone = options
        .target
        .as_deref()
        .map(|typed| typed_target(typed, viewing))
        .transpose()?;
    let wish = Wish {
        base: &base,
        tone: tone.map(|target| target.lab),
        count: options.count,
    };
    let mut bar = Bar::new("weighing chips against each other");
    let chips = plan(&first, book.swatches(), &wish, &mut |share| bar.show(share))?;
    bar.clear();
    let pairs = foam_pairs(&first, book.swatches(), &base)?;
    Ok(Outcome::done(if everywhere.json {
        advice::json(&chips, &pairs)
    } else {
        advice::text(&chips, &pairs, &first)
    }))
}
