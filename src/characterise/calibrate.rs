//! The whole of a calibration: the convention of the readings, the joint fit, and then the new lots.

use super::calibration::{Calibration, Judged, with_curves, without_chip};
use super::judge::judge;
use super::knowledge::Knowledge;
use super::suspicion::Suspicion;
use super::{left_over, lots};
use crate::error::{Error, Result};
use crate::materials::{Settings, Shelf, Swatch};
use crate::optics::Specular;

/// Fits the curves of all materials in `swatches`; those of `shelf` are the first guesses, and their spreads say how far off
/// they may be. `progress` is called with the share (0–1) that is done.
///
/// A pigment that is another lot of one that chips have told of begins at the old lot's fitted curves; it is fitted from the
/// chips that hold it, all other materials being held, and so do these chips tell of nothing else.
///
/// The result depends on nothing but its arguments: the same chips give the same curves, to the last digit.
///
/// # Errors
/// No swatch with a reading; a swatch that names what is not on the shelf.
pub fn calibrate(
    shelf: &Shelf,
    swatches: &[Swatch],
    progress: &mut dyn FnMut(f64),
) -> Result<Calibration> {
    let specular = belied(&shelf.settings, swatches);
    let mut as_read = Shelf {
        left_over: None,
        ..shelf.clone()
    };
    if let Some(specular) = specular {
        as_read.settings.surface = shelf.settings.surface.read_with(specular);
    }
    let shelf = &as_read;
    let split = lots::LotSplit::new(shelf, swatches)?;
    let mut found = together(shelf, &split.known(swatches), progress)?;
    if !split.lots.is_empty() {
        found = lots::follow(shelf, found, swatches, &split, progress)?;
    }
    found.specular = specular;
    found.lots_alone = split.alone(shelf);
    let weights = shelf.settings.viewing.weights();
    let explained = |judged: &Judged| {
        judged
            .suspicion
            .is_some_and(|it| it != Suspicion::Unexplained)
    };
    let is_slip = |index: usize| explained(&found.judged[index]);
    found.left_over = left_over::left_over(&found.shelf(shelf), swatches, is_slip, &weights)?;
    Ok(found)
}

/// The joint fit of all materials in `swatches`.
fn together(
    shelf: &Shelf,
    swatches: &[Swatch],
    progress: &mut dyn FnMut(f64),
) -> Result<Calibration> {
    let known = Knowledge::of(shelf, swatches, progress)?;
    if known.chips.is_empty() {
        return Err(Error::input("no swatch has a reading to learn from").mend(
            "cast a chip and log it with `dropwise swatch add`; `dropwise plan` says which",
        ));
    }
    let covariance = known.covariance();
    let curves = known.curves(&covariance);
    let fitted = with_curves(shelf, &curves);
    Ok(Calibration {
        judged: judge(shelf, &fitted, swatches, &known)?,
        joint_directions: known.joint_directions(&fitted, &covariance),
        without_chip: without_chip(shelf, &known.unknowns),
        noise: known.state.noise,
        lots: Vec::new(),
        lots_alone: Vec::new(),
        specular: None,
        left_over: None,
        curves,
    })
}

/// The convention of readings that cannot have that of `settings`: no body reads darker than what its surface alone
/// mirrors, if that is counted. A few such readings are slips; many are a convention.
fn belied(settings: &Settings, swatches: &[Swatch]) -> Option<Specular> {
    /// Below this share of what the surface mirrors, it is no noise.
    const TOO_DARK: f64 = 0.8;
    const MANY: (usize, usize) = (3, 20);
    if settings.surface.specular() != Specular::Included {
        return None;
    }
    let weights = settings.viewing.weights();
    let darkest = |swatch: &Swatch| match (&swatch.reflectance, swatch.lab) {
        (Some(reflectance), _) => reflectance.min(),
        (None, Some(lab)) => weights.xyz_of_lab(lab).y / weights.white().y,
        (None, None) => 1.0,
    };
    let least = TOO_DARK * settings.surface.k1();
    // Those that state their convention are taken by their word.
    let silent = || {
        swatches
            .iter()
            .filter(|swatch| swatch.geometry.specular.is_none())
    };
    let too_dark = silent().filter(|swatch| darkest(swatch) < least).count();
    let (at_least, one_in) = MANY;
    (too_dark >= at_least && one_in * too_dark >= silent().count()).then_some(Specular::Excluded)
}
