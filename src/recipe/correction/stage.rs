//! When a cup is corrected: before part A, after a test piece, or after the part.

use crate::error::{Error, Result};
use crate::materials::{
    Build, Contact, Cup, Grams, Kind, Millimetres, Mix, Portion, Poured, Shelf, Underlay,
};

/// How far the work has come.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Stage {
    /// Part B is tinted and part A not yet in, so that no clock runs; a well of part B alone is what is read.
    PartB(Well),
    /// A test piece has cured, before the part is cast.
    TestPiece {
        /// Mass of mixed base that the test piece took of the cup; 0 where the whole cup is still there.
        drawn: Grams,
    },
    /// The part itself has cured: there is nothing to add to, and the answer is for the next one.
    Part,
}

impl Stage {
    /// What lies under the instrument, the eye or the camera where `build` is what is cast, by the materials of `shelf`: the casting,
    /// which is `read_thickness` thick where that is known, or a well of part B.
    ///
    /// # Errors
    /// A well of a base that has no part B to read; let-downs that bring more part B than the cup takes; names that are not on
    /// the shelf.
    pub fn observed(
        &self,
        shelf: &Shelf,
        build: &Build,
        read_thickness: Option<Millimetres>,
    ) -> Result<Build> {
        match self {
            Self::PartB(well) => well.of(shelf, build),
            Self::TestPiece { .. } | Self::Part => Ok(Build {
                thickness: read_thickness.unwrap_or(build.thickness),
                ..build.clone()
            }),
        }
    }

    /// Mass of mixed base that was taken of the cup; 0 where all of it is still there.
    pub fn drawn(&self) -> Grams {
        match self {
            Self::TestPiece { drawn } => *drawn,
            Self::PartB(_) | Self::Part => Grams(0.0),
        }
    }
}

/// A layer of tinted part B, as it lies under the instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct Well {
    /// How deep it is.
    pub depth: Millimetres,
    /// What it lies on, wetted to it.
    pub beneath: Underlay,
    /// Whether the fibre is in already.
    pub is_fibre_in: bool,
}

impl Well {
    /// Depth of a well, where the casting's own layer is none: shallow enough to level, deep enough to read. Common practice,
    /// no source.
    pub const USUAL_DEPTH: Millimetres = Millimetres(2.0);

    /// As the skin of `build` will lie, where that is on a backing; else [`USUAL_DEPTH`](Self::USUAL_DEPTH) on the white card.
    /// The fibre is not in yet.
    pub fn like(build: &Build) -> Self {
        match &build.beneath {
            Underlay::Backing { name, .. } => Self {
                depth: build.thickness,
                beneath: Self::on(name),
                is_fibre_in: false,
            },
            Underlay::Foam(_) => Self {
                depth: Self::USUAL_DEPTH,
                beneath: Self::on(Shelf::WHITE_CARD),
                is_fibre_in: false,
            },
        }
    }

    /// The backing called `name`, wetted.
    pub fn on(name: &str) -> Underlay {
        Underlay::Backing {
            name: name.to_owned(),
            contact: Contact::Bonded,
        }
    }

    /// The build that is read: part B of the cup of `build`, with all its drops.
    ///
    /// Part A is its share of base and let-downs' clear together, since those are part B as well: every pigment of the whole
    /// cup stands in (A + B) / B times the strength. A ratio by volume is taken with one density for both parts, as it is when
    /// the cup is poured: that of each alone is not known. K and S of part B are taken to be those of the mixed base.
    ///
    /// # Errors
    /// A base of one part, or one that rises or dries before it has its colour; let-downs that bring more part B than the cup
    /// takes; names that are not on the shelf.
    pub(super) fn of(&self, shelf: &Shelf, build: &Build) -> Result<Build> {
        let skin = Cup::pour(shelf, &build.skin)?;
        let base = &skin.base;
        if base.ratio.is_single() {
            let finding = format!(
                "`{}` comes as one part, and has no part B to read",
                base.name
            );
            return Err(Error::input(finding).mend("read a test piece of it"));
        }
        let kind = base.kind.kind();
        if kind != Kind::Skin {
            let finding = format!(
                "`{}` is a {kind}, which has another colour as a liquid than as a casting",
                base.name
            );
            return Err(Error::input(finding).mend("read a test piece of it"));
        }
        let clear: Grams = skin.portions.iter().map(Portion::clear_mass).sum();
        let part_a = (skin.base_mass + clear) * base.ratio.share_a();
        let part_b = Grams(skin.base_mass.0 - part_a.0);
        if part_b.0 <= 0.0 {
            return Err(
                Error::input("the let-downs bring more part B than this cup takes")
                    .mend("use stronger let-downs, or make more"),
            );
        }
        let entries = build.skin.mix.entries().iter();
        let mut read = Vec::with_capacity(build.skin.mix.entries().len());
        for (colorant, amount) in entries {
            // What has no drop is the fibre, which is weighed in last.
            if self.is_fibre_in || shelf.pigment(&colorant.pigment)?.drop_mass.is_some() {
                read.push((colorant.clone(), *amount));
            }
        }
        Ok(Build {
            skin: Poured {
                base: build.skin.base.clone(),
                base_mass: part_b,
                mix: Mix::new(read)?,
            },
            thickness: self.depth,
            beneath: self.beneath.clone(),
            paint: None,
        })
    }
}
