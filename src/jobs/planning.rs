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
use crate::recipe::Order;
use crate::tone::Target;

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
    /// How many bottles of a long shelf were passed over.
    pub passed_over: usize,
}

/// Tones of which a long shelf must make some, where none is asked for: a light, a middling and a dark skin. Round numbers of this
/// project's own.
const SKINS: [Lab; 3] = [
    Lab::new(70.0, 9.0, 14.0),
    Lab::new(55.0, 13.0, 18.0),
    Lab::new(38.0, 11.0, 14.0),
];

/// What is weighed, such as fibre: more kinds than these are passed over.
const MOST_WEIGHED: usize = 8;

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
    let pigments = few_of(&first, &base, base_mass, request.tone)?;
    let passed_over = (pigments.as_ref()).map_or(0, |kept| first.pigments.len() - kept.len());
    let wish = Wish {
        base: &base,
        tone: request.tone,
        count: request.count,
        base_mass,
        ready: ready.map(|jar| jar.colorant.clone()).collect(),
        pigments,
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
        passed_over,
    })
}

/// The pigments of a long shelf that can matter for `tone`, or for skins, and what is weighed; `None` of a shelf that is not long.
///
/// # Errors
/// As [`Order::short_listed`].
fn few_of(
    shelf: &Shelf,
    base: &str,
    base_mass: Grams,
    tone: Option<Lab>,
) -> Result<Option<Vec<String>>> {
    let tones = tone.map_or(SKINS.to_vec(), |tone| vec![tone]);
    let viewing = shelf.settings.viewing;
    let targets = tones.into_iter().map(|lab| Target::from_lab(lab, viewing));
    let targets: Vec<Target> = targets.collect::<Result<_>>()?;
    let order = Order::skin(shelf, base, base_mass).over_backing(Shelf::WHITE_CARD);
    let mut kept = order.short_list(&targets)?;
    if kept.is_empty() {
        return Ok(None);
    }
    let weighed = (shelf.pigments.iter()).filter(|pigment| pigment.drop_mass.is_none());
    kept.extend(
        weighed
            .take(MOST_WEIGHED)
            .map(|pigment| pigment.name.clone()),
    );
    Ok(Some(kept))
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
