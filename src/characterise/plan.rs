//! Which chip to cast next: that which most narrows the colour of the tones to come.

use std::collections::HashMap;

use nalgebra::{DMatrix, DVector};

use super::calibration::with_curves;
use super::chip::{Chip, NuisanceOf, materials_of};
use super::knowledge::Knowledge;
use super::noise::lab_sd;
use super::relevance::{self, Even, Sight};
use super::unknowns::{OF_A_MATERIAL, Unknowns};
use crate::colour::{Lab, delta_e_2000};
use crate::error::{Error, Result};
use crate::materials::{
    Amount, Base, Build, Casting, Colorant, Contact, Cup, Grams, Kind, Material, Millimetres, Mix,
    Pigment, Poured, Shelf, Swatch, Underlay,
};

/// What is asked of a plan.
#[derive(Clone, Debug)]
pub struct Wish<'a> {
    /// The base that chips are cast of.
    pub base: &'a str,
    /// The tone that is to be made; skin of all tones where `None`.
    pub tone: Option<Lab>,
    /// How many chips.
    pub count: usize,
    /// Mass of the base that each is cast of: the more, the fewer drops have to be let down.
    pub base_mass: Grams,
}

/// The chips to cast next, and how sure the tones to come are at each step.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Plan {
    /// The chips, each the best after those before it.
    pub chips: Vec<Advice>,
    /// The tones to come, by what they look like, with the covariance of L*, a*, b* that bottles and a hand leave them: as the book
    /// stands, and after each chip.
    pub tones: Vec<Vec<(Lab, [[f64; 3]; 3])>>,
}

/// One chip worth casting, with what it would tell.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// Its cup.
    pub poured: Poured,
    /// Its thickness.
    pub thickness: Millimetres,
    /// What it is to be read over, wetted.
    pub backings: Vec<String>,
    /// The material that it tells most of, and the share (0–1) of what remained unknown of that material's share in the
    /// tones' spread.
    pub tells_of: (Material, f64),
    /// Root mean square spread (of L*, a*, b*) of the tones before this chip, and after it.
    pub spread: (f64, f64),
    /// Whether one like it is in the book already, or earlier in the plan: then what it tells is the mean of the two, since
    /// every other chip has been cast.
    pub again: bool,
}

/// Usual mass of a planned chip's base: enough for a film the size of a hand, and to be weighed well.
pub const CHIP_BASE: Grams = Grams(100.0);
/// Thickness of a planned chip.
pub const CHIP_THICKNESS: Millimetres = Millimetres(2.0);
/// Fewer drops than this scatter too much for their sum to be known well. This project's choice.
const FEWEST_DROPS: f64 = 6.0;
/// More drops than this are miscounted: here the next stronger let-down begins. This project's choice.
const MOST_DROPS: f64 = 5.0 * FEWEST_DROPS;
/// What a planned chip may be dosed from: the bottle, or one part in so many, the strongest first.
const RATIOS: [f64; 3] = [1.0, 5.0, 20.0];
/// Most jars that have to be stirred for one chip.
const MOST_NEW_JARS: usize = 1;
/// Castings whose colour a plan looks at.
const TONES: usize = 64;

