//! The surface between a casting and the air.

use std::fmt;
use std::str::FromStr;

use crate::error::Error;

/// How an instrument lights and looks, and with that whether it counts the light mirrored at the surface.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Specular {
    /// Counted, as in a sphere without gloss trap.
    Included,
    /// Left out, as in a sphere with a gloss trap.
    Excluded,
    /// Left out, as where beam and eye are 45° apart.
    FortyFive,
}

impl Specular {
    /// All there are.
    pub const ALL: [Self; 3] = [Self::Included, Self::Excluded, Self::FortyFive];

    /// Its word in a swatch book.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Included => "included",
            Self::Excluded => "excluded",
            Self::FortyFive => "45/0",
        }
    }

    /// What skin on a smooth surface differs by if one convention is taken for the other, ΔE00, roughly: by this project's
    /// own trials, no published source.
    pub fn worth_beside(self, other: Self) -> f64 {
        if self == other {
            0.0
        } else if self == Self::Included || other == Self::Included {
            4.0
        } else {
            0.7
        }
    }
}

impl fmt::Display for Specular {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl FromStr for Specular {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        let found = Self::ALL.into_iter().find(|one| one.word() == text);
        found.ok_or_else(|| {
            Error::unknown_name("specular convention", text, Self::ALL.map(Self::word))
        })
    }
}

/// A smooth surface to air, and how it is read.
///
/// What leaves a body counts alike for a sphere with and without gloss trap. A beam at 45° enters by Fresnel's law at that
/// angle, where a sphere lights from everywhere: of a body that sends light back evenly, (1 − r45) / (1 − ro) times as
/// much is seen at the normal, ro the share of diffuse light mirrored from outside; 1.046 at n = 1.5
/// (`tests/beam_at_45.rs` traces it). A white that instruments are set by is the same to both.
///
/// Source: J. L. Saunderson (1942), Journal of the Optical Society of America 32, 727–736.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    n: f64,
    specular: Specular,
    beam: f64,
    within: f64,
    /// What 45°/0° sees of a body, per what a sphere sees.
    at_45: f64,
}

impl Surface {
    /// Smallest and largest refractive index that is taken.
    pub const N_RANGE: (f64, f64) = (1.2, 2.0);

    /// The surface of material of refractive index `n`, within [`N_RANGE`](Self::N_RANGE).
    ///
    /// # Errors
    /// An index outside that range.
    pub fn new(n: f64, specular: Specular) -> Result<Self, Error> {
        let (low, high) = Self::N_RANGE;
        if !(low..=high).contains(&n) {
            return Err(Error::input(format!(
                "a refractive index of {n}; expected {low} to {high}"
            ))
            .mend("cast urethane has about 1.5"));
        }
        let beam = ((n - 1.0) / (n + 1.0)).powi(2);
        Ok(Self {
            n,
            specular,
            beam,
            within: diffuse_reflectance_from_within(n),
            at_45: (1.0 - mirrored_at_45(n)) / (1.0 - diffuse_reflectance_from_outside(n)),
        })
    }

    /// The same surface, read by this convention.
    #[must_use]
    pub fn read_with(self, specular: Specular) -> Self {
        Self { specular, ..self }
    }

    /// Refractive index of the material.
    pub fn n(&self) -> f64 {
        self.n
    }

    /// Specular convention of the readings.
    pub fn specular(&self) -> Specular {
        self.specular
    }

    /// Saunderson's k1: the share of a perpendicular beam that is mirrored from outside (0.04 at n = 1.5).
    pub fn k1(&self) -> f64 {
        self.beam
    }

    /// Saunderson's k2: the share of diffuse light that is mirrored back inside (0.596 at n = 1.5).
    pub fn k2(&self) -> f64 {
        self.within
    }

    /// The reading of a body whose diffuse reflectance, met from within, is `within` (0–1).
    pub fn read(&self, within: f64) -> f64 {
        let body = (1.0 - self.beam) * (1.0 - self.within) * within / (1.0 - self.within * within);
        self.of_body(body)
    }

    /// The diffuse reflectance, met from within, of a body that reads `reading`: the inverse of
    /// [`read`](Self::read). Below zero where the reading is less than what the surface alone mirrors.
    pub fn unread(&self, reading: f64) -> f64 {
        let body = self.body(reading);
        body / ((1.0 - self.beam) * (1.0 - self.within) + self.within * body)
    }

    /// The reading of a body that sends the share `body` of a perpendicular beam back into the air (0–1).
    pub fn of_body(&self, body: f64) -> f64 {
        self.seen() * body + self.counted()
    }

    /// What the body sends back of a perpendicular beam: the inverse of [`of_body`](Self::of_body).
    fn body(&self, reading: f64) -> f64 {
        (reading - self.counted()) / self.seen()
    }

    /// What an instrument of this surface's convention reads where one of convention `from` read `reading`.
    pub fn reread(&self, reading: f64, from: Specular) -> f64 {
        if from == self.specular {
            return reading;
        }
        self.of_body(self.read_with(from).body(reading))
    }

