//! One region of one photograph: its light undone, what tells nothing left out, and how far it can be trusted.

use super::Region;
use super::blocks::Blocks;
use super::card::{Balance, Card};
use super::chart::{ChartCorrection, ChartReading};
use super::connection::ConnectionSpace;
use super::picture::Picture;
use super::sorted::{Sorted, median};
use crate::error::{Error, Result};

/// Systematic standard deviation of L*, a*, b* with a card in the shot: the lamp's spectrum, the camera's
/// colour rendering and light that falls off between card and skin are still there. In trials of this project
/// with three cameras that are not the eye, seven lamps and a fall of 6 % over the picture, skins are off by 2.6,
/// 2.8 and 2.4 in the root mean square (`tests/target_photo/charts.rs`); no published source.
const BALANCED_SD: [f64; 3] = [2.5, 3.0, 3.0];
/// How much a*'s standard deviation grows with the size of the correction, added in squares. In
/// trials with a camera of the 2° observer a* is off by 2.7 in the root mean square for corrections below 0.6 and by 4.3 for those about 1.1;
/// L* and b* do not get worse.
const RED_SD_A_CORRECTION: f64 = 2.5;
/// Systematic standard deviation of L*, a*, b* without any correction: exposure, the light's colour and the
/// camera's taste as well. In the same trials 3.5, 3.2 and 3.2, where the exposure is about right and the camera
/// has no taste; a phone's photo is commonly 6 to 8 ΔE00 off (from trials of this project, no published source).
const UNCORRECTED_SD: [f64; 3] = [5.0, 5.0, 6.0];

/// Which share of the shading's fall, as a standard deviation of light, the tone at mid-light may be off by:
/// nothing says which area of a limb gets the light that a card held flat gets. Common practice, no source.
const MID_LIGHT_PART: f64 = 0.5;

/// What is in the shot to undo light and camera by.
pub(super) enum Reference<'a> {
    Nothing,
    Card(Card, Balance),
    Chart(&'a ChartReading),
}

/// What undoes light and camera in one region, and what that leaves in doubt.
pub(super) enum Correction<'a> {
    None,
    Card(&'a Card, &'a Balance),
    Chart(ChartCorrection),
}

impl<'a> Correction<'a> {
    /// What undoes by `reference` what light and camera did to `region`, which `blocks` are of.
    ///
    /// # Errors
    ///
    /// An input error where the region has no colour that the chart could correct.
    pub(super) fn of(
        region: Region,
        blocks: &Blocks,
        reference: &'a Reference<'a>,
        space: &ConnectionSpace,
    ) -> Result<Self> {
        match reference {
            Reference::Nothing => Ok(Self::None),
            Reference::Card(card, balance) => Ok(Self::Card(card, balance)),
            Reference::Chart(reading) => {
                let sound = blocks.means(|pixel| pixel.opaque && !pixel.clipped);
                let middle = |axis: usize| median(sound.iter().flatten().map(|xyz| xyz[axis]));
                let seen = [0, 1, 2].map(middle);
                let found = reading.correction(seen, region, space).ok_or_else(|| {
                    Error::input("the chart does not tell what colour the region has")
                        .mend("check the region and the chart's corners")
                })?;
                Ok(Self::Chart(found))
            }
        }
    }

    /// X, Y, Z as they are, of X, Y, Z as seen.
    pub(super) fn apply(&self, xyz: [f64; 3]) -> [f64; 3] {
        match self {
            Self::None => xyz,
            Self::Card(_, balance) => balance.apply(xyz),
            Self::Chart(correction) => correction.apply(xyz),
        }
    }

    /// Standard deviation of L*, a*, b* of what comes out.
    fn sd(&self) -> [f64; 3] {
        match self {
            Self::None => UNCORRECTED_SD,
            Self::Card(card, balance) => {
                let growth = [0.0, RED_SD_A_CORRECTION, 0.0];
                std::array::from_fn(|i| {
                    BALANCED_SD[i]
                        .hypot(growth[i] * balance.correction)
                        .hypot(card.spread()[i])
                })
            }
            Self::Chart(correction) => correction.sd,
        }
    }
}

/// A region that was read.
pub(super) struct View {
    pub(super) sorted: Sorted,
    /// Standard deviation of L*, a*, b* that all of the region shares.
    pub(super) systematic: [f64; 3],
}

impl View {
    /// Reads `region` of `picture`, its light undone by `reference`.
    ///
    /// # Errors
    ///
    /// An input error where the region reaches out of the picture or is too small, or has no colour that the
    /// chart could correct.
    pub(super) fn read(
        picture: &Picture,
        region: Region,
        reference: &Reference<'_>,
        space: &ConnectionSpace,
    ) -> Result<Self> {
        let blocks = Blocks::read(picture, region, "the region")?;
        let correction = Correction::of(region, &blocks, reference, space)?;
        let sorted = Sorted::new(&blocks, |xyz| correction.apply(xyz), space);
        let mut systematic = correction.sd();
        if let Some(shading) = &sorted.shading {
            let lightness = median(sorted.kept.iter().map(|lab| lab.l));
            // dL* = (L* + 16) / 3 · d ln Y; a* and b* go with the light to the power of a third.
            let light = MID_LIGHT_PART * shading.sd / 3.0;
            let chroma =
                |axis: fn(&crate::colour::Lab) -> f64| median(sorted.kept.iter().map(axis));
            let moved = [lightness + 16.0, chroma(|lab| lab.a), chroma(|lab| lab.b)];
            for (sd, moved) in systematic.iter_mut().zip(moved) {
                *sd = sd.hypot(light * moved);
            }
        }
        Ok(Self { sorted, systematic })
    }
}
