//! `dropwise plan`: the chips to cast next.

use super::input::{Bar, count_to, today};
use super::matching::typed_target;
use super::ordering::base_name;
use super::{Everywhere, Outcome};
use crate::characterise::{Wish, foam_pairs, plan};
use crate::error::Result;
use crate::materials::{Amount, Colorant, Cup, Kind, Mix, Poured};
use crate::report::{LetDowns, let_downs, plan};

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
        plan::json(&chips, &pairs)
    } else {
        let planned = chips.iter().map(|chip| &chip.poured);
        let paired = pairs.iter().flat_map(|pair| [&pair.skin, &pair.foam]);
        let mut called_for = Vec::new();
        for poured in in_all(planned.chain(paired))? {
            let cup = Cup::pour(&first, &poured)?;
            called_for.extend(LetDowns::of_cup("all of them", &cup, &first, today()));
        }
        plan::text(&chips, &pairs, &first) + &let_downs::text(called_for) + &plan::care()
    }))
}

/// All let-downs that go into each base, as if they went into one cup: they are made once for all chips.
fn in_all<'a>(chips: impl Iterator<Item = &'a Poured>) -> Result<Vec<Poured>> {
    let mut cups: Vec<(&Poured, Vec<(Colorant, Amount)>)> = Vec::new();
    for chip in chips {
        let place = cups.iter().position(|(cup, _)| cup.base == chip.base);
        let place = place.unwrap_or_else(|| {
            cups.push((chip, Vec::new()));
            cups.len() - 1
        });
        let entries = &mut cups[place].1;
        let let_downs = (chip.mix.entries().iter()).filter(|(colorant, _)| colorant.let_down > 1.0);
        for (colorant, amount) in let_downs {
            let known = entries.iter_mut().find(|(other, _)| other == colorant);
            match (known.map(|(_, sum)| sum), amount) {
                (Some(Amount::Drops(sum)), Amount::Drops(drops)) => *sum += drops,
                _ => entries.push((colorant.clone(), *amount)),
            }
        }
    }
    let poured = cups.into_iter().map(|(cup, entries)| {
        Ok(Poured {
            mix: Mix::new(entries)?,
            ..cup.clone()
        })
    });
    poured.collect()
}
