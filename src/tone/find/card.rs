//! Where a white or grey card lies: the one four-sided neutral field there is, or a refusal.

use super::fields::{self, Field};
use super::small::{self, Small};
use crate::error::{Error, Result};
use crate::tone::connection::ConnectionSpace;
use crate::tone::picture::Picture;
use crate::tone::region::Region;

const SIDE: u32 = 640;
const TOLERANCE: f64 = 6.0;
/// The least and the largest share of the picture that a card covers.
const SHARES: (f64, f64) = (0.003, 0.3);
/// The most chroma that a card has in a picture, and the least L* in a light that shows it.
const NEUTRAL: f64 = 12.0;
const LIGHT: f64 = 25.0;
/// The half of a rectangle's diagonal, in sides of the card: a circle in the card has 0.5.
const WITHIN: f64 = 0.45;

/// The region within the one card in `picture`.
///
/// # Errors
///
/// An input error, with the mend, where no field can be a card, or more than one.
pub(in crate::tone) fn find_card(picture: &Picture, space: &ConnectionSpace) -> Result<Region> {
    let small = Small::of(picture, SIDE, space)?;
    let area = small.lab.len() as f64;
    let can_be = |field: &Field| {
        let [l, a, b] = field.lab;
        field.area >= SHARES.0 * area && a.hypot(b) < NEUTRAL && l > LIGHT
    };
    let fields = fields::fields(&small, TOLERANCE, SHARES.1);
    let found: Vec<Region> = fields
        .iter()
        .filter(|field| can_be(field))
        .map(|field| within(field, &small))
        .collect();
    match found[..] {
        [card] => Ok(card),
        [] => Err(Error::input("no card was found in the picture").mend(
            "a card is flat, neutral and covers a three-hundredth of the picture or more; else say where it lies: X,Y,W,H",
        )),
        [first, second, ..] => Err(Error::input(format!(
            "{} fields in the picture may be the card, such as {first} and {second}",
            found.len()
        ))
        .mend("say where it lies: X,Y,W,H")),
    }
}

/// A rectangle within a field, of the photograph's pixels.
fn within(field: &Field, small: &Small) -> Region {
    let [across, down] = field.extent();
    let far = field
        .sides([across, down])
        .max(field.sides([across, -down]));
    let [across, down] = [across, down].map(|half| half * WITHIN / far);
    let pixels = |place: f64| u32::try_from(small::whole(place * small.scale)).unwrap_or(u32::MAX);
    let [x, y] = field.middle;
    Region {
        left: pixels((x - across).max(0.0)),
        top: pixels((y - down).max(0.0)),
        width: pixels(2.0 * across).max(1),
        height: pixels(2.0 * down).max(1),
    }
}
