//! New lots of known pigments: fitted from chips of their own, while all else stays as older chips left it.
//!
//! A lot's ln K and ln S are those of the old lot and a departure as wide as lots differ. Held materials are not known
//! exactly: were the k-th [`JointDirection`] of theirs taken, the lot fitted from the same chips would come out by C (P p −
//! Λ h) elsewhere. There C is the covariance and P the inverse of the first guess's covariance of what is free, p the joint
//! direction of the old lot, h that of the held materials, and Λ the curvature of the misfit between free and held. That is
//! put into each, so that what the chip itself would read is no less sure for it; what remains of the lot alone gives joint
//! directions of its own.

use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use super::calibration::{Calibration, Curves, Judged, Lot, with_curves, without_chip};
use super::chip::{Chip, materials_of};
use super::fit::Progress;
use super::judge::judge;
use super::knowledge::Knowledge;
use super::photographs;
use super::problem::Fit;
use super::tint::{Compared, compare};
use super::unknowns::{OF_A_MATERIAL, Unknowns};
use crate::error::Result;
use crate::materials::{
    Casting, CoefficientSpread, JointDirection, Material, Pigment, Shelf, Step, Swatch,
};

/// Which swatches tell of what.
pub(super) struct LotSplit {
    /// The pigments that are lots of one that other chips tell of.
    pub(super) lots: Vec<Pigment>,
    /// Places of the swatches that hold one.
    of_lots: Vec<usize>,
}

impl LotSplit {
    pub(super) fn new(shelf: &Shelf, swatches: &[Swatch]) -> Result<Self> {
        let materials = |swatch: &Swatch| -> Result<Vec<Material>> {
            let casting = Casting::of_swatch(shelf, swatch)?;
            Ok(casting.cups().flat_map(materials_of).collect())
        };
        let held: Vec<Vec<Material>> = swatches.iter().map(materials).collect::<Result<_>>()?;
        let is_any_lot = |material: &Material| {
            let is_it = |pigment: &Pigment| *material == material_of(pigment);
            let mut lots = shelf
                .pigments
                .iter()
                .filter(|pigment| !pigment.lot_of.is_empty());
            lots.any(is_it)
        };
        let old = held
            .iter()
            .filter(|materials| !materials.iter().any(is_any_lot));
        let learnt: Vec<&Material> = old.flatten().collect();
        let follows = |pigment: &&Pigment| {
            !pigment.lot_of.is_empty()
                && learnt.contains(&&Material::Pigment(pigment.lot_of.clone()))
        };
        let lots: Vec<Pigment> = shelf.pigments.iter().filter(follows).cloned().collect();
        let of_lots = held
            .iter()
            .enumerate()
            .filter(|(_, materials)| lots.iter().any(|lot| materials.contains(&material_of(lot))));
        Ok(Self {
            of_lots: of_lots.map(|(index, _)| index).collect(),
            lots,
        })
    }

    /// Names of the lots whose old lot no chip tells of.
    pub(super) fn alone(&self, shelf: &Shelf) -> Vec<String> {
        let lots = shelf
            .pigments
            .iter()
            .filter(|pigment| !pigment.lot_of.is_empty());
        let alone = lots.filter(|lot| !self.lots.iter().any(|other| other.name == lot.name));
        alone.map(|lot| lot.name.clone()).collect()
    }

    /// The swatches that hold no such lot.
    pub(super) fn known(&self, swatches: &[Swatch]) -> Vec<Swatch> {
        let others = swatches.iter().enumerate();
        let others = others.filter(|(index, _)| !self.of_lots.contains(index));
        others.map(|(_, swatch)| swatch.clone()).collect()
    }
}

fn material_of(pigment: &Pigment) -> Material {
    Material::Pigment(pigment.name.clone())
}