/// The chips that tell most, one after the other, each given those before it and all `swatches`. None is like another, or
/// like one of `swatches`, as long as there are others: a second chip of a mix tells little but by how much hands differ. None
/// asks for more than one let-down that neither the book nor a chip before it has.
///
/// Each candidate is valued by the fall of the variance of L*, a* and b*, summed over castings of the tones to come, that
/// reading it would bring, to first order; what its own thickness and loads may be off by counts against it.
///
/// Source: the greedy choice of experiments by expected variance, D. J. C. MacKay (1992), Neural Computation 4, 590–604.
///
/// # Errors
/// A base that is not on the shelf or is no skin; a shelf without the white and the black card; no pigment that makes the tone.
pub fn plan(
    shelf: &Shelf,
    swatches: &[Swatch],
    wish: &Wish<'_>,
    progress: &mut dyn FnMut(f64),
) -> Result<Plan> {
    let base = shelf.base(wish.base)?;
    if base.kind.kind() != Kind::Skin {
        return Err(base.not_a(Kind::Skin).mend("name a skin of bases.csv"));
    }
    for card in [Shelf::WHITE_CARD, Shelf::BLACK_CARD] {
        shelf.backing(card)?;
    }
    let pigments = shelf
        .pigments
        .iter()
        .map(|pigment| Material::Pigment(pigment.name.clone()));
    let mut materials: Vec<Material> = pigments.collect();
    materials.push(Material::Base(wish.base.to_owned()));
    for swatch in swatches {
        let casting = Casting::of_swatch(shelf, swatch)?;
        materials.extend(casting.cups().flat_map(materials_of));
    }
    let unknowns = Unknowns::new(shelf, materials);
    let known = Knowledge::of_materials(shelf, swatches, unknowns, &mut |share| {
        progress(0.3 * share)
    })?;
    let mut covariance = known.covariance();
    let fitted = with_curves(shelf, &known.curves(&covariance));
    let to_come = known.tones(&fitted, base, wish.tone);
    if to_come.is_empty() {
        return Err(
            Error::input("no mix of the shelf's pigments comes near that tone")
                .mend("give another tone, or add the pigment that it needs"),
        );
    }
    let blocks: Vec<DMatrix<f64>> = to_come.iter().map(|tone| tone.rows.clone()).collect();
    let tones = stacked(&blocks, known.unknowns.count());
    let poured = |mix| Poured {
        base: wish.base.to_owned(),
        base_mass: wish.base_mass,
        mix,
    };
    let candidates: Vec<Candidate> = mixes(&fitted, wish.base_mass)
        .into_iter()
        .filter_map(|mix| known.candidate(&fitted, poured(mix)))
        .collect();
    let mut cast = cast_already(&fitted, swatches, wish.base)?;
    let mut jars = shelf.let_downs_for(wish.base);
    let mut chosen = Vec::new();
    let mut doubts = vec![left_in_doubt(&to_come, &covariance)];
    for number in 0..wish.count {
        let seen = &tones * &covariance;
        let gain = |candidate: &Candidate| {
            let lesson = candidate.lesson(&covariance);
            let common = &tones * &lesson.common;
            common.dot(&(&common * &lesson.inverse))
        };
        let gains: Vec<f64> = candidates.iter().map(gain).collect();
        let is_new = |index: &usize| {
            !cast
                .iter()
                .any(|load| load.is_like(&candidates[*index].load))
        };
        let by_gain = |one: &usize, other: &usize| gains[*one].total_cmp(&gains[*other]);
        let is_handy = |index: &usize| {
            let colorants = candidates[*index].let_downs();
            colorants
                .filter(|colorant| !jars.contains(colorant))
                .count()
                <= MOST_NEW_JARS
        };
        let all = (0..candidates.len()).filter(is_handy);
        let new = all.clone().filter(is_new).max_by(by_gain);
        let best = new.or_else(|| all.max_by(by_gain));
        let best = best.expect("the base alone can always be cast and read over the cards");
        let candidate = &candidates[best];
        let lesson = candidate.lesson(&covariance);
        let after = &covariance - &lesson.common * &lesson.inverse * lesson.common.transpose();
        let before_sum = seen.dot(&tones);
        let spread = |sum: f64| (sum.max(0.0) / tones.nrows() as f64).sqrt();
        chosen.push(Advice {
            poured: candidate.poured.clone(),
            thickness: CHIP_THICKNESS,
            backings: candidate.backings.clone(),
            tells_of: known.narrowed_most(&tones, &covariance, &after),
            spread: (spread(before_sum), spread(before_sum - gains[best])),
            again: new.is_none(),
        });
        cast.push(candidate.load.clone());
        let stirred: Vec<Colorant> = candidate.let_downs().cloned().collect();
        jars.extend(stirred);
        covariance = after;
        doubts.push(left_in_doubt(&to_come, &covariance));
        progress(0.3 + 0.7 * (number + 1) as f64 / wish.count as f64);
    }
    Ok(Plan {
        chips: chosen,
        tones: doubts,
    })
}

/// A casting of the tones to come.
struct Tone {
    lab: Lab,
    /// How its colour hangs on the unknowns: three rows.
    rows: DMatrix<f64>,
    /// Covariance of what a hand is off by, drops and thickness.
    by_hand: DMatrix<f64>,
}

