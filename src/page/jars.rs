//! What a pour leaves of the jars and stocks that it drew on: one touch after the last cup keeps the book right.

use axum::extract::{Form, Path, State};
use jiff::civil::Date;
use maud::{Markup, html};

use super::answer::{Answer, check_fresh, onward};
use super::fields::Fields;
use super::frame::revision_field;
use super::state::Shared;
use super::words::{part_path, today};
use crate::book::Book;
use crate::error::Result;
use crate::jobs::batching::Size;
use crate::jobs::let_downs::{self, Jars};
use crate::jobs::matching::Matched;
use crate::jobs::{parts, stocks};
use crate::materials::{Amount, Colorant, Grams, LargestPots, LetDown, Mix};
use crate::report::pieces::Jar;

/// What is left of a new jar and is worth a row of the book.
const WORTH_KEEPING: Grams = Grams(0.1);

/// The size of a pour, from what was typed: all of it as kept where that is empty.
///
/// # Errors
/// What is no mass.
pub(super) fn size(skin_g: &str) -> Result<Size> {
    match skin_g.trim() {
        "" => Ok(Size::Times(1.0)),
        typed => typed.replace(',', ".").parse::<Grams>().map(Size::To),
    }
}

/// The button for it, where the cups of `matched`, of the part called `name`, draw on anything that the book keeps, or could.
pub(super) fn form(book: &Book, name: &str, matched: &Matched, skin_g: &str) -> Markup {
    let jars = Jar::of(matched.cups().map(|cup| &cup.pour));
    let is_drawn_on = !jars.is_empty() || !matched.stocks.is_empty();
    html! {
        @if is_drawn_on && book.folder().is_some() {
            form method="post" action=(part_path(name, "poured")) {
                (revision_field(book))
                input type="hidden" name="skin_g" value=(skin_g);
                p { "Once these cups are poured, the book can keep what is left of their jars and stocks." }
                button.plain { "They are poured: note what is left" }
            }
        }
    }
}

/// Takes what was used off the jars and stocks that stand ready, and keeps what is left of those that were stirred.
pub(super) async fn poured(
    State(shared): State<Shared>,
    Path(name): Path<String>,
    Form(fields): Form<Fields>,
) -> Answer {
    let noted = shared.with_book(move |book| {
        check_fresh(book, &fields, &part_path(&name, "poured"))?;
        let day = today();
        let size = size(fields.text("skin_g"))?;
        let (_, matched) = parts::to_pour(book, &name, size, LargestPots::default(), day)?;
        Ok(note(book, &matched, day)?)
    });
    noted.await?;
    onward("/")
}

fn note(book: &mut Book, matched: &Matched, day: Date) -> Result<()> {
    let jars = Jar::of(matched.cups().map(|cup| &cup.pour));
    let (new, ready): (Vec<&Jar>, Vec<&Jar>) = jars.iter().partition(|jar| jar.new);
    for (base, mix) in by_base(&ready, LetDown::LEAST, |jar| jar.uses_g)? {
        let_downs::take(
            book,
            &Jars {
                mix,
                base: Some(base),
                day,
            },
        )?;
    }
    for used in &matched.stocks {
        stocks::take(book, &used.name, used.used.rounded_to(LetDown::LEAST))?;
    }
    let left = |jar: &Jar| jar.pigment_g + jar.base_g - jar.uses_g;
    for (base, mix) in by_base(&new, WORTH_KEEPING, left)? {
        let_downs::add(
            book,
            &Jars {
                mix,
                base: Some(base),
                day,
            },
            None,
        )?;
    }
    Ok(())
}

/// The `jars` of each base as a mix of so many grams each; what is less than `least` is left out.
fn by_base(
    jars: &[&Jar],
    least: Grams,
    mass_g: impl Fn(&Jar) -> f64,
) -> Result<Vec<(String, Mix)>> {
    let mut bases: Vec<&str> = jars.iter().map(|jar| jar.base.as_str()).collect();
    bases.dedup();
    let mixes = bases.into_iter().map(|base| {
        let of_it = jars
            .iter()
            .filter(|jar| jar.base == base && mass_g(jar) >= least.0);
        let entries = of_it.map(|jar| {
            let colorant = Colorant {
                pigment: jar.pigment.clone(),
                let_down: jar.ratio,
            };
            (
                colorant,
                Amount::Mass(Grams(mass_g(jar)).rounded_to(LetDown::LEAST)),
            )
        });
        Ok((base.to_owned(), Mix::new(entries.collect())?))
    });
    let mixes: Vec<(String, Mix)> = mixes.collect::<Result<_>>()?;
    Ok(mixes
        .into_iter()
        .filter(|(_, mix)| !mix.is_empty())
        .collect())
}
