//! The jars that cups draw on: each let-down of one base once, with what all of them take of it.

use jiff::civil::Date;
use serde::{Serialize, Serializer};

use super::{CalledFor, Pour};
use crate::materials::{Colorant, whole_number};

/// A let-down for one base, with what all cups take of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JarUse {
    /// The pigment in it.
    pub pigment: String,
    /// One part of the pigment in so many.
    #[serde(serialize_with = "as_whole")]
    pub ratio: f64,
    /// The base of the cups that draw on it, whose clear part (part B) the rest is.
    pub base: String,
    /// Pigment in it, g: to be stirred in where it is new, as it stands otherwise.
    pub pigment_g: f64,
    /// Clear base in it, g, likewise.
    pub base_g: f64,
    /// What all cups together take of it, g.
    pub uses_g: f64,
    /// Whether it is to be made.
    pub new: bool,
    /// The last good day of those that stand, the first of several.
    #[serde(skip)]
    pub keeps_until: Option<Date>,
}

impl JarUse {
    /// How much more is made than the cups take: some stays on stick and dropper. Common practice, no source.
    const SPARE: f64 = 1.2;

    /// The jars that are stirred or taken for `pours` as they are poured.
    pub(crate) fn to_stir<'a>(pours: impl IntoIterator<Item = &'a Pour>) -> Vec<Self> {
        Self::gathered(pours.into_iter().map(|pour| (pour, pour.drawn_on())))
    }

    /// The jars that `pours` draw on pot by pot, in the order in which they are wanted.
    pub fn of<'a>(pours: impl IntoIterator<Item = &'a Pour>) -> Vec<Self> {
        Self::gathered(pours.into_iter().map(|pour| (pour, &*pour.let_downs)))
    }

    fn gathered<'a>(pours: impl Iterator<Item = (&'a Pour, &'a [CalledFor])>) -> Vec<Self> {
        let mut jars: Vec<Self> = Vec::new();
        for (pour, let_downs) in pours {
            for called_for in let_downs {
                let CalledFor {
                    let_down,
                    uses_g,
                    from,
                    ..
                } = called_for;
                let known = jars
                    .iter()
                    .position(|jar| jar.base == pour.base && jar.is_of(let_down));
                let index = known.unwrap_or_else(|| {
                    let left: f64 = from.iter().map(|jar| jar.let_down.mass.0).sum();
                    jars.push(Self {
                        pigment: let_down.pigment.clone(),
                        ratio: let_down.let_down,
                        base: pour.base.clone(),
                        pigment_g: left / let_down.let_down,
                        base_g: left - left / let_down.let_down,
                        uses_g: 0.0,
                        new: false,
                        keeps_until: from.iter().map(|jar| jar.let_down.keeps_until).min(),
                    });
                    jars.len() - 1
                });
                let jar = &mut jars[index];
                jar.uses_g += uses_g;
                jar.new |= !called_for.is_ready();
            }
        }
        for jar in jars.iter_mut().filter(|jar| jar.new) {
            jar.pigment_g = Self::pigment_to_stir_g(jar.uses_g, jar.ratio);
            jar.base_g = jar.pigment_g * (jar.ratio - 1.0);
        }
        jars
    }

    /// Pigment that is stirred into a new jar of one part in `ratio`, g, of which so much is used.
    pub(crate) fn pigment_to_stir_g(uses_g: f64, ratio: f64) -> f64 {
        // A gram is the least that a bench scale weighs to some per cent.
        (uses_g * Self::SPARE / ratio).ceil().max(1.0)
    }

    /// Whether the jar holds `colorant`, at its very ratio.
    fn is_of(&self, colorant: &Colorant) -> bool {
        self.pigment == colorant.pigment && self.ratio.to_bits() == colorant.let_down.to_bits()
    }
}

/// Writes a ratio as a whole number where it is one.
#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference")]
pub(crate) fn as_whole<S: Serializer>(ratio: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    if ratio.fract() == 0.0 {
        serializer.serialize_u32(whole_number(*ratio))
    } else {
        serializer.serialize_f64(*ratio)
    }
}
