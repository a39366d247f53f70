//! What all readings of one photograph err by together, and each alone.
//!
//! Camera, lamp and chart are the same for every chip on a board, so most of what its readings err by is common to them. A
//! calibration that took them for independent would believe six chips off one photograph as much as six that were read by an
//! instrument.
//!
//! So each photograph has unknowns of its own. One is an offset of L*, a* and b*. Where what the camera gave is kept, the lamp,
//! the camera, its tone curve, the fall of the light and the chips' own curves are others, as far as the chart leaves them
//! open: each moves each chip by the chip's own [`common_errors`](Swatch::common_errors). Each reading has a scatter beside
//! that of an instrument.

use crate::materials::Swatch;

/// Unknowns of each photograph: what its L*, a* and b* are off by. Those of its common errors stand behind them.
pub(super) const OFFSETS: usize = 3;

/// Standard deviations of these before any chip: what a chart leaves, as in `tone/chart`; and less where lamp and camera are
/// unknowns of their own. Trials of this project, no published source.
const OFFSET_SD: [f64; OFFSETS] = [1.0, 0.8, 1.0];
const OFFSET_SD_BESIDE_OTHERS: [f64; OFFSETS] = [0.3, 0.6, 0.8];

/// Standard deviation of the unknowns behind these, in what the chart gives as one: measured cameras lie farther from those
/// that are made up than these lie apart. Trials of this project, no published source.
const COMMON_SD: f64 = 2.0;

/// A photograph that chips were read off.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Photograph {
    name: String,
    /// How many things its readings are known to be off by together.
    common: usize,
}

impl Photograph {
    /// How many unknowns it has.
    pub(super) fn count(&self) -> usize {
        OFFSETS + self.common
    }

    /// Whether it is called `name`.
    pub(super) fn is_called(&self, name: &str) -> bool {
        self.name == name
    }

    /// Variances of its unknowns before any chip.
    pub(super) fn variances(&self) -> Vec<f64> {
        let offsets = if self.common == 0 {
            OFFSET_SD
        } else {
            OFFSET_SD_BESIDE_OTHERS
        };
        let offsets = offsets.map(|sd| sd * sd);
        let common = std::iter::repeat_n(COMMON_SD * COMMON_SD, self.common);
        offsets.into_iter().chain(common).collect()
    }
}

/// What the unknowns of its photograph, which stand at `off`, make of the reading of a chip whose common errors these are.
pub(super) fn off_by(off: &[f64], common_errors: &[[f64; 3]]) -> [f64; OFFSETS] {
    std::array::from_fn(|axis| {
        let common = common_errors.iter().zip(&off[OFFSETS..]);
        off[axis] + common.map(|(error, by)| by * error[axis]).sum::<f64>()
    })
}

/// What a chip's L*, a* or b* is off by in its photograph beside the common offset: the camera sees two mixes unalike, and
/// light is uneven. Trials of this project, no published source.
pub(super) const CHIP_SD: f64 = 0.8;

/// The photographs of `swatches`, each once, by name.
pub(super) fn of(swatches: &[Swatch]) -> Vec<Photograph> {
    let named = swatches.iter().filter(|swatch| !swatch.photo.is_empty());
    let mut photos: Vec<Photograph> = named
        .map(|swatch| Photograph {
            name: swatch.photo.clone(),
            common: swatch.common_errors.len(),
        })
        .collect();
    // The one that knows most stands first of those of a name: a reading that was typed over has no common errors.
    photos.sort_unstable_by(|one, other| (&one.name, other.common).cmp(&(&other.name, one.common)));
    photos.dedup_by(|one, other| one.name == other.name);
    photos
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use crate::characterise::calibrate;
    use crate::colour::{Lab, delta_e_2000};
    use crate::materials::fixtures::{chip, shelf};
    use crate::materials::{Casting, Shelf, Swatch};

    fn truth() -> Shelf {
        let mut truth = shelf();
        for (index, pigment) in truth.pigments.iter_mut().enumerate() {
            let strength = [1.3, 0.8, 1.15][index % 3];
            let curves = &mut pigment.coefficients;
            curves.k = curves.k.map(|k| strength * k);
            curves.s = curves.s.map(|s| strength * s);
        }
        truth
    }

    /// How far a mix that no chip is of is predicted from the truth, after chips of which most were photographed and the
    /// photograph is off; as it is, or as if an instrument had read them.
    fn miss(as_photographed: bool) -> f64 {
        let (first, truth) = (shelf(), truth());
        let weights = first.settings.viewing.weights();
        let lab = |shelf: &Shelf, mix: &str| {
            let casting = Casting::new(shelf, &chip(mix)).expect(mix);
            weights.lab(&casting.reading())
        };
        let swatch = |mix: &str, off: [f64; 3], photo: &str| {
            let Lab { l, a, b, .. } = lab(&truth, mix);
            let read = Lab::new(l + off[0], a + off[1], b + off[2]);
            Swatch {
                id: format!("{mix}{photo}"),
                photo: photo.to_owned(),
                ..Swatch::of(chip(mix), read, date(2026, 3, 9))
            }
        };
        let photo = if as_photographed { "board.jpg" } else { "" };
        let off = [1.6, -1.0, 1.4];
        let photographed = [
            "red 1",
            "red 2; white 2",
            "white 4",
            "red 1; white 6",
            "white 2",
        ];
        let by_instrument = ["red 1; white 1", "white 3"];
        let swatches: Vec<Swatch> = photographed
            .iter()
            .map(|mix| swatch(mix, off, photo))
            .chain(by_instrument.iter().map(|mix| swatch(mix, [0.0; 3], "")))
            .collect();
        let found = calibrate(&first, &swatches, &mut |_| Ok(())).expect("sound chips");
        let mut fitted = first.clone();
        for curves in &found.curves {
            let name = curves.material.name();
            for pigment in fitted.pigments.iter_mut().filter(|one| one.name == name) {
                pigment.coefficients = curves.coefficients;
            }
            for base in fitted.bases.iter_mut().filter(|one| one.name == name) {
                base.coefficients = curves.coefficients;
            }
        }
        let unseen = ["red 2; white 5", "red 3; white 3", "red 1; white 3"];
        let misses = unseen.map(|mix| delta_e_2000(lab(&fitted, mix), lab(&truth, mix)));
        misses.iter().sum::<f64>() / 3.0
    }

    #[test]
    fn what_a_photograph_is_off_by_is_not_taken_for_the_materials() {
        let (photographed, as_if_read) = (miss(true), miss(false));
        assert!(
            photographed < 0.7 * as_if_read,
            "{photographed} against {as_if_read}"
        );
    }
}
