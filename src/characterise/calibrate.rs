//! The whole of a calibration: the convention of the readings, the joint fit, and then the new lots.

use super::calibration::{Calibration, Judged, with_curves, without_chip};
use super::fit::Progress;
use super::judge::judge;
use super::knowledge::Knowledge;
use super::suspicion::Suspicion;
use super::{left_over, lots};
use crate::error::{Error, Result};
use crate::materials::{Settings, Shelf, Swatch};
use crate::optics::Specular;

/// Fits the curves of all materials in `swatches`; those of `shelf` are the first guesses, and their spreads say how far off
/// they may be. `progress` is called with the share (0–1) that is done, again and again, and ends it by refusing to go on.
///
/// A pigment that is another lot of one that chips have told of begins at the old lot's fitted curves; it is fitted from the
/// chips that hold it, all other materials being held, and so do these chips tell of nothing else.
///
/// The result depends on nothing but its arguments: the same chips give the same curves, to the last digit.
///
/// # Errors
/// No swatch with a reading; a swatch that names what is not on the shelf; what `progress` refuses with.
pub fn calibrate(
    shelf: &Shelf,
    swatches: &[Swatch],
    progress: &mut Progress<'_>,
) -> Result<Calibration> {
    let specular = belied(&shelf.settings, swatches);
    let shelf = &as_read(shelf, specular);
    let split = lots::LotSplit::new(shelf, swatches)?;
    let known = split.known(swatches);
    let told = Knowledge::of(shelf, &known, progress)?;
    whole(shelf, specular, told, &split, swatches, progress)
}

/// The same of `swatches` that are read off photographs, and can be read again once more is known of what they are made of:
/// reading and learning take turns until what is read comes to rest. `read` reads them by the shelf that it is given, and says
/// whether they moved so little that they have.
///
/// Each turn but the first goes on from where the last came to rest, and none but the last sets right what is supposed
/// beforehand: the readings move by less than their noise.
///
/// # Errors
/// As [`calibrate`] and `read`.
pub fn calibrate_in_turns(
    shelf: &Shelf,
    swatches: &mut [Swatch],
    read: &mut dyn FnMut(&Shelf, &mut [Swatch]) -> Result<bool>,
    progress: &mut Progress<'_>,
) -> Result<Calibration> {
    /// How often chips are read again at most.
    const MOST_TURNS: u32 = 3;
    /// What the first turn takes of all the time, and the next ones together. About.
    const SHARES: (f64, f64) = (0.6, 0.2);
    // By the first guesses first, whatever the log says, so that one log and one shelf give one answer.
    read(shelf, swatches)?;
    let specular = belied(&shelf.settings, swatches);
    let shelf = &as_read(shelf, specular);
    let split = lots::LotSplit::new(shelf, swatches)?;
    let mut told = Knowledge::of(shelf, &split.known(swatches), &mut |share| {
        progress(SHARES.0 * share)
    })?;
    let covariance = told.covariance();
    for turn in 1..=MOST_TURNS {
        let fitted = with_curves(shelf, &told.curves(&covariance));
        let is_at_rest = read(&fitted, swatches)?;
        let done = f64::from(turn) / f64::from(MOST_TURNS);
        progress(SHARES.0 + SHARES.1 * done)?;
        let is_last = is_at_rest || turn == MOST_TURNS;
        told = told.followed(shelf, &split.known(swatches), is_last, &mut |share| {
            progress(SHARES.0 + SHARES.1 + (1.0 - SHARES.0 - SHARES.1) * share)
        })?;
        if is_last {
            break;
        }
    }
    whole(shelf, specular, told, &split, swatches, progress)
}

/// `shelf` as readings are fitted beside it, which have the convention `specular` if any is given.
fn as_read(shelf: &Shelf, specular: Option<Specular>) -> Shelf {
    let mut as_read = Shelf {
        left_over: None,
        ..shelf.clone()
    };
    if let Some(specular) = specular {
        as_read.settings.surface = shelf.settings.surface.read_with(specular);
    }
    as_read
}

/// All that `swatches` tell, of which those that are of no new lot have `told` this.
fn whole(
    shelf: &Shelf,
    specular: Option<Specular>,
    told: Knowledge,
    split: &lots::LotSplit,
    swatches: &[Swatch],
    progress: &mut Progress<'_>,
) -> Result<Calibration> {
    let mut found = together(shelf, &split.known(swatches), told)?;
    progress(1.0)?;
    if !split.lots.is_empty() {
        found = lots::follow(shelf, found, swatches, split, progress)?;
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

/// The joint fit of all materials in `swatches`, which have told what is `known`.
fn together(shelf: &Shelf, swatches: &[Swatch], known: Knowledge) -> Result<Calibration> {
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