/// What `covariance` of the unknowns and a hand leave in doubt of each tone.
fn left_in_doubt(tones: &[Tone], covariance: &DMatrix<f64>) -> Vec<(Lab, [[f64; 3]; 3])> {
    let of = |tone: &Tone| {
        let left = &tone.rows * covariance * tone.rows.transpose() + &tone.by_hand;
        let left = std::array::from_fn(|row| std::array::from_fn(|column| left[(row, column)]));
        (tone.lab, left)
    };
    tones.iter().map(of).collect()
}

/// The chips among `swatches` that are such as are planned of `base`.
fn cast_already(shelf: &Shelf, swatches: &[Swatch], base: &str) -> Result<Vec<Load>> {
    let is_such_a_chip = |build: &&Build| {
        build.skin.base == base
            && build.paint.is_none()
            && matches!(build.beneath, Underlay::Backing { .. })
            && are_alike(build.thickness.0, CHIP_THICKNESS.0)
    };
    let builds = swatches.iter().map(|swatch| &swatch.build);
    let chips = builds.filter(is_such_a_chip);
    chips.map(|build| Load::of(shelf, &build.skin)).collect()
}

/// A chip that could be cast.
struct Candidate {
    poured: Poured,
    load: Load,
    backings: Vec<String>,
    /// How its readings hang on the unknowns: three rows a backing.
    rows: DMatrix<f64>,
    /// Covariance of what else joint directions its readings: the instrument, its thickness, its loads.
    noise: DMatrix<f64>,
}

/// The mass of each pigment in a cup, g for each g of base, however it was dosed.
#[derive(Clone)]
struct Load(HashMap<String, f64>);

impl Load {
    /// That of `poured`.
    ///
    /// # Errors
    /// What is not on the shelf.
    fn of(shelf: &Shelf, poured: &Poured) -> Result<Self> {
        let mut load = HashMap::new();
        for portion in Cup::pour(shelf, poured)?.portions {
            let share = portion.dispersion_mass().0 / poured.base_mass.0;
            *load.entry(portion.pigment.name.clone()).or_insert(0.0) += share;
        }
        load.retain(|_, share| *share > 0.0);
        Ok(Self(load))
    }

    /// Whether a maker would take the two for one chip: as much of the same pigments.
    fn is_like(&self, other: &Self) -> bool {
        let mut shares = self.0.iter();
        self.0.len() == other.0.len()
            && shares.all(|(name, share)| {
                other
                    .0
                    .get(name)
                    .is_some_and(|other| are_alike(*share, *other))
            })
    }
}

/// Whether two amounts are as good as one for a chip: neither is more than the other by a third. This project's choice.
fn are_alike(one: f64, other: f64) -> bool {
    const ALIKE: f64 = 4.0 / 3.0;
    (ALIKE.recip()..=ALIKE).contains(&(one / other))
}

/// What reading a candidate would tell.
struct Lesson {
    /// Covariance of the unknowns and its readings.
    common: DMatrix<f64>,
    /// Inverse covariance of its readings.
    inverse: DMatrix<f64>,
}

impl Candidate {
    /// The let-downs in it.
    fn let_downs(&self) -> impl Iterator<Item = &Colorant> {
        let colorants = self
            .poured
            .mix
            .entries()
            .iter()
            .map(|(colorant, _)| colorant);
        colorants.filter(|colorant| colorant.let_down > 1.0)
    }

    fn lesson(&self, covariance: &DMatrix<f64>) -> Lesson {
        let common = covariance * self.rows.transpose();
        let readings = &self.rows * &common + &self.noise;
        let factor = readings.cholesky().expect(
            "the instrument's own noise keeps the covariance of readings positive definite",
        );
        let inverse = factor.inverse();
        Lesson { common, inverse }
    }
}

