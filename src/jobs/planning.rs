//! The chips to cast next, and the let-downs that they call for.

use jiff::civil::Date;

use super::bases::base_name;
use super::let_downs::Wanted;
use crate::book::Book;
use crate::characterise::{Advice, FoamPair, Plan, Wish, foam_pairs, plan};
use crate::colour::Lab;
use crate::error::Result;
use crate::forecast::{normal_chance, tolerance};
use crate::materials::{Amount, Colorant, Cup, Grams, Kind, Mix, Poured, Shelf};

/// What is to be known better.
#[derive(Clone, Debug)]
pub struct Request {
    /// How many chips.
    pub count: usize,
    /// A tone that is to be made; skin of all tones where `None`.
    pub tone: Option<Lab>,
    /// The skin that chips are cast of; the book's first where `None`.
    pub base: Option<String>,
    /// How much of it each is cast of.
    pub base_mass: Grams,
    /// The day, by which let-downs of the book are judged.
    pub day: Date,
}

/// The chips to cast next.
#[derive(Debug)]
#[non_exhaustive]
pub struct Planned {
    /// The chips, the one that tells most first.
    pub chips: Vec<Advice>,
    /// The share (0–1) of first castings of the tones to come that land within tolerance: as the book stands, and after each
    /// chip. It is aimed at what the book will then expect, and what is in doubt are bottles, drops and thickness.
    pub lands: Vec<f64>,
    /// For each foam that no swatch is of, the pair that tells of it.
    pub pairs: Vec<FoamPair>,
    /// The let-downs for all of them, base by base.
    pub let_downs: Vec<Wanted>,
    /// The shelf that they are planned for: the first guesses.
    pub shelf: Shelf,
}

/// Plans chips for `book`; `progress` hears the share (0–1) that is done.
///
/// # Errors
/// As [`plan`] and [`foam_pairs`]; names that are not on the shelf.
pub fn run(book: &Book, request: &Request, progress: &mut dyn FnMut(f64)) -> Result<Planned> {
    let first = book.first_guesses()?;
    let base = base_name(&first, request.base.as_deref(), Kind::Skin)?;
    let wish = Wish {
        base: &base,
        tone: request.tone,
        count: request.count,
        base_mass: request.base_mass,
    };
    let Plan { chips, tones, .. } =
        plan(&first, book.swatches(), &wish, &mut |share| progress(share))?;
    let lands = tones.iter().map(|tones| {
        let chances = tones
            .iter()
            .map(|(lab, doubt)| normal_chance(*lab, *doubt, *lab, tolerance(*lab)));
        chances.sum::<f64>() / tones.len() as f64
    });
    let lands = lands.collect();
    let pairs = foam_pairs(&first, book.swatches(), &base)?;
    let planned = chips.iter().map(|chip| &chip.poured);
    let paired = pairs.iter().flat_map(|pair| [&pair.skin, &pair.foam]);
    let mut let_downs = Vec::new();
    for poured in in_all(planned.chain(paired))? {
        let cup = Cup::pour(&first, &poured)?;
        let_downs.push(Wanted::of_cup(&cup, &first, request.day));
    }
    Ok(Planned {
        chips,
        lands,
        pairs,
        let_downs,
        shelf: first,
    })
}

/// All let-downs that go into each base, as if they went into one cup: they are made once for all chips.
fn in_all<'a>(chips: impl Iterator<Item = &'a Poured>) -> Result<Vec<Poured>> {
    let mut cups: Vec<(&Poured, Vec<(Colorant, Amount)>)> = Vec::new();
    for chip in chips {
        let known = cups.iter().position(|(cup, _)| cup.base == chip.base);
        let index = known.unwrap_or_else(|| {
            cups.push((chip, Vec::new()));
            cups.len() - 1
        });
        let entries = &mut cups[index].1;
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
