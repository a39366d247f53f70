//! Chips read again off what is kept of their photographs, once more is known of what they are made of.
//!
//! How a chip looks to a camera hangs on its whole curve, of which the camera tells three numbers. The rest is what its mix can
//! make, and that is known the better the more has been learnt; so reading and learning take turns, a few times.

use super::boards::{likely, rounded};
use crate::book::Book;
use crate::characterise::{Calibration, Progress, calibrate_in_turns};
use crate::colour::{Lab, delta_e_2000};
use crate::error::Result;
use crate::materials::{Shelf, Swatch};
use crate::tone::{KeptChart, Likely, LinearField};

/// Largest ΔE00 between two turns at which chips are taken to have come to rest: a quarter of what they scatter by beside those
/// of an instrument.
const AT_REST: f64 = 0.2;

/// The photographs of which something can be read again: of each its chart, and the chips that are learnt from, each the index
/// among the swatches and what the camera gave.
pub(super) struct Photographs(Vec<(KeptChart, Vec<(usize, LinearField)>)>);

impl Photographs {
    /// Those of `book` that `swatches` were read off; `None` where nothing can be read again.
    ///
    /// # Errors
    /// As [`Book::photographs`] and [`KeptChart::new`].
    pub(super) fn of(book: &Book, swatches: &[Swatch]) -> Result<Option<Self>> {
        let viewing = book.shelf().settings.viewing;
        let mut photographs = Vec::new();
        for photograph in book.photographs()? {
            let mut left: Vec<_> = photograph.chips.iter().collect();
            let off_it = swatches.iter().enumerate();
            let off_it = off_it.filter(|(_, swatch)| swatch.photo == photograph.name);
            let chips: Vec<_> = off_it
                .filter_map(|(index, swatch)| {
                    let chip = left.iter().position(|chip| chip.is_read_in(swatch))?;
                    Some((index, left.remove(chip).field))
                })
                .collect();
            if !chips.is_empty() {
                let chart = KeptChart::new(&photograph.patches, viewing).map_err(|error| {
                    error.within(format_args!("the photograph {}", photograph.name))
                })?;
                photographs.push((chart, chips));
            }
        }
        Ok((!photographs.is_empty()).then_some(Self(photographs)))
    }

    /// Learns from `swatches`, with `first` for first guesses: reads and learns by turns until what is read
    /// comes to rest. Puts what was read last into `swatches`. `progress` hears the share (0–1) that is done.
    ///
    /// # Errors
    /// As [`calibrate_in_turns`] and [`likely`].
    pub(super) fn calibrate(
        &self,
        first: &Shelf,
        swatches: &mut [Swatch],
        progress: &mut Progress<'_>,
    ) -> Result<Calibration> {
        let mut read = |shelf: &Shelf, swatches: &mut [Swatch]| {
            let stood: Vec<Option<Lab>> = swatches.iter().map(|swatch| swatch.lab).collect();
            self.read(shelf, swatches)?;
            let moved = stood.iter().zip(swatches.iter());
            let moved =
                moved.filter_map(|(stood, swatch)| Some(delta_e_2000((*stood)?, swatch.lab?)));
            Ok(moved.fold(0.0, f64::max) < AT_REST)
        };
        calibrate_in_turns(first, swatches, &mut read, progress)
    }

    /// Reads all chips by the materials of `shelf`, into `swatches`. One that no surface can look like stays as it was read.
    fn read(&self, shelf: &Shelf, swatches: &mut [Swatch]) -> Result<()> {
        for (chart, chips) in &self.0 {
            let asked = chips.iter().map(|(index, field)| {
                let swatch = &swatches[*index];
                Ok((*field, likely(shelf, &swatch.build, swatch.geometry)?))
            });
            let asked: Vec<(LinearField, Likely)> = asked.collect::<Result<_>>()?;
            let read = chart.read_again(&asked);
            for ((index, _), read) in chips.iter().zip(read) {
                if let Some(read) = read {
                    swatches[*index].lab = Some(rounded(read.lab));
                    swatches[*index].common_errors = read.common_errors;
                }
            }
        }
        Ok(())
    }
}

/// The readings of `stood` that `read` has other colours for, with these.
pub(super) fn moved(stood: &[Swatch], read: &[Swatch]) -> Vec<(Swatch, Lab)> {
    let moved = stood.iter().zip(read).filter_map(|(stood, read)| {
        let lab = read.lab.filter(|_| read.lab != stood.lab)?;
        Some((stood.clone(), lab))
    });
    moved.collect()
}
