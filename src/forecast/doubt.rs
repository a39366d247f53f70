//! What is not known of a casting, as independent things that may each be off.

use crate::materials::{
    Amount, Base, BaseKind, Casting, CoefficientSpread, JointDirection, Material, Pigment, Shelf,
};
use crate::optics::{Coefficients, Foam};

/// What a doubt belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum DoubtSource {
    /// The mean mass of a drop.
    DropMass,
    /// The scatter from drop to drop, which few drops don't even out.
    DropScatter,
    /// The step of the scale.
    Weighing,
    /// How much fibre went in: it goes in by feel.
    Fibre,
    /// The thickness of skin and paint.
    Thickness,
    /// The curves of pigments and bases: what calibration has left unknown.
    Curves,
    /// The cells of the foam, and how far it rises.
    Foam,
    /// How the foam touches the skin.
    FoamContact,
    /// What the physics leaves over where too few castings were read to tell.
    LeftOver,
    /// The layer model's own.
    Model,
    /// The tone aimed at.
    Target,
}

impl DoubtSource {
    /// All of them, in the order of the work.
    pub const ALL: [Self; 11] = [
        Self::DropMass,
        Self::DropScatter,
        Self::Weighing,
        Self::Fibre,
        Self::Thickness,
        Self::Curves,
        Self::Foam,
        Self::FoamContact,
        Self::LeftOver,
        Self::Model,
        Self::Target,
    ];
}

/// One thing that may be off, by a standard deviation of its own.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Doubt {
    /// K of the base so called.
    BaseAbsorption(String),
    /// S of the base so called.
    BaseScattering(String),
    /// The cells of the foam so called, which are its white.
    Cells(String),
    /// What share of a wall the foam so called wets.
    Contact(String),
    /// How far the foam so called rises.
    Rise(String),
    /// K of the pigment so called.
    PigmentAbsorption(String),
    /// S of the pigment so called.
    PigmentScattering(String),
    /// The mean mass of a drop of the pigment so called, neat or let down.
    DropMass(String),
    /// The mass of one portion: the scatter of its drops, or the step of the scale.
    Portion {
        /// Index of the cup.
        cup: usize,
        /// Index of the portion in it.
        portion: usize,
    },
    /// The joint direction of calibrated materials at this index of the shelf's.
    JointDirection(usize),
    /// The thickness of the film at this index.
    Thickness(usize),
}

/// Relative standard deviation of the mean mass of a drop, on top of the scatter from drop to drop, where too few runs of
/// the bottle were weighed to tell: it is fuller, warmer or held otherwise than when its drops were weighed. Common
/// practice, no source; three runs of a standard dropper stay within as much of their mean (European Pharmacopoeia 2.1.1,
/// from memory).
pub(crate) const DROP_MASS_SD: f64 = 0.05;

/// Relative standard deviation of the mass of fibre in a cup that is yet to be cast: it goes in by feel, a handful at a time,
/// until the mix holds on a wall. Common practice, no source; the width is our own first guess.
const FIBRE_SD: f64 = 0.2;

/// Why a doubt of a portion finds its cup.
const OF_THE_CASTING: &str = "doubts are listed from the casting's own cups";

impl Doubt {
    /// What is not known of a base of `shelf`, save what its joint directions hold.
    pub(crate) fn of_base(base: &Base, shelf: &Shelf) -> Vec<Self> {
        let name = || base.name.clone();
        let mut doubts = Vec::new();
        if !shelf.is_calibrated(&Material::Base(name())) {
            doubts.extend([Self::BaseAbsorption(name()), Self::BaseScattering(name())]);
        }
        if matches!(base.kind, BaseKind::Foam(_)) {
            if !shelf.is_foam_calibrated(&base.name) {
                doubts.push(Self::Cells(name()));
            }
            if !shelf.is_contact_calibrated(&base.name) {
                doubts.push(Self::Contact(name()));
            }
            doubts.push(Self::Rise(name()));
        }
        doubts
    }

    /// What is not known of a pigment that was measured out as `amount`; `calibrated` where joint directions hold what is
    /// not known of its curves.
    pub(crate) fn of_pigment(pigment: &Pigment, amount: Amount, calibrated: bool) -> Vec<Self> {
        let mut doubts = Vec::new();
        if !calibrated {
            doubts.extend(Self::of_curves(pigment));
        }
        if matches!(amount, Amount::Drops(_)) {
            doubts.push(Self::DropMass(pigment.name.clone()));
        }
        doubts
    }

    /// What is not known of the curves of a pigment that no joint direction holds.
    pub(crate) fn of_curves(pigment: &Pigment) -> [Self; 2] {
        let name = || pigment.name.clone();
        [
            Self::PigmentAbsorption(name()),
            Self::PigmentScattering(name()),
        ]
    }

