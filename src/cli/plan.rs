//! `dropwise plan`: the chips to cast next.

use super::input::{Bar, count_to, today};
use super::matching::typed_target;
use super::ordering::base_name;
use super::{Everywhere, Outcome};
use crate::characterise::{Wish, plan};
use crate::error::Result;
use crate::materials::{Cup, Kind};
use crate::report::{LetDowns, advice, let_downs};

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
    Ok(Outcome::done(if everywhere.json {
        advice::json(&chips)
    } else {
        let mut called_for = Vec::new();
        for (place, chip) in chips.iter().enumerate() {
            let name = format!("chip {}", place + 1);
            let cup = Cup::pour(&first, &chip.poured)?;
            called_for.extend(LetDowns::of_cup(&name, &cup, &first, today()));
        }
        advice::text(&chips, &first) + &let_downs::text(called_for)
    }))
}