impl Knowledge {
    /// Castings of the tones to come.
    fn tones(&self, fitted: &Shelf, base: &Base, tone: Option<Lab>) -> Vec<Tone> {
        const TRIES: u32 = 6000;
        const NEAR: f64 = 8.0;
        let is_wanted = |lab: Lab| match tone {
            Some(tone) => delta_e_2000(tone, lab) < NEAR,
            // The range of published means of skin, with room around them; this project's choice.
            None => {
                (30.0..85.0).contains(&lab.l)
                    && (3.0..28.0).contains(&lab.a)
                    && (3.0..32.0).contains(&lab.b)
            }
        };
        let mut tones = Vec::new();
        for point in 0..TRIES {
            let build = relevance::tint(fitted, base, &self.unknowns, &mut Even::new(point));
            let sight = build.and_then(|build| self.seen(fitted, &build));
            if let Some((chip, sight)) = sight.filter(|(_, sight)| is_wanted(sight.lab)) {
                let hand = DMatrix::from_diagonal(&DVector::from_iterator(
                    chip.nuisances.len(),
                    chip.nuisances
                        .iter()
                        .map(|nuisance| by_hand(&chip, nuisance.of, fitted).powi(2)),
                ));
                tones.push(Tone {
                    lab: sight.lab,
                    by_hand: &sight.by_nuisance * hand * sight.by_nuisance.transpose(),
                    rows: sight.rows,
                });
            }
            if tones.len() == TONES {
                break;
            }
        }
        tones
    }

    /// `build` as a chip, and how its colour hangs on the unknowns.
    fn seen(&self, fitted: &Shelf, build: &Build) -> Option<(Chip, Sight)> {
        let (chip, setup) = relevance::unread(fitted, &self.unknowns, build)?;
        let supposed = chip.supposed(&self.unknowns, &self.state.offsets);
        let count = self.unknowns.count();
        let sight = relevance::sight(&chip, &supposed, &setup, fitted, &self.weights, count);
        Some((chip, sight))
    }

    /// The chip that is `poured`, read over the shelf's white and black card.
    fn candidate(&self, fitted: &Shelf, poured: Poured) -> Option<Candidate> {
        let backings = [Shelf::WHITE_CARD, Shelf::BLACK_CARD].map(str::to_owned);
        let mut rows = Vec::new();
        let mut nuisances: Vec<DMatrix<f64>> = Vec::new();
        let mut variances = Vec::new();
        for backing in &backings {
            let build = Build {
                skin: poured.clone(),
                thickness: CHIP_THICKNESS,
                beneath: Underlay::Backing {
                    name: backing.clone(),
                    contact: Contact::Bonded,
                },
                paint: None,
            };
            let (chip, sight) = self.seen(fitted, &build)?;
            rows.push(sight.rows);
            nuisances.push(sight.by_nuisance);
            let unsteady = self.state.unsteady;
            variances = chip
                .nuisances
                .iter()
                .map(|nuisance| (nuisance.sd * unsteady).powi(2))
                .collect();
        }
        let by_nuisance = stacked(&nuisances, variances.len());
        let by_hand = &by_nuisance
            * DMatrix::from_diagonal(&DVector::from_vec(variances))
            * by_nuisance.transpose();
        let readings = by_hand.nrows();
        let instrument = DMatrix::identity(readings, readings) * lab_sd(self.state.noise).powi(2);
        Some(Candidate {
            load: Load::of(fitted, &poured).expect("it was poured for its readings"),
            poured,
            backings: backings.to_vec(),
            rows: stacked(&rows, self.unknowns.count()),
            noise: by_hand + instrument,
        })
    }

    /// The material whose share in the tones' variance falls most, and by what share.
    fn narrowed_most(
        &self,
        tones: &DMatrix<f64>,
        before: &DMatrix<f64>,
        after: &DMatrix<f64>,
    ) -> (Material, f64) {
        let variance_by = |covariance: &DMatrix<f64>, index: usize| {
            let at = OF_A_MATERIAL * index;
            let own = tones.columns(at, OF_A_MATERIAL);
            let block = covariance.view((at, at), (OF_A_MATERIAL, OF_A_MATERIAL));
            own.dot(&(own * block))
        };
        let falls = self
            .unknowns
            .materials
            .iter()
            .enumerate()
            .map(|(index, unknown)| {
                let (old, new) = (variance_by(before, index), variance_by(after, index));
                (
                    old - new,
                    &unknown.material,
                    1.0 - new / old.max(f64::MIN_POSITIVE),
                )
            });
        falls
            .max_by(|one, other| one.0.total_cmp(&other.0))
            .map(|(_, material, share)| (material.clone(), share.clamp(0.0, 1.0)))
            .expect("the base of the chips is among the materials")
    }
}