    /// Whether it is what the book does not know of its materials, and not what hands do.
    pub(crate) fn is_of_calibration(&self) -> bool {
        match self {
            Self::BaseAbsorption(_)
            | Self::BaseScattering(_)
            | Self::Cells(_)
            | Self::Contact(_)
            | Self::PigmentAbsorption(_)
            | Self::PigmentScattering(_)
            | Self::JointDirection(_) => true,
            Self::Rise(_) | Self::DropMass(_) | Self::Portion { .. } | Self::Thickness(_) => false,
        }
    }

    /// Whether the colour's way curves with it, and is no straight line by its own meaning.
    ///
    /// A calibration's joint directions are what readings leave unknown by their tangents. Along a straight line of
    /// logarithms the colour of a chip that was read would leave its reading at second order, which is the line's doing:
    /// what is left unknown keeps to the reading. So a joint direction is told by its tangent alone.
    ///
    /// Source: A. Immer, M. Korzepa, M. Bauer (2021), "Improving predictions of Bayesian neural nets via local linearization",
    /// AISTATS (from memory).
    pub(crate) fn has_curvature(&self) -> bool {
        !matches!(self, Self::JointDirection(_))
    }

    /// What line of a budget it belongs to, in `casting`.
    pub(crate) fn source(&self, casting: &Casting<'_>) -> DoubtSource {
        match self {
            Self::BaseAbsorption(_)
            | Self::BaseScattering(_)
            | Self::PigmentAbsorption(_)
            | Self::PigmentScattering(_)
            | Self::JointDirection(_) => DoubtSource::Curves,
            Self::Cells(_) | Self::Rise(_) => DoubtSource::Foam,
            Self::Contact(_) => DoubtSource::FoamContact,
            Self::DropMass(_) => DoubtSource::DropMass,
            Self::Portion { cup, portion } => {
                let cup = casting.cups().nth(*cup).expect(OF_THE_CASTING);
                let portion = &cup.portions[*portion];
                match portion.amount {
                    Amount::Mass(_) if portion.pigment.is_fibre() => DoubtSource::Fibre,
                    Amount::Mass(_) => DoubtSource::Weighing,
                    Amount::Drops(_) => DoubtSource::DropScatter,
                }
            }
            Self::Thickness(_) => DoubtSource::Thickness,
        }
    }

    /// Whether it is the curves of `material` alone.
    pub(crate) fn is_of_curves_of(&self, material: &Material) -> bool {
        match (self, material) {
            (Self::BaseAbsorption(name) | Self::BaseScattering(name), Material::Base(of))
            | (
                Self::PigmentAbsorption(name) | Self::PigmentScattering(name),
                Material::Pigment(of),
            ) => name == of,
            _ => false,
        }
    }

    /// `casting` after `times` the joint direction at `index` of the shelf's, of one material alone if any is named.
    pub(crate) fn taken<'shelf>(
        casting: &Casting<'shelf>,
        index: usize,
        alone: Option<&Material>,
        times: f64,
    ) -> Casting<'shelf> {
        let mut other = casting.clone();
        take(
            &mut other,
            &casting.shelf.joint_directions[index],
            alone,
            times,
        );
        other
    }

    /// The casting as it is if this is off by `sds` of its standard deviations.
    pub(crate) fn applied<'shelf>(&self, casting: &Casting<'shelf>, sds: f64) -> Casting<'shelf> {
        let mut other = casting.clone();
        let settings = &casting.shelf.settings;
        match self {
            Self::BaseAbsorption(_)
            | Self::BaseScattering(_)
            | Self::Cells(_)
            | Self::Contact(_)
            | Self::Rise(_)
            | Self::PigmentAbsorption(_)
            | Self::PigmentScattering(_)
            | Self::JointDirection(_) => {
                self.alter(&mut other, &casting.shelf.joint_directions, sds)
            }
            Self::DropMass(name) => {
                for portion in other.cups_mut().flat_map(|cup| &mut cup.portions) {
                    if portion.pigment.name == *name && matches!(portion.amount, Amount::Drops(_)) {
                        let relative = drop_mass_sd(&portion.pigment);
                        portion.mass = portion.mass * (1.0 + relative * sds).max(0.0);
                    }
                }
            }
            Self::Portion { cup, portion } => {
                let cup = other.cups_mut().nth(*cup).expect(OF_THE_CASTING);
                let portion = &mut cup.portions[*portion];
                let relative = match portion.amount {
                    Amount::Mass(_) if portion.pigment.is_fibre() => FIBRE_SD,
                    Amount::Mass(_) | Amount::Drops(_) => portion.mass_sd(settings),
                };
                portion.mass = portion.mass * (1.0 + relative * sds).max(0.0);
            }
            Self::Thickness(film) => {
                let film = &mut other.films[*film];
                film.thickness.0 = (film.thickness.0 + sds * film.thickness_sd.0).max(0.0);
            }
        }
        other
    }

    /// Makes `materials` what they are if this, which is of materials, is off by `sds` of its standard deviations.
    pub(crate) fn alter(
        &self,
        materials: &mut impl Alterable,
        joint_directions: &[JointDirection],
        sds: f64,
    ) {
        match self {
            Self::BaseAbsorption(name) => {
                materials.alter_base(name, |base| {
                    shift(&mut base.coefficients, &base.spread, sds, 0.0)
                });
            }
            Self::BaseScattering(name) => {
                materials.alter_base(name, |base| {
                    shift(&mut base.coefficients, &base.spread, 0.0, sds)
                });
            }
            Self::Cells(name) => alter_foam(materials, name, |foam| {
                foam.cell_mm *= (foam.cell_ln_sd * sds).exp()
            }),
            Self::Contact(name) => alter_foam(materials, name, |foam| {
                *foam = foam.shifted(0.0, 0.0, foam.wet_ln_sd * sds);
            }),
            Self::Rise(name) => alter_foam(materials, name, |foam| {
                *foam = foam.risen_further(Foam::RISE_LN_SD * sds);
            }),
            Self::PigmentAbsorption(name) => materials.alter_pigment(name, |pigment| {
                shift(
                    &mut pigment.coefficients,
                    &pigment.spread.of_a_bottle(),
                    sds,
                    0.0,
                );
            }),
            Self::PigmentScattering(name) => materials.alter_pigment(name, |pigment| {
                shift(
                    &mut pigment.coefficients,
                    &pigment.spread.of_a_bottle(),
                    0.0,
                    sds,
                );
            }),
            Self::JointDirection(index) => take(materials, &joint_directions[*index], None, sds),
            Self::DropMass(_) | Self::Portion { .. } | Self::Thickness(_) => {}
        }
    }
}