/// What `swatches` tell of the lots of `split`, added to what the others have told: `found`, from the first guesses in
/// `first`.
pub(super) fn follow(
    first: &Shelf,
    found: Calibration,
    swatches: &[Swatch],
    split: &LotSplit,
    progress: &mut Progress<'_>,
) -> Result<Calibration> {
    let shelf = beginning_at_the_old_lots(first, &found.curves, &split.lots)?;
    let own: Vec<Swatch> = split
        .of_lots
        .iter()
        .map(|index| swatches[*index].clone())
        .collect();
    let unknowns = with_the_rest_held(&shelf, &own, &split.lots, &found.curves)?;
    let unknowns = unknowns.with_photos(photographs::of(&own));
    let chips = Chip::all(&shelf, &own, &unknowns)?;
    let weights = shelf.settings.viewing.weights();
    let mut fit = Fit::new(&shelf.settings, &weights, &unknowns, &chips);
    fit.least_noise = found.noise;
    let state = fit.solve(progress)?;
    let precision = fit.precision(&state);
    let priors = fit.precisions;
    let known = Knowledge {
        weights,
        unknowns,
        chips,
        state,
        precision,
    };
    let covariance = known.covariance();

    let moved = along_old_directions(
        &known,
        &covariance,
        &priors,
        &found.joint_directions,
        &split.lots,
    );
    let curves = curves_of_free(&known, &covariance, &moved);
    let free: Vec<Material> = curves
        .iter()
        .map(|curves| curves.material.clone())
        .collect();
    let all: Vec<Curves> = found.curves.iter().cloned().chain(curves).collect();
    let fitted = with_curves(first, &all);
    let joint_directions = all_directions(
        &known,
        &covariance,
        &fitted,
        &found.joint_directions,
        &moved,
        &free,
    );

    let judged_own = judge(&shelf, &fitted, &own, &known)?;
    let beside = split.lots.iter().map(|lot| {
        let material = material_of(lot);
        let holds = |swatch: &&Swatch| {
            let casting = Casting::of_swatch(&shelf, swatch)
                .expect("the same swatch was looked up for its materials");
            casting
                .cups()
                .flat_map(materials_of)
                .any(|held| held == material)
        };
        let readings = own.iter().filter(holds).count();
        beside_old(&fitted, lot, readings, &joint_directions, &known)
    });
    Ok(Calibration {
        lots: beside.collect::<Result<_>>()?,
        judged: merged(swatches.len(), split, found.judged, judged_own),
        without_chip: without_chip(
            &shelf,
            &Unknowns::new(&fitted, all.iter().map(|curves| curves.material.clone())),
        ),
        curves: sorted(all),
        joint_directions,
        ..found
    })
}

/// `first` with `curves`, each of `lots` at the curves of its old lot and as unsure as lots differ.
fn beginning_at_the_old_lots(first: &Shelf, curves: &[Curves], lots: &[Pigment]) -> Result<Shelf> {
    let mut shelf = with_curves(first, curves);
    for lot in lots {
        let old = shelf.pigment(&lot.lot_of)?.coefficients;
        for pigment in shelf
            .pigments
            .iter_mut()
            .filter(|pigment| pigment.name == lot.name)
        {
            pigment.coefficients = old;
            pigment.spread = CoefficientSpread::LOT_TO_LOT;
        }
    }
    Ok(shelf)
}

/// What is unknown of `lots` and of all that the chips of `own` hold besides, of which what `curves` has is held.
fn with_the_rest_held(
    shelf: &Shelf,
    own: &[Swatch],
    lots: &[Pigment],
    curves: &[Curves],
) -> Result<Unknowns> {
    let mut materials: Vec<Material> = lots.iter().map(material_of).collect();
    for swatch in own {
        let casting = Casting::of_swatch(shelf, swatch)?;
        materials.extend(casting.cups().flat_map(materials_of));
    }
    let mut unknowns = Unknowns::new(shelf, materials);
    unknowns.hold(|material| {
        let mut known = curves.iter();
        known.any(|known| known.material == *material)
    });
    Ok(unknowns)
}

fn sorted(mut curves: Vec<Curves>) -> Vec<Curves> {
    curves.sort_by(|one, other| one.material.cmp(&other.material));
    curves
}

/// What each of `joint_directions` does to what is free: a column of all unknowns for each, nothing where held.
fn along_old_directions(
    known: &Knowledge,
    covariance: &DMatrix<f64>,
    priors: &[(Range<usize>, DMatrix<f64>)],
    joint_directions: &[JointDirection],
    lots: &[Pigment],
) -> Vec<DVector<f64>> {
    let count = known.unknowns.count();
    let moved = joint_directions.iter().map(|each| {
        let of = |material: &Material| each.steps.iter().find(|step| step.material == *material);
        let mut held = DVector::zeros(count);
        for (index, unknown) in known
            .unknowns
            .materials
            .iter()
            .enumerate()
            .filter(|(_, unknown)| unknown.held)
        {
            if let Some(step) = of(&unknown.material) {
                known.unknowns.put(index, step, &mut held);
            }
        }
        let mut pull = -(&known.precision * held);
        for (index, unknown) in known.unknowns.materials.iter().enumerate() {
            if unknown.held {
                for at in known.unknowns.of(index) {
                    pull.rows_mut(at.start, at.len()).fill(0.0);
                }
                continue;
            }
            let lot = lots.iter().find(|lot| material_of(lot) == unknown.material);
            let old = lot.and_then(|lot| of(&Material::Pigment(lot.lot_of.clone())));
            if let Some(old) = old {
                let (at, prior) = &priors[index];
                let mut own = pull.rows_mut(at.start, at.len());
                own += prior * curves_of(old);
            }
        }
        covariance * pull
    });
    moved.collect()
}

/// What a joint direction does to the curves of one material: ln K at each wavelength, then ln S.
fn curves_of(step: &Step) -> DVector<f64> {
    let curves = step.ln_k.values().iter().chain(step.ln_s.values());
    DVector::from_iterator(OF_A_MATERIAL, curves.copied())
}

