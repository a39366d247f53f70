//! Dark skins that nobody has measured for us, as readings: tones of our own making, below those that were measured.

use super::Target;
use super::measured::{as_targets, measured_skins};
use crate::colour::{Lab, Viewing};
use crate::error::Result;
use crate::materials::{Geometry, Reading, Settings};

/// The L* of the tones, under D65/10°.
const LIGHTNESS: [f64; 9] = [25.0, 27.5, 30.0, 32.5, 35.0, 37.5, 40.0, 42.5, 45.0];

/// How far a tone is redder than it is yellow, or the other way: half of it is added to a* and taken off b*.
const HUES: [(&str, f64); 2] = [("redder", 3.0), ("yellower", -3.0)];

/// 18 tones of L* 25 to 45, a redder and a yellower one of each lightness.
///
/// They run on from the darkest of the measured skins (L* 43, a* 12, b* 17) towards a dark brown of L* 25, a* 7, b* 8.
/// Invented: our own choice, no source.
pub fn dark_skins() -> Vec<Reading> {
    let tones = LIGHTNESS
        .into_iter()
        .flat_map(|l| HUES.map(|(hue, apart)| (l, hue, apart)));
    let reading = |(l, hue, apart): (f64, &str, f64)| {
        let up = (l - 25.0) / 20.0;
        let (a, b) = (7.0 + 5.0 * up, 8.0 + 9.0 * up);
        Reading {
            name: format!("invented dark skin {l}, {hue}"),
            reflectance: None,
            lab: Some((
                Lab::new(l, a + apart / 2.0, b - apart / 2.0),
                Viewing::D65_10,
            )),
            geometry: Geometry::BY_A_SPHERE,
        }
    };
    tones.map(reading).collect()
}

/// The measured skins, and the dark ones, whose L* lies from `least` to `most` as the book of `settings` sees them, by name.
///
/// # Errors
/// As [`Target::from_readings`].
pub fn skins_of_lightness(
    (least, most): (f64, f64),
    settings: &Settings,
) -> Result<Vec<(String, Target)>> {
    let all = as_targets(measured_skins().into_iter().chain(dark_skins()), settings)?;
    let within = |(_, target): &(String, Target)| (least..=most).contains(&target.lab.l);
    Ok(all.into_iter().filter(within).collect())
}
