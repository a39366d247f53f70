//! A drop more or less in the skin of a part that is kept, or another thickness: what would come out, without a search.

use jiff::civil::Date;

use super::parts::shelf_for;
use crate::book::Book;
use crate::colour::{Lab, delta_e_2000};
use crate::error::{Error, Result};
use crate::materials::{Amount, Build, Casting, Cup, Millimetres, Mix, Poured};

/// By what the skin is not as it is kept.
#[derive(Clone, Copy, Debug, Default)]
pub struct Nudge<'a> {
    /// Drops in place of those of the recipe, in the order in which it counts them; its own where `None`.
    pub drops: Option<&'a [u32]>,
    /// How thick it is; as ordered where `None`.
    pub thickness: Option<Millimetres>,
}

/// What would come out.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Nudged {
    /// What goes into one pot of the skin.
    pub poured: Poured,
    /// How thick it is.
    pub thickness: Millimetres,
    /// The tone that is aimed at.
    pub aim: Lab,
    /// What comes out, under the book's viewing.
    pub lab: Lab,
    /// ΔE00 of the two.
    pub delta_e: f64,
    /// Y over black by Y over white.
    pub contrast_ratio: f64,
}

/// The skin of the part of `book` called `name`, changed by a `nudge`. What is weighed stays as it is, and the book too.
///
/// # Errors
/// As [`Book::part_to_pour`]; more or fewer counts than the recipe has; what would not cure; a thickness out of range; names that
/// are not on the shelf.
pub fn run(book: &Book, name: &str, nudge: Nudge<'_>, day: Date) -> Result<Nudged> {
    let part = book.part_to_pour(name)?;
    let shelf = shelf_for(book.shelf(), &part, day)?;
    let order = part.request.order(&shelf)?;
    let mut poured = part.recipe.skin.poured.clone();
    if let Some(drops) = nudge.drops {
        poured.mix = with_drops(&poured.mix, drops)?;
    }
    Cup::pour(order.shelf, &poured)?.check_loads()?;
    let thickness = nudge.thickness.unwrap_or(order.thickness);
    let build = Build {
        skin: poured.clone(),
        thickness,
        beneath: order.beneath_kept(&part.recipe),
        paint: None,
    };
    let weights = order.shelf.settings.viewing.weights();
    let casting = Casting::new(order.shelf, &build)?;
    let lab = weights.lab(&casting.reading());
    Ok(Nudged {
        poured,
        thickness,
        aim: part.target.lab,
        lab,
        delta_e: delta_e_2000(part.target.lab, lab),
        contrast_ratio: casting.translucency(&weights).contrast_ratio,
    })
}

/// `mix` with the counts of what it counts.
fn with_drops(mix: &Mix, drops: &[u32]) -> Result<Mix> {
    let is_counted = |amount: &Amount| matches!(amount, Amount::Drops(_));
    let counted = mix
        .entries()
        .iter()
        .filter(|(_, amount)| is_counted(amount));
    let wanted = counted.count();
    if wanted != drops.len() {
        let finding = format!("{} counts of drops; the recipe has {wanted}", drops.len());
        return Err(Error::input(finding).mend("the recipe was changed: look at it again"));
    }
    let mut drops = drops.iter();
    let entries = mix.entries().iter().map(|(colorant, amount)| {
        let amount = match is_counted(amount).then(|| drops.next()).flatten() {
            Some(count) => Amount::Drops((*count).into()),
            None => *amount,
        };
        (colorant.clone(), amount)
    });
    let is_in = |(_, amount): &(_, Amount)| *amount != Amount::Drops(0.0);
    Mix::new(entries.filter(is_in).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drops_take_the_place_of_drops_and_weighed_things_stay() {
        let mix: Mix = "iron oxide red 3; fibre 12 g; umber 2"
            .parse()
            .expect("a mix");
        let nudged = with_drops(&mix, &[4, 0]).expect("two counts");
        assert_eq!(
            nudged.to_string(),
            "iron oxide red 4; fibre 12 g",
            "one more, none"
        );
        let error = with_drops(&mix, &[4]).expect_err("one count").to_string();
        assert!(error.contains("the recipe has 2"), "{error}");
    }
}