/// Relative standard deviation of the mean mass of a drop: as weighed, or else a usual one.
fn drop_mass_sd(pigment: &Pigment) -> f64 {
    match (pigment.drop_mass_sd, pigment.drop_mass) {
        (Some(sd), Some(mean)) => sd.0 / mean.0,
        _ => DROP_MASS_SD,
    }
}

/// Moves K by `k_sds` and S by `s_sds` of their standard deviations.
fn shift(coefficients: &mut Coefficients, spread: &CoefficientSpread, k_sds: f64, s_sds: f64) {
    *coefficients = spread.shift(coefficients, k_sds, s_sds);
}

impl Casting<'_> {
    /// Makes the cells of every foam in it `times` as wide.
    pub(crate) fn widen_cells(&mut self, times: f64) {
        if let Some((name, _)) = self.foam() {
            alter_foam(self, &name, |foam| foam.cell_mm *= times);
        }
    }
}

/// What holds materials that may be other than supposed: a casting, or the shelf.
pub(crate) trait Alterable {
    /// Alters the base called `name`, wherever it is.
    fn alter_base(&mut self, name: &str, alter: impl Fn(&mut Base));

    /// Alters the pigment called `name`, wherever it is.
    fn alter_pigment(&mut self, name: &str, alter: impl Fn(&mut Pigment));
}

impl Alterable for Casting<'_> {
    fn alter_base(&mut self, name: &str, alter: impl Fn(&mut Base)) {
        for cup in self.cups_mut().filter(|cup| cup.base.name == name) {
            alter(cup.base.to_mut());
        }
    }

    fn alter_pigment(&mut self, name: &str, alter: impl Fn(&mut Pigment)) {
        for portion in self.cups_mut().flat_map(|cup| &mut cup.portions) {
            let made_of = portion.pigment.curves_of();
            if portion.pigment.name == name || made_of.iter().any(|each| each.pigment.name == name)
            {
                portion.pigment.to_mut().alter_where(name, &alter);
            }
        }
    }
}

impl Alterable for Shelf {
    fn alter_base(&mut self, name: &str, alter: impl Fn(&mut Base)) {
        self.bases
            .iter_mut()
            .filter(|base| base.name == name)
            .for_each(alter);
    }

    fn alter_pigment(&mut self, name: &str, alter: impl Fn(&mut Pigment)) {
        self.pigments
            .iter_mut()
            .for_each(|pigment| pigment.alter_where(name, &alter));
    }
}

fn alter_foam(materials: &mut impl Alterable, name: &str, alter: impl Fn(&mut Foam)) {
    materials.alter_base(name, |base| {
        if let BaseKind::Foam(foam) = &mut base.kind {
            alter(foam);
        }
    });
}

/// Takes `each` joint direction `times` its steps, of one material alone if any is named.
fn take(
    materials: &mut impl Alterable,
    each: &JointDirection,
    alone: Option<&Material>,
    times: f64,
) {
    let steps = each.steps.iter();
    for step in steps.filter(|step| alone.is_none_or(|material| step.material == *material)) {
        let taken =
            |coefficients: &mut Coefficients| *coefficients = step.taken(coefficients, times);
        match &step.material {
            Material::Base(name) => {
                materials.alter_base(name, |base| {
                    taken(&mut base.coefficients);
                    if let (Some(step), BaseKind::Foam(foam)) = (step.foam, &mut base.kind) {
                        *foam = step.taken(foam, times);
                    }
                });
            }
            Material::Pigment(name) => {
                materials.alter_pigment(name, |pigment| taken(&mut pigment.coefficients));
            }
        }
    }
}
