//! What a casting is made of, in the terms in which one is like another: how near two are decides how much of what the physics
//! missed of one it will miss of the other.

use super::{Base, Millimetres, Pigment};
use crate::colour::{Lab, SAMPLES, Spectrum, TristimulusWeights, Viewing};
use crate::optics::Coefficients;

/// How strongly each material of a shelf stops light, beside the others: a gram of fibre is not worth a gram of black.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Strengths {
    bases: Vec<(String, f64)>,
    pigments: Vec<(String, f64)>,
    /// What colours are seen under.
    weights: TristimulusWeights,
}

/// Which material, by its index among the bases and then the pigments.
type Index = usize;

impl Strengths {
    /// Those of `bases` and `pigments`: the means over the spectrum of K and S together, mm⁻¹. Colours are seen under `viewing`.
    pub(crate) fn of(bases: &[Base], pigments: &[Pigment], viewing: Viewing) -> Self {
        let strength = |of: &Coefficients| {
            let sums = of.k.values().iter().chain(of.s.values());
            sums.sum::<f64>() / SAMPLES as f64
        };
        Self {
            bases: (bases.iter())
                .map(|base| (base.name.clone(), strength(&base.coefficients)))
                .collect(),
            pigments: (pigments.iter())
                .map(|pigment| (pigment.name.clone(), strength(&pigment.coefficients)))
                .collect(),
            weights: viewing.weights(),
        }
    }

    /// The colour of `reflectance`.
    pub(crate) fn colour(&self, reflectance: &Spectrum) -> Lab {
        self.weights.lab(reflectance)
    }

    /// `reflectance` with its colour changed by so much.
    pub(crate) fn shifted(&self, reflectance: &Spectrum, by: [f64; 3]) -> Spectrum {
        self.weights.shifted(reflectance, by)
    }

    fn base(&self, name: &str) -> Option<(Index, f64)> {
        find(&self.bases, name)
    }

    fn pigment(&self, name: &str) -> Option<(Index, f64)> {
        find(&self.pigments, name).map(|(index, strength)| (self.bases.len() + index, strength))
    }
}

fn find(all: &[(String, f64)], name: &str) -> Option<(Index, f64)> {
    let index = all.iter().position(|(known, _)| known == name)?;
    Some((index, all[index].1))
}

/// The upper layer of a casting and what it lies on.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Makeup {
    /// Its base.
    base: Index,
    /// Of each material in it the share in what stops light, ascending; they sum to 1.
    shares: Vec<(Index, f64)>,
    /// The logarithm of how strongly it stops light.
    ln_load: f64,
    /// The logarithm of its thickness in millimetres, and what it lies on; `None` of a bed.
    over: Option<(f64, Beneath)>,
}

/// What lies beneath a film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Beneath {
    /// Its colour by itself.
    pub(crate) lab: Lab,
    /// Whether air lies between.
    pub(crate) is_dry: bool,
}

/// Squared distances between two castings, each in its own unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Apart {
    pub(crate) shares: f64,
    pub(crate) load: f64,
    pub(crate) thickness: f64,
    pub(crate) beneath: f64,
}

impl Makeup {
    /// That of a layer of `base`, of which `clear` is the share of the mass that stays, beside those of `dispersions`; `None`
    /// where the base is not among those of `strengths`.
    pub(crate) fn new<'a>(
        strengths: &Strengths,
        base: &Base,
        clear: f64,
        dispersions: impl Iterator<Item = (&'a Pigment, f64)>,
        over: Option<(Millimetres, Beneath)>,
    ) -> Option<Self> {
        /// What stops less light than this, mm⁻¹, stops none.
        const CLEAREST: f64 = 1e-6;
        let (index, own) = strengths.base(&base.name)?;
        let mut shares = vec![(index, clear * own)];
        let mut add = |pigment: &Pigment, share: f64| {
            if let Some((index, strength)) = strengths.pigment(&pigment.name) {
                shares.push((index, share * strength));
            }
        };
        for (pigment, share) in dispersions {
            // A stock is what it was made of.
            let made_of = pigment.curves_of();
            for each in made_of {
                add(&each.pigment, share * each.share);
            }
            if made_of.is_empty() {
                add(pigment, share);
            }
        }
        shares.sort_by_key(|(index, _)| *index);
        shares.dedup_by(|again, first| {
            let is_it = again.0 == first.0;
            if is_it {
                first.1 += again.1;
            }
            is_it
        });
        let load = shares.iter().map(|(_, part)| part).sum::<f64>();
        let load = load.max(CLEAREST);
        shares.iter_mut().for_each(|(_, part)| *part /= load);
        Some(Self {
            base: index,
            shares,
            ln_load: load.ln(),
            over: over.map(|(thickness, beneath)| (thickness.0.ln(), beneath)),
        })
    }

    /// How far it lies from `other`; `None` where one tells nothing of the other: they are of different bases, or one is a bed
    /// and one a film.
    pub(crate) fn apart(&self, other: &Self) -> Option<Apart> {
        if self.base != other.base {
            return None;
        }
        let (thickness, beneath) = match (&self.over, &other.over) {
            (None, None) => (0.0, 0.0),
            (Some((one, on)), Some((another, upon))) => {
                let [one_lab, other_lab] = [on.lab, upon.lab].map(|lab| [lab.l, lab.a, lab.b]);
                let axes = one_lab.into_iter().zip(other_lab);
                // On the scale of L*, from black to white.
                let colour: f64 = axes
                    .map(|(one, other)| ((one - other) / 100.0).powi(2))
                    .sum();
                let dry = if on.is_dry == upon.is_dry { 0.0 } else { 1.0 };
                ((one - another).powi(2), colour + dry)
            }
            _ => return None,
        };
        let mut shares = 0.0;
        let (mut ours, mut theirs) = (
            self.shares.iter().peekable(),
            other.shares.iter().peekable(),
        );
        loop {
            let off = match (ours.peek(), theirs.peek()) {
                (None, None) => break,
                (Some((one, share)), Some((another, part))) if one == another => {
                    ours.next();
                    theirs.next();
                    share - part
                }
                (Some((one, share)), Some((another, _))) if one < another => {
                    ours.next();
                    *share
                }
                (Some((_, share)), None) => {
                    ours.next();
                    *share
                }
                (_, Some((_, part))) => {
                    theirs.next();
                    *part
                }
            };
            shares += off * off;
        }
        Some(Apart {
            shares,
            load: (self.ln_load - other.ln_load).powi(2),
            thickness,
            beneath,
        })
    }
}
