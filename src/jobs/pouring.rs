//! What is left when the cups of a part are poured: jars, stocks and bottles run down in one go, and what runs out first.

use jiff::civil::Date;

use super::matching::Matched;
use crate::batch::JarUse;
pub use crate::book::Left;
use crate::book::{Book, RunDown};
use crate::error::Result;
use crate::materials::{Colorant, Grams, LetDown};

/// What is left of a new jar and is worth a row of the book.
const WORTH_KEEPING: Grams = Grams(0.1);

/// Takes what the cups of `matched` took off `book` on the day `day`, keeps what is left of the jars that were stirred for them, and
/// returns what is left of each, what runs out first at the top. Cups whose pots were tinted for themselves are
/// [`Matched::pot_by_pot`].
///
/// # Errors
/// As [`Book::run_down`].
pub fn run(book: &mut Book, matched: &Matched, day: Date) -> Result<Vec<Left>> {
    let jars = JarUse::to_stir(matched.cups().map(|cup| &cup.pour));
    let (new, ready): (Vec<&JarUse>, Vec<&JarUse>) = jars.iter().partition(|jar| jar.new);
    let mut run_down = RunDown {
        stocks: (matched.stocks.iter())
            .map(|stock| (stock.name.clone(), stock.used.rounded_to(LetDown::LEAST)))
            .filter(|(_, used)| used.0 > 0.0)
            .collect(),
        ..RunDown::default()
    };
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
    let neat = matched.cups().flat_map(|cup| cup.pour.neat());
    let neat = neat.map(|(name, used)| (name.to_owned(), used));
    for (name, used) in neat.chain(stirred) {
        match run_down.bottles.iter_mut().find(|(of, _)| *of == name) {
            Some((_, sum)) => *sum = *sum + used,
            None => run_down.bottles.push((name, used)),
        }
    }
    book.run_down(&run_down, day)
}

fn colorant(jar: &JarUse) -> Colorant {
    Colorant {
        pigment: jar.pigment.clone(),
        let_down: jar.ratio,
    }
}
