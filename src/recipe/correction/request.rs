//! What is asked of a correction.

use super::evidence::Evidence;
use super::stage::Stage;
use crate::colour::Lab;
use crate::error::Result;
use crate::forecast::tolerance;
use crate::materials::{Build, Colorant, Geometry, Grams, Millimetres, Shelf};
use crate::search::{KEPT, Limits};
use crate::tone::Target;

/// A cup of skin that may have come out wrong, and what it should be.
///
/// Made by [`of`](Self::of), then changed field by field.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Correction<'shelf> {
    /// Where names are looked up.
    pub shelf: &'shelf Shelf,
    /// Whether the shelf's curves have learnt from this reading already.
    pub taught: bool,
    /// What is cast: its skin's cup, with all that went in or will, is the one on the bench.
    pub build: Build,
    /// How thick that which was read is, where it is not as thick as what is to be cast.
    pub read_thickness: Option<Millimetres>,
    /// How far the work has come.
    pub stage: Stage,
    /// What tells of how it came out.
    pub evidence: Evidence,
    /// Most drops that may be added; with 0 the next cup alone is sought.
    pub max_add: u32,
    /// Let-downs that stand ready for the cup on the bench: there is no time to make one.
    pub let_downs: Vec<Colorant>,
    /// What may be dropped in beside what was poured; every pigment that is dropped where `None`.
    pub pigments: Option<Vec<Colorant>>,
    /// Pigments to leave out, unless they were poured.
    pub without: Vec<String>,
    /// Pigments of a long shelf, or of many that are asked for, that are passed over unless they were poured.
    pub passed_over: Vec<String>,
    /// Whether the contrast ratio may go where it will; else it stays in the window that was wished for, or within
    /// [`HELD_CONTRAST`](Self::HELD_CONTRAST) of what was poured, unless the limits have a window of their own.
    pub is_contrast_free: bool,
    /// Between what contrast ratios such a skin was wished for, and the one that this was planned with: where that or what was
    /// poured lies there, so does what comes next.
    pub wished_contrast: Option<((f64, f64), f64)>,
    /// ΔE00 up to which a skin passes; by the target's lightness where `None`.
    pub tolerance: Option<f64>,
    /// Bounds of the searches; the time limit is for all of them together, a window for the contrast ratio for both cups.
    pub limits: Limits,
}

impl<'shelf> Correction<'shelf> {
    /// The most drops that are added to a cup unless others are asked for.
    pub const MAX_ADD: u32 = 12;

    /// How far a correction may move the contrast ratio unless asked to. This project's own choice: about twice what is seen.
    pub const HELD_CONTRAST: f64 = 0.1;

    /// What to do about `build`, of which a cured test piece read `measured`; its cup may take [`MAX_ADD`](Self::MAX_ADD) drops
    /// more, from bottles.
    pub fn of(shelf: &'shelf Shelf, build: Build, measured: Lab) -> Self {
        Self {
            shelf,
            taught: false,
            build,
            read_thickness: None,
            stage: Stage::TestPiece { drawn: Grams(0.0) },
            evidence: Evidence::Reading {
                lab: measured,
                geometry: Geometry::default(),
            },
            max_add: Self::MAX_ADD,
            let_downs: Vec::new(),
            pigments: None,
            without: Vec::new(),
            passed_over: Vec::new(),
            is_contrast_free: false,
            wished_contrast: None,
            tolerance: None,
            limits: Limits::default(),
        }
    }

    /// The same, with no more than a few bottles of a long shelf, or of many that are asked for, open beside what was poured: see
    /// [`Order::short_listed`](crate::recipe::Order::short_listed).
    ///
    /// # Errors
    /// As [`remedy`](Self::remedy).
    pub fn short_listed(self, target: &Target) -> Result<Self> {
        let next = self.order_of_next(self.shelf, self.limits.contrast_ratio)?;
        Ok(Self {
            passed_over: next.short_listed(target)?.passed_over,
            ..self
        })
    }

    /// ΔE00 up to which a skin passes for `target`.
    pub fn tolerance_for(&self, target: &Target) -> f64 {
        self.tolerance.unwrap_or_else(|| tolerance(target.lab))
    }

    /// What lay under the instrument or the eye: the casting, or a well of part B.
    ///
    /// # Errors
    /// A well of a base that has no part B to read; let-downs that bring more part B than the cup takes; names that are not on
    /// the shelf.
    pub fn observed(&self) -> Result<Build> {
        (self.stage).observed(self.shelf, &self.build, self.read_thickness)
    }

    /// Whether `colorant` may go in: what was poured may, and so may what is asked for.
    pub(super) fn allows(&self, colorant: &Colorant) -> bool {
        let poured = self.build.skin.mix.entries();
        // A cup of more than a search can take has no say.
        let was_poured = poured.len() <= KEPT
            && (poured.iter()).any(|(known, _)| known.pigment == colorant.pigment);
        let is_asked_for = match &self.pigments {
            Some(pigments) => pigments.iter().any(|each| each.pigment == colorant.pigment),
            None => !self.without.contains(&colorant.pigment),
        };
        was_poured || (is_asked_for && !self.passed_over.contains(&colorant.pigment))
    }

    /// The most drops that may go into the cup on the bench: none once the part is cast.
    pub fn may_add(&self) -> u32 {
        match self.stage {
            Stage::PartB(_) | Stage::TestPiece { .. } => self.max_add,
            Stage::Part => 0,
        }
    }
}
