//! The chips to cast next, and the let-downs that they call for.

use jiff::civil::Date;

use super::bases::base_name;
use super::let_downs::Wanted;
use super::thinning::thinned;
use crate::book::Book;
use crate::characterise::{Advice, CHIP_BASE, FoamPair, Outlook, Plan, Wish, foam_pairs, plan};
use crate::colour::Lab;
use crate::error::{Error, Result};
use crate::forecast::{chance_of_scatter, tolerance};
use crate::materials::{Amount, Colorant, Cup, Grams, Kind, LetDown, Mix, Poured, Shelf};

/// What is to be known better.
#[derive(Clone, Debug)]
pub struct Request {
    /// How many chips.
    pub count: usize,
    /// A tone that is to be made; skin of all tones where `None`.
    pub tone: Option<Lab>,
    /// The skin that chips are cast of; the book's first where `None`.
    pub base: Option<String>,
    /// Mass of each chip's base; 100 g where `None`.
    pub base_mass: Option<Grams>,
    /// The day, by which let-downs of the book are judged.
    pub day: Date,
}

/// The chips to cast next.
#[derive(Debug)]
#[non_exhaustive]
pub struct Planned {
    /// The chips, the one that tells most first.
    pub chips: Vec<Advice>,
    /// The chance (0–1) that the first casting of a part lands within tolerance, over the tones to come: as the book stands,
    /// after the first chip, after the second…; what the chips are forecast to tell, since none is cast.
    pub chances: Vec<f64>,
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
/// As [`plan`] and [`foam_pairs`]; names that are not on the shelf; a mass that is no chip's.
pub fn run(book: &Book, request: &Request, progress: &mut dyn FnMut(f64)) -> Result<Planned> {
    let first = book.first_guesses()?;
    let base = base_name(&first, request.base.as_deref(), Kind::Skin)?;
    let base_mass = request.base_mass.unwrap_or(CHIP_BASE);
    check_mass(base_mass)?;
    let stands_ready =
        |jar: &&LetDown| jar.base == base && jar.mass.0 > 0.0 && !jar.is_past(request.day);
    let ready = first.let_downs.iter().filter(stands_ready);
    let wish = Wish {
        base: &base,
        tone: request.tone,
        count: request.count,
        base_mass,
        ready: ready.map(|jar| jar.colorant.clone()).collect(),
    };
    let swatches = thinned(book.swatches()?).swatches;
    let Plan { chips, outlooks } = plan(&first, &swatches, &wish, &mut |share| progress(share))?;
    let pairs = foam_pairs(&first, &swatches, &base, base_mass)?;
    let planned = chips.iter().map(|chip| &chip.poured);
    let paired = pairs.iter().flat_map(|pair| [&pair.skin, &pair.foam]);
    let mut let_downs = Vec::new();
    for poured in in_all(planned.chain(paired))? {
        let cup = Cup::pour(&first, &poured)?;
        let_downs.push(Wanted::of_cup(&cup, &first, request.day));
    }
    Ok(Planned {
        chips,
        chances: outlooks.iter().map(|outlook| landing(outlook)).collect(),
        pairs,
        let_downs,
        shelf: first,
    })
}

/// The mean chance that a part lands.
fn landing(outlooks: &[Outlook]) -> f64 {
    let chances = outlooks.iter().map(|Outlook { lab, covariance }| {
        chance_of_scatter(*lab, *covariance, tolerance(*lab), *lab)
    });
    chances.sum::<f64>() / outlooks.len() as f64
}

/// Refuses what a chip can't be.
fn check_mass(mass: Grams) -> Result<()> {
    const LEAST: f64 = 10.0;
    const MOST: f64 = 2000.0;
    if (LEAST..=MOST).contains(&mass.0) {
        return Ok(());
    }
    let finding = format!("a chip of {mass} of base can't be planned");
    Err(Error::input(finding).mend(format!("give {LEAST} to {MOST} g")))
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
