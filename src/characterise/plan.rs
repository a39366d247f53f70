//! Which chip to cast next: that which most narrows the colour of the tones to come.

use std::collections::HashMap;

use nalgebra::{DMatrix, DVector};

use super::calibration::with_curves;
use super::chip::{Chip, NuisanceOf, materials_of};
use super::hand_mixes::{self, CHIP_THICKNESS, jars_of, mixes};
use super::knowledge::Knowledge;
use super::noise::lab_sd;
use super::relevance::{self, Even, Sight};
use super::unknowns::{OF_A_MATERIAL, Unknowns};
use crate::colour::{Lab, delta_e_2000};
use crate::error::{Error, Result};
use crate::materials::{
    Base, Build, Casting, Colorant, Contact, Cup, Grams, Kind, Material, Millimetres, Mix, Poured,
    Shelf, Swatch, Underlay,
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
    /// Mass of a chip's base.
    pub base_mass: Grams,
    /// Let-downs in that base that stand ready: none of them need be made.
    pub ready: Vec<Colorant>,
    /// The pigments of a long shelf that chips may be cast with, and parts made of; all where `None`.
    pub pigments: Option<Vec<String>>,
}

impl Wish<'_> {
    /// `shelf` without the pigments that are not to be planned with.
    fn open(&self, shelf: &Shelf) -> Shelf {
        let mut open = shelf.clone();
        if let Some(names) = &self.pigments {
            open.pigments
                .retain(|pigment| names.contains(&pigment.name));
        }
        open
    }
}

/// Chips worth casting, and what is to be expected of a part before and after each of them.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The chips, the one that tells most first.
    pub chips: Vec<Advice>,
    /// One more than there are chips: how parts of the tones to come would scatter about their forecasts if one were cast
    /// now, after the first chip, after the second…
    pub outlooks: Vec<Vec<Outlook>>,
}

/// How a part of one tone would scatter about what is forecast of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outlook {
    /// The forecast.
    pub lab: Lab,
    /// Covariance of L*, a*, b*: what is not known of the materials, and what drops and thickness are off by.
    pub covariance: [[f64; 3]; 3],
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
    /// The let-down that has to be made for it, if neither stands ready nor was made for a chip before it.
    pub new_jar: Option<Colorant>,
}

/// Mass of a planned chip's base where none is asked for: enough for a film the size of a hand, and to be weighed well.
pub const CHIP_BASE: Grams = Grams(100.0);
/// A chip that tells this share of what the best one tells is cast in its place if it takes less work. This project's choice.
const AS_GOOD: f64 = 0.93;
/// Let-downs that may have to be made for one chip.
const MOST_NEW_JARS: usize = 1;
/// Castings whose colour a plan looks at.
const TONES: usize = 64;

/// The chips that tell most, one after the other, each given those before it and all `swatches`. None is like another, or
/// like one of `swatches`, as long as there are others: a second chip of a mix tells little but by how much hands differ.
/// For none of them more than one let-down has to be made; of two that tell as much the one with less work is chosen.
///
/// Each candidate is valued by the fall of the variance of L*, a* and b*, summed over castings of the tones to come, that
/// reading it would bring, to first order; what its own thickness and loads may be off by counts against it.
///
/// Source: the greedy choice of experiments by expected variance, D. J. C. MacKay (1992), Neural Computation 4, 590–604.
///
/// # Errors
/// A base that is not on the shelf or is no skin; a shelf without the white and the black card; no pigment that makes the tone.
// Longer than eighty lines: each step hands the next what it found, and the loop changes all of it.
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
    let open = wish.open(shelf);
    let pigments = (open.pigments.iter()).map(|pigment| Material::Pigment(pigment.name.clone()));
    let mut materials: Vec<Material> = pigments.collect();
    materials.push(Material::Base(wish.base.to_owned()));
    for swatch in swatches {
        let casting = Casting::of_swatch(shelf, swatch)?;
        materials.extend(casting.cups().flat_map(materials_of));
    }
    let unknowns = Unknowns::new(shelf, materials);
    let known = Knowledge::of_materials(shelf, swatches, unknowns, &mut |share| {
        progress(0.3 * share);
        Ok(())
    })?;
    let mut covariance = known.covariance();
    let fitted = with_curves(shelf, &known.curves(&covariance));
    let open = wish.open(&fitted);
    let tones = known.tones(&open, base, wish.tone);
    if tones.labs.is_empty() {
        return Err(
            Error::input("no mix of the shelf's pigments comes near that tone")
                .mend("give another tone, or add the pigment that it needs"),
        );
    }
    let mut candidates: Vec<Candidate> = mixes(&open, wish.base_mass)
        .into_iter()
        .filter_map(|mix| known.candidate(&open, wish, mix))
        .collect();
    weigh(&mut candidates, &covariance, &tones.rows);
    let mut cast = cast_already(&fitted, swatches, wish.base)?;
    let mut made = wish.ready.clone();
    let mut chosen = Vec::new();
    let mut outlooks = vec![tones.outlooks(&covariance)];
    for number in 0..wish.count {
        let best = best(&candidates, &cast, &made);
        let candidate = &candidates[best.index];
        let lesson = candidate.lesson();
        let (rows, common, by_tones) = (
            candidate.rows.clone(),
            candidate.common.clone(),
            candidate.by_tones.clone(),
        );
        let after = &covariance - &common * &lesson * common.transpose();
        let before_sum = (&tones.rows * &covariance).dot(&tones.rows);
        let spread = |sum: f64| (sum.max(0.0) / tones.rows.nrows() as f64).sqrt();
        let new_jar = jars_of(&candidate.poured.mix).find(|jar| !made.contains(jar));
        chosen.push(Advice {
            poured: candidate.poured.clone(),
            thickness: CHIP_THICKNESS,
            backings: candidate.backings.clone(),
            tells_of: known.narrowed_most(&tones.rows, &covariance, &after),
            spread: (spread(before_sum), spread(before_sum - best.gain)),
            again: best.again,
            new_jar: new_jar.clone(),
        });
        made.extend(new_jar);
        cast.push(candidate.load.clone());
        for candidate in &mut candidates {
            let through = &lesson * (&rows * &candidate.common);
            candidate.common -= &common * &through;
            candidate.by_tones -= &by_tones * &through;
        }
        covariance = after;
        outlooks.push(tones.outlooks(&covariance));
        progress(0.3 + 0.7 * (number + 1) as f64 / wish.count as f64);
    }
    Ok(Plan {
        chips: chosen,
        outlooks,
    })
}