/// By how much, as a logarithm, a hand is off of something in a part that is poured by whole drops, about ten of each.
fn by_hand(chip: &Chip, of: NuisanceOf, shelf: &Shelf) -> f64 {
    const DROPS: f64 = 10.0;
    match of {
        NuisanceOf::Load { .. } => shelf.settings.drop_sd / DROPS.sqrt(),
        NuisanceOf::Thickness(film) => shelf.settings.thickness_sd.0 / chip.thickness_mm[film],
        NuisanceOf::Rise(_) => 0.0,
    }
}

fn stacked(blocks: &[DMatrix<f64>], columns: usize) -> DMatrix<f64> {
    let rows = blocks.iter().map(DMatrix::nrows).sum();
    let mut all = DMatrix::zeros(rows, columns);
    let mut at = 0;
    for block in blocks {
        all.rows_mut(at, block.nrows()).copy_from(block);
        at += block.nrows();
    }
    all
}

/// Mixes that a hand can measure: the base alone; each pigment in a few strengths, alone and with white; and tints of
/// several, as they are and with one let-down alone.
fn mixes(shelf: &Shelf, base_mass: Grams) -> Vec<Mix> {
    /// Optical depths of a pigment in a chip.
    const DEPTHS: [f64; 3] = [0.1, 0.4, 1.5];
    const TINTS: u32 = 24;
    let white = shelf
        .pigments
        .iter()
        .find(|pigment| pigment.is_white() && pigment.drop_mass.is_some());
    let mut mixes = vec![Vec::new()];
    for pigment in &shelf.pigments {
        for depth in DEPTHS {
            let Some(own) = measured(shelf, pigment, depth, base_mass) else {
                continue;
            };
            mixes.push(vec![own.clone()]);
            if let Some(white) = white.filter(|white| white.name != pigment.name) {
                mixes.extend(measured(shelf, white, 1.0, base_mass).map(|white| vec![own, white]));
            }
        }
    }
    for point in 0..TINTS {
        let mut even = Even::new(point);
        let mut entries = Vec::new();
        for pigment in &shelf.pigments {
            let (taken, strength) = (even.next() < 0.5, even.next());
            if taken {
                entries.extend(measured(
                    shelf,
                    pigment,
                    relevance::depth(strength),
                    base_mass,
                ));
            }
        }
        let handy: Vec<_> = with_few_jars(entries.iter().cloned()).collect();
        if handy.len() < entries.len() {
            mixes.push(handy);
        }
        mixes.push(entries);
    }
    mixes
        .into_iter()
        .filter_map(|entries| Mix::new(entries).ok())
        .collect()
}

/// Those of `entries` that come from the bottle or the scale, and as many let-downs as may be stirred for one chip.
pub(super) fn with_few_jars(
    entries: impl Iterator<Item = (Colorant, Amount)>,
) -> impl Iterator<Item = (Colorant, Amount)> {
    let mut jars = 0;
    entries.filter(move |(colorant, _)| {
        jars += usize::from(colorant.let_down > 1.0);
        colorant.let_down == 1.0 || jars <= MOST_NEW_JARS
    })
}

/// As much of `pigment` as makes a chip of `base_mass` of this optical depth, in drops that can be counted, let down where the bottle's are
/// too coarse, or by the scale; `None` where neither can, or it would not cure.
pub(super) fn measured(
    shelf: &Shelf,
    pigment: &Pigment,
    depth: f64,
    base_mass: Grams,
) -> Option<(Colorant, Amount)> {
    let fraction = relevance::fraction(pigment, depth, CHIP_THICKNESS.0);
    if fraction > pigment.max_fraction {
        return None;
    }
    let mass = fraction * base_mass.0 / (1.0 - fraction);
    let Some(Grams(drop_g)) = pigment.drop_mass else {
        let mass = Grams(mass).rounded_to(shelf.settings.scale_resolution);
        let weighed = mass.0 >= 5.0 * shelf.settings.scale_resolution.0;
        return weighed.then(|| (Colorant::neat(&pigment.name), Amount::Mass(mass)));
    };
    RATIOS.into_iter().find_map(|let_down| {
        let drops = (mass * let_down / drop_g).round();
        (FEWEST_DROPS..=MOST_DROPS).contains(&drops).then(|| {
            let colorant = Colorant {
                pigment: pigment.name.clone(),
                let_down,
            };
            (colorant, Amount::Drops(drops))
        })
    })
}