    /// The share of a perpendicular beam that comes back mirrored by the lower surface of a film with air beneath, whose
    /// optical depth (absorption and scattering) is `depth`: light in one direction, which a gloss trap and 45°/0° don't
    /// see; 0 where it counts.
    pub(super) fn unseen_below(&self, depth: f64) -> f64 {
        match self.specular {
            Specular::Included => 0.0,
            Specular::Excluded | Specular::FortyFive => {
                let through = (-2.0 * depth).exp();
                (1.0 - self.beam).powi(2) * self.beam * through
                    / (1.0 - self.beam.powi(2) * through)
            }
        }
    }

    /// What a film lying dry on a backing of reflectance `backing` (0–1, as seen in air) meets from within:
    /// its own lower surface, air, and the backing behind.
    pub fn over_air_gap(&self, backing: f64) -> f64 {
        let outside = diffuse_reflectance_from_outside(self.n);
        self.within + (1.0 - self.within) * (1.0 - outside) * backing / (1.0 - outside * backing)
    }

    /// The reading of an open face that sends the share `body` of a perpendicular beam back into the air (0–1), and of which
    /// the share `wet` has this surface.
    pub(super) fn of_open_body(&self, body: f64, wet: f64) -> f64 {
        (1.0 + wet * (self.seen() - 1.0)) * body + wet * self.counted()
    }

    /// What the surface itself mirrors into a reading.
    fn counted(&self) -> f64 {
        match self.specular {
            Specular::Included => self.beam,
            Specular::Excluded | Specular::FortyFive => 0.0,
        }
    }

    /// What is read of a body, per what a sphere reads.
    fn seen(&self) -> f64 {
        match self.specular {
            Specular::Included | Specular::Excluded => 1.0,
            Specular::FortyFive => self.at_45,
        }
    }
}

/// Share of an unpolarised beam from air at 45° that a smooth surface of index `n` mirrors: 0.050 at n = 1.5.
///
/// Source: Fresnel's law; at 45° the parallel share is the square of the perpendicular one.
fn mirrored_at_45(n: f64) -> f64 {
    let inside = (n * n - 0.5).sqrt();
    let perpendicular = ((0.5_f64.sqrt() - inside) / (0.5_f64.sqrt() + inside)).powi(2);
    f64::midpoint(perpendicular, perpendicular.powi(2))
}

/// Share of diffuse light from air that a smooth surface of index `n` (at least 1) mirrors: 0.092 at n = 1.5.
///
/// Source: J. W. T. Walsh (1926), in D. B. Judd (1942), Journal of Research of the National Bureau of
/// Standards 29, 329–332, equation 1; Fresnel's law averaged over the hemisphere, unpolarised.
pub fn diffuse_reflectance_from_outside(n: f64) -> f64 {
    // There is no surface, and the closed form is 0/0.
    if n <= 1.0 {
        return 0.0;
    }
    let (n2, n4) = (n.powi(2), n.powi(4));
    0.5 + (n - 1.0) * (3.0 * n + 1.0) / (6.0 * (n + 1.0).powi(2))
        + n2 * (n2 - 1.0).powi(2) / (n2 + 1.0).powi(3) * ((n - 1.0) / (n + 1.0)).ln()
        - 2.0 * n.powi(3) * (n2 + 2.0 * n - 1.0) / ((n2 + 1.0) * (n4 - 1.0))
        + 8.0 * n4 * (n4 + 1.0) / ((n2 + 1.0) * (n4 - 1.0).powi(2)) * n.ln()
}

/// Share of diffuse light from within that a smooth surface of index `n` > 1 mirrors back: 0.596 at n = 1.5.
///
/// Follows from [`diffuse_reflectance_from_outside`], since what passes is alike both ways but for n².
pub fn diffuse_reflectance_from_within(n: f64) -> f64 {
    1.0 - (1.0 - diffuse_reflectance_from_outside(n)) / (n * n)
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn the_diffuse_shares_are_fresnel_averaged_over_the_hemisphere() {
        for n in [1.2, 1.33, 1.5, 1.8] {
            let steps = 20_000;
            let from_outside: f64 = (0..steps)
                .map(|step| {
                    let mu = (f64::from(step) + 0.5) / f64::from(steps);
                    let inside = (1.0 - (1.0 - mu * mu) / (n * n)).sqrt();
                    let perpendicular = ((mu - n * inside) / (mu + n * inside)).powi(2);
                    let parallel = ((n * mu - inside) / (n * mu + inside)).powi(2);
                    (perpendicular + parallel) * mu / f64::from(steps)
                })
                .sum();
            assert_abs_diff_eq!(
                diffuse_reflectance_from_outside(n),
                from_outside,
                epsilon = 1e-6
            );
        }
    }

    #[test]
    fn any_backing_looks_lighter_from_within_through_an_air_gap() {
        let surface = Surface::new(1.5, Specular::Included).expect("1.5 is in range");
        assert!(surface.over_air_gap(0.0) > 0.5, "the lower surface mirrors");
        assert!(
            surface.over_air_gap(0.5) > 0.5,
            "a grey backing looks lighter from within"
        );
        assert_abs_diff_eq!(surface.over_air_gap(1.0), 1.0, epsilon = 1e-12);
    }
}