/// Sets what `candidates` have in common with the unknowns, of this covariance, and with the colours to come; all at once,
/// since one large product costs far less than many small ones.
fn weigh(candidates: &mut [Candidate], covariance: &DMatrix<f64>, tones: &DMatrix<f64>) {
    let rows: Vec<DMatrix<f64>> = candidates.iter().map(|each| each.rows.clone()).collect();
    let common = covariance * stacked(&rows, covariance.ncols()).transpose();
    let by_tones = tones * &common;
    let mut at = 0;
    for candidate in candidates {
        let readings = candidate.rows.nrows();
        candidate.common = common.columns(at, readings).into_owned();
        candidate.by_tones = by_tones.columns(at, readings).into_owned();
        at += readings;
    }
}

/// The candidate to cast next.
struct Best {
    index: usize,
    /// By how much it makes the summed variance of the tones less.
    gain: f64,
    /// Whether one like it is cast.
    again: bool,
}

/// The one with least work among those of `candidates` that tell nearly most, `cast` being cast and the jars `made` made.
fn best(candidates: &[Candidate], cast: &[Load], made: &[Colorant]) -> Best {
    let gains: Vec<f64> = candidates.iter().map(Candidate::gain).collect();
    let new_jars = |index: usize| {
        let jars = jars_of(&candidates[index].poured.mix);
        jars.filter(|jar| !made.contains(jar)).count()
    };
    let is_by_hand = |index: &usize| new_jars(*index) <= MOST_NEW_JARS;
    let is_new = |index: &usize| {
        let own = &candidates[*index].load;
        !cast.iter().any(|load| load.is_like(own))
    };
    let of_those = |indices: Vec<usize>, again: bool| {
        let by_gain = |one: &&usize, other: &&usize| gains[**one].total_cmp(&gains[**other]);
        let most = gains[*indices.iter().max_by(by_gain)?];
        let work =
            |index: &usize| hand_mixes::work(&candidates[*index].poured.mix, new_jars(*index));
        let as_good = indices
            .iter()
            .filter(|index| gains[**index] >= AS_GOOD * most);
        let least = as_good.min_by(|one, other| {
            let by_work = work(one).total_cmp(&work(other));
            by_work.then(gains[**other].total_cmp(&gains[**one]))
        });
        least.map(|index| Best {
            index: *index,
            gain: gains[*index],
            again,
        })
    };
    let by_hand: Vec<usize> = (0..candidates.len()).filter(is_by_hand).collect();
    let new = by_hand.iter().copied().filter(is_new).collect();
    of_those(new, false)
        .or_else(|| of_those(by_hand, true))
        .expect("the base alone can always be cast and read over the cards")
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
    /// Covariance of what else moves its readings: the instrument, its thickness, its loads.
    noise: DMatrix<f64>,
    /// Covariance of the unknowns and its readings, as things stand.
    common: DMatrix<f64>,
    /// Covariance of the tones and its readings, as things stand.
    by_tones: DMatrix<f64>,
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

impl Candidate {
    /// Inverse covariance of its readings.
    fn lesson(&self) -> DMatrix<f64> {
        let readings = &self.rows * &self.common + &self.noise;
        let factor = readings.cholesky().expect(
            "the instrument's own noise keeps the covariance of readings positive definite",
        );
        factor.inverse()
    }

    /// By how much reading it makes the summed variance of the tones less.
    fn gain(&self) -> f64 {
        self.by_tones.dot(&(&self.by_tones * self.lesson()))
    }
}

/// Castings of the tones to come.
struct Tones {
    labs: Vec<Lab>,
    /// How their colours hang on the unknowns: three rows a casting.
    rows: DMatrix<f64>,
    /// Covariance of L*, a*, b* of each by what drops and thickness are off by.
    by_hand: Vec<DMatrix<f64>>,
}

impl Tones {
    /// How each would scatter, the unknowns being off by `covariance`.
    fn outlooks(&self, covariance: &DMatrix<f64>) -> Vec<Outlook> {
        let seen = &self.rows * covariance;
        let each = self.labs.iter().zip(&self.by_hand).enumerate();
        each.map(|(index, (lab, by_hand))| {
            let rows = self.rows.rows(3 * index, 3);
            let all = seen.rows(3 * index, 3) * rows.transpose() + by_hand;
            Outlook {
                lab: *lab,
                covariance: std::array::from_fn(|row| {
                    std::array::from_fn(|column| all[(row, column)])
                }),
            }
        })
        .collect()
    }
}

/// Covariance of the colour of a part that is `chip`, by what drops and thickness are off by in a part of usual size, and the
/// layer model itself.
fn by_hand(shelf: &Shelf, chip: &Chip, sight: &Sight, build: &Build) -> DMatrix<f64> {
    /// What a skin of a face weighs. Common practice, no source.
    const PART: Grams = Grams(600.0);
    let casting = Casting::new(shelf, build).expect("it was cast for its colour");
    let cup = casting.cups().next().expect("a skin");
    let variances = chip.nuisances.iter().map(|nuisance| {
        let sd = match nuisance.of {
            NuisanceOf::Thickness(film) => shelf.settings.thickness_sd.0 / chip.thickness_mm[film],
            NuisanceOf::Load { ingredient, .. } => {
                // The base is the first ingredient.
                let portion = &cup.portions[ingredient - 1];
                let mass = portion.dispersion_mass().0 * PART.0 / build.skin.base_mass.0;
                let drops = portion
                    .pigment
                    .drop_mass
                    .map(|drop| (mass / drop.0).max(1.0));
                drops.map_or(nuisance.sd, |drops| shelf.settings.drop_sd / drops.sqrt())
            }
            NuisanceOf::Rise(_) => nuisance.sd,
        };
        sd * sd
    });
    let variances = DVector::from_iterator(chip.nuisances.len(), variances);
    let own = casting.model_spread().map(|sd| sd * sd);
    &sight.by_nuisance * DMatrix::from_diagonal(&variances) * sight.by_nuisance.transpose()
        + DMatrix::from_diagonal(&DVector::from_row_slice(&own))
}

impl Knowledge {
    /// Castings of the tones to come.
    fn tones(&self, fitted: &Shelf, base: &Base, tone: Option<Lab>) -> Tones {
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
        let mut labs = Vec::new();
        let mut of_hands = Vec::new();
        let mut rows: Vec<DMatrix<f64>> = Vec::new();
        for point in 0..TRIES {
            let build = relevance::tint(fitted, base, &self.unknowns, &mut Even::new(point));
            let Some(build) = build else {
                continue;
            };
            let seen = self.seen(fitted, &build);
            if let Some((chip, sight)) = seen.filter(|(_, sight)| is_wanted(sight.lab)) {
                labs.push(sight.lab);
                of_hands.push(by_hand(fitted, &chip, &sight, &build));
                rows.push(sight.rows);
            }
            if rows.len() == TONES {
                break;
            }
        }
        Tones {
            labs,
            rows: stacked(&rows, self.unknowns.count()),
            by_hand: of_hands,
        }
    }

    /// `build` as a chip, and how its colour hangs on the unknowns.
    fn seen(&self, fitted: &Shelf, build: &Build) -> Option<(Chip, Sight)> {
        let (chip, setup) = relevance::unread(fitted, &self.unknowns, build)?;
        let supposed = chip.supposed(&self.unknowns, &self.state.offsets);
        let count = self.unknowns.count();
        let sight = relevance::sight(&chip, &supposed, &setup, fitted, &self.weights, count);
        Some((chip, sight))
    }

    /// The chip of `mix`, read over the shelf's white and black card, not yet weighed.
    fn candidate(&self, fitted: &Shelf, wish: &Wish<'_>, mix: Mix) -> Option<Candidate> {
        let backings = [Shelf::WHITE_CARD, Shelf::BLACK_CARD].map(str::to_owned);
        let poured = Poured {
            base: wish.base.to_owned(),
            base_mass: wish.base_mass,
            mix,
        };
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
            common: DMatrix::zeros(0, 0),
            by_tones: DMatrix::zeros(0, 0),
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
