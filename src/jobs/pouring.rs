//! What is left when the cups of a part are poured: jars, stocks and bottles run down in one go, and what runs out first.

use jiff::civil::Date;

use super::batching::Size;
use super::left_part_b::{self, LeftUse};
use super::matching::{FilledCup, Layer};
use super::parts::{self, Pots};
use crate::batch::JarUse;
pub use crate::book::Left;
use crate::book::{Book, RunDown};
use crate::error::Result;
use crate::materials::{Colorant, Grams, LetDown, Poured};

/// What is left of a new jar and is worth a row of the book.
const WORTH_KEEPING: Grams = Grams(0.1);

/// A part that was poured.
#[derive(Clone, Copy, Debug)]
pub struct Request<'a> {
    /// The part.
    pub part: &'a str,
    /// How much of it.
    pub size: Size,
    /// Whether each of several pots was tinted for itself.
    pub pot_by_pot: bool,
    /// Whether all part B was tinted anew, though some was left that serves.
    pub all_fresh: bool,
    /// What is left of the skin's tinted part B now.
    pub left_part_b: Option<Grams>,
    /// The day.
    pub day: Date,
}

/// Takes what was poured by `request` off `book`, keeps what is left of the jars that were stirred for it and of its tinted part B, and
/// returns what is left of each, what runs out first at the top.
///
/// # Errors
/// As [`parts::to_pour`] and [`Book::run_down`]; more part B left than was tinted.
pub fn run(book: &mut Book, request: &Request<'_>) -> Result<Vec<Left>> {
    let Request { size, day, .. } = *request;
    let pots = Pots {
        pot_by_pot: request.pot_by_pot,
        ..Pots::default()
    };
    let (part, matched) = parts::to_pour(book, request.part, size, pots, day)?;
    let poured = Poured {
        mix: matched.spelled_out(&matched.build.skin.mix)?,
        ..matched.build.skin.clone()
    };
    let left_part_b = request.left_part_b.map(|left| {
        let pour = &matched.skin.pour;
        left_part_b::left_of(book.shelf(), &part.name, (&poured, pour), left, day)
    });
    let before = (matched.left_part_b.clone()).filter(|_| !request.all_fresh);
    let share = before.as_ref().map_or(1.0, LeftUse::share_to_tint);
    let matched = match share {
        share if share > 0.0 && share < 1.0 => {
            parts::tinting(book, &part, (size, share), pots, day)?
        }
        _ => matched,
    };
    let tinted = |cup: &&FilledCup| share > 0.0 || cup.layer != Layer::Skin;
    let cups: Vec<&FilledCup> = matched.cups().filter(tinted).collect();
    let mut run_down = taken(book, &cups, day)?;
    run_down.part_b = before.map(|before| (before.standing, before.used));
    run_down.left_part_b = left_part_b.transpose()?.filter(|left| left.left.0 > 0.0);
    book.run_down(&run_down, day)
}

/// What `cups` take off `book`, and what is left of the jars that are stirred for them.
fn taken(book: &Book, cups: &[&FilledCup], day: Date) -> Result<RunDown> {
    let jars = JarUse::to_stir(cups.iter().map(|cup| &cup.pour));
    let (new, ready): (Vec<&JarUse>, Vec<&JarUse>) = jars.iter().partition(|jar| jar.new);
    let mut run_down = RunDown::default();
    for (name, used) in cups.iter().flat_map(|cup| &cup.stocks) {
        add_up(&mut run_down.stocks, name, *used);
    }
    for (_, used) in &mut run_down.stocks {
        *used = used.rounded_to(LetDown::LEAST);
    }
    run_down.stocks.retain(|(_, used)| used.0 > 0.0);
    for jar in ready {
        let used = Grams(jar.uses_g).rounded_to(LetDown::LEAST);
        if used.0 < LetDown::LEAST.0 {
            continue;
        }
        let of_base = run_down
            .let_downs
            .iter()
            .position(|(base, _)| *base == jar.base);
        let index = of_base.unwrap_or_else(|| {
            run_down.let_downs.push((jar.base.clone(), Vec::new()));
            run_down.let_downs.len() - 1
        });
        run_down.let_downs[index].1.push((colorant(jar), used));
    }
    for jar in &new {
        let mass = Grams(jar.pigment_g + jar.base_g - jar.uses_g).rounded_to(LetDown::LEAST);
        if mass.0 < WORTH_KEEPING.0 {
            continue;
        }
        run_down.made.push(LetDown {
            colorant: colorant(jar),
            lot: book.shelf().pigment(&jar.pigment)?.lot.clone(),
            base: jar.base.clone(),
            made: day,
            mass,
            keeps_until: LetDown::usual_end(day),
        });
    }
    let stirred = new
        .iter()
        .map(|jar| (jar.pigment.clone(), Grams(jar.pigment_g)));
    let neat = cups.iter().flat_map(|cup| cup.pour.neat());
    let neat = neat.map(|(name, used)| (name.to_owned(), used));
    for (name, used) in neat.chain(stirred) {
        add_up(&mut run_down.bottles, &name, used);
    }
    Ok(run_down)
}

/// Adds what was `used` of `name` to `sums`.
fn add_up(sums: &mut Vec<(String, Grams)>, name: &str, used: Grams) {
    match sums.iter_mut().find(|(of, _)| of == name) {
        Some((_, sum)) => *sum = *sum + used,
        None => sums.push((name.to_owned(), used)),
    }
}

fn colorant(jar: &JarUse) -> Colorant {
    Colorant {
        pigment: jar.pigment.clone(),
        let_down: jar.ratio,
    }
}