/// The curves of what is free, with all that is left unknown of them.
fn curves_of_free(
    known: &Knowledge,
    covariance: &DMatrix<f64>,
    moved: &[DVector<f64>],
) -> Vec<Curves> {
    let free = known
        .unknowns
        .materials
        .iter()
        .enumerate()
        .filter(|(_, unknown)| !unknown.held);
    let curves = free.map(|(index, _)| {
        let sd = |at: usize| {
            let by_directions: f64 = moved.iter().map(|step| step[at].powi(2)).sum();
            (covariance[(at, at)].max(0.0) + by_directions).sqrt()
        };
        known.curves_of(index, covariance, sd)
    });
    curves.collect()
}

/// The old joint directions with what they do to what is free, and then those of the free materials alone; each of all
/// materials.
fn all_directions(
    known: &Knowledge,
    covariance: &DMatrix<f64>,
    fitted: &Shelf,
    old: &[JointDirection],
    moved: &[DVector<f64>],
    free: &[Material],
) -> Vec<JointDirection> {
    let free_indices = free
        .iter()
        .filter_map(|material| known.unknowns.index(material));
    let with_lots = old.iter().zip(moved).map(|(each, column)| JointDirection {
        steps: each
            .steps
            .iter()
            .cloned()
            .chain(
                free_indices
                    .clone()
                    .map(|index| known.unknowns.step(index, column)),
            )
            .collect(),
    });
    let mut joint_directions: Vec<JointDirection> = with_lots.collect();

    // Seen in castings of everything, of which only what is free is unsure.
    let known_before = old.first().map_or(&[][..], |each| &each.steps);
    let known_before = known_before.iter().map(|step| step.material.clone());
    let everything = Unknowns::new(fitted, known_before.clone().chain(free.iter().cloned()));
    let mut own = DMatrix::zeros(everything.count(), everything.count());
    let at = |material: &Material| {
        let indices = (everything.index(material)?, known.unknowns.index(material)?);
        Some(everything.of(indices.0).zip(known.unknowns.of(indices.1)))
    };
    let blocks: Vec<(Range<usize>, Range<usize>)> = free.iter().filter_map(at).flatten().collect();
    for (row, row_from) in &blocks {
        for (column, column_from) in &blocks {
            let size = (row.len(), column.len());
            let from = covariance.view((row_from.start, column_from.start), size);
            own.view_mut((row.start, column.start), size)
                .copy_from(&from);
        }
    }
    let state = Fit::new(&fitted.settings, &known.weights, &everything, &[]).start();
    let seen = Knowledge {
        weights: known.weights.clone(),
        unknowns: everything,
        chips: Vec::new(),
        state,
        precision: DMatrix::zeros(0, 0),
    };
    let order: Vec<Material> = known_before.chain(free.iter().cloned()).collect();
    let in_order = |each: JointDirection| JointDirection {
        steps: order
            .iter()
            .filter_map(|material| {
                each.steps
                    .iter()
                    .find(|step| step.material == *material)
                    .cloned()
            })
            .collect(),
    };
    joint_directions.extend(
        seen.joint_directions(fitted, &own)
            .into_iter()
            .map(in_order),
    );
    joint_directions
}

/// The lot beside the old one, by the fitted curves of both.
fn beside_old(
    fitted: &Shelf,
    lot: &Pigment,
    readings: usize,
    joint_directions: &[JointDirection],
    known: &Knowledge,
) -> Result<Lot> {
    let [old, new] = [&lot.lot_of, &lot.name].map(|name| fitted.pigment(name));
    let (old, new) = (old?, new?);
    let of = |times: f64, each: Option<&JointDirection>| -> Compared {
        let curves = |pigment: &Pigment| {
            let mut steps = each.into_iter().flat_map(|each| &each.steps);
            let step = steps.find(|step| step.material == material_of(pigment));
            step.map_or(pigment.coefficients, |step| {
                step.taken(&pigment.coefficients, times)
            })
        };
        compare(
            &curves(old),
            &curves(new),
            old.is_white(),
            &fitted.settings,
            &known.weights,
        )
    };
    let here = of(0.0, None);
    let mut variance = [0.0; 3];
    for each in joint_directions {
        let there = of(1.0, Some(each));
        let by = [
            there.strength - here.strength,
            there.shift[0] - here.shift[0],
            there.shift[1] - here.shift[1],
        ];
        for (variance, by) in variance.iter_mut().zip(by) {
            *variance += by.powi(2);
        }
    }
    let [strength_sd, a_sd, b_sd] = variance.map(f64::sqrt);
    Ok(Lot {
        pigment: lot.name.clone(),
        of: lot.lot_of.clone(),
        readings,
        strength: (here.strength, strength_sd),
        delta_a: (here.shift[0], a_sd),
        delta_b: (here.shift[1], b_sd),
    })
}

/// What is made of each of `count` readings, in their order.
fn merged(count: usize, split: &LotSplit, known: Vec<Judged>, of_lots: Vec<Judged>) -> Vec<Judged> {
    let (mut known, mut of_lots) = (known.into_iter(), of_lots.into_iter());
    let next = |index: usize| {
        if split.of_lots.contains(&index) {
            of_lots.next()
        } else {
            known.next()
        }
    };
    let judged = (0..count).map(next);
    judged
        .map(|judged| judged.expect("each reading was judged in one of the two fits"))
        .collect()
}
