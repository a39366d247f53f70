//! A target seen one way, brought to the way in which the book is read.

use super::{Target, surface_spectrum};
use crate::colour::Spectrum;
use crate::error::Result;
use crate::materials::{Geometry, Settings};

impl Target {
    /// The target, whose colours were taken in the way of `geometry`, as the instrument of `settings` would read it; as it is
    /// where `geometry` does not say.
    ///
    /// What the book's own instrument counts of mirrored light is added or taken away, and what 45°/0° sees more of a body,
    /// as on a smooth surface.
    ///
    /// # Errors
    /// A tone that is no colour of a surface.
    pub fn brought_to_book(mut self, geometry: Geometry, settings: &Settings) -> Result<Self> {
        let surface = settings.surface;
        let Some(seen) = geometry.specular else {
            return Ok(self);
        };
        self.instrument.geometry.specular = Some(surface.specular());
        if seen == surface.specular() {
            return Ok(self);
        }
        let weights = self.viewing.weights();
        let reread =
            |spectrum: &Spectrum| spectrum.map(|share| surface.reread(share, seen).clamp(0.0, 1.0));
        for tone in &mut self.tones {
            let (spectrum, _) = surface_spectrum(tone.lab, self.viewing)?;
            tone.lab = weights.lab(&reread(&spectrum));
        }
        self.spectrum = reread(&self.spectrum);
        self.lab = weights.lab(&self.spectrum);
        self.notes.push(format!(
            "seen as {seen}, brought to {} as this book is read",
            surface.specular()
        ));
        Ok(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::{Lab, Viewing};
    use crate::materials::fixtures::shelf;

    #[test]
    fn what_is_seen_at_45_gains_the_mirrored_light_where_a_sphere_counts_it() {
        let settings = shelf().settings;
        let target = Target::from_lab(Lab::new(60.0, 10.0, 15.0), Viewing::D65_10).expect("skin");
        let geometry = |word: &str| Geometry {
            specular: Some(word.parse().expect("a convention")),
            aperture_mm: None,
        };
        let of = |word| {
            let target = target.clone();
            target
                .brought_to_book(geometry(word), &settings)
                .expect("a surface")
        };
        assert_eq!(of("included").lab, target.lab, "the book's own");
        let brought = of("45/0");
        for band in [0, 17, 35] {
            // (1 - r45) / (1 - ro) at n = 1.5, by hand: r45 = 0.0502, ro = 0.0918.
            let expected = 0.04 + target.spectrum[band] / 1.0458;
            approx::assert_abs_diff_eq!(brought.spectrum[band], expected, epsilon = 1e-4);
        }
        approx::assert_abs_diff_eq!(brought.tones[0].lab.l, brought.lab.l, epsilon = 1e-6);
        assert!(brought.lab.l > target.lab.l + 1.0, "{:?}", brought.lab);
        assert_eq!(brought.notes.len(), 1 + target.notes.len(), "it says so");
    }
}
