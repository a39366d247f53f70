//! `dropwise plan`: the chips to cast next.

use super::input::{Bar, TypedLab};
use super::{Everywhere, Outcome};
use crate::characterise::{Wish, plan};
use crate::error::{Error, Result};
use crate::report::advice;

#[derive(Debug, clap::Args)]
pub(super) struct Options {
    /// How many chips
    #[arg(long, value_name = "N", default_value_t = 4)]
    count: usize,
    /// A tone that is to be made [default: skin of all tones]
    #[arg(long, value_name = "L,a,b", allow_hyphen_values = true)]
    target: Option<TypedLab>,
    /// The skin that chips are cast of [default: the book's first]
    #[arg(long, value_name = "NAME")]
    base: Option<String>,
}

pub(super) fn run(options: &Options, everywhere: &Everywhere) -> Result<Outcome> {
    const MOST: usize = 100;
    if !(1..=MOST).contains(&options.count) {
        return Err(Error::input(format!("a plan of {} chips", options.count))
            .mend(format!("ask for 1 to {MOST}")));
    }
    let book = everywhere.open_book()?;
    let first = book.first_guesses()?;
    let base = match &options.base {
        Some(base) => base,
        None => first.first_skin()?,
    };
    let wish = Wish {
        base,
        tone: options.target.as_ref().map(|TypedLab(lab)| *lab),
        count: options.count,
    };
    let mut bar = Bar::new("weighing chips against each other");
    let chips = plan(&first, book.swatches(), &wish, &mut |share| bar.show(share))?;
    bar.clear();
    Ok(Outcome::done(if everywhere.json {
        advice::json(&chips)
    } else {
        advice::text(&chips, &first)
    }))
}
