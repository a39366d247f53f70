//! By how much readings err before anything is known of their book: the scale on which a fit weighs them.

use super::photographs::CHIP_SD;

/// Standard deviation of a reading that repeats as well as a handheld instrument does on soft, slightly uneven material:
/// of reflectance (0–1) a floor that is always there and a share of what is read; of L*, a* or b* likewise. The second is
/// multiplied by the noise that a book's readings show: what models and hands err by is a share of the light. Common
/// practice, no source.
const REFLECTANCE_SD: (f64, f64) = (0.0015, 0.002);
const LAB_SD: (f64, f64) = (0.22, 0.12);

/// Reflectance on the scale whose every step is one standard deviation.
pub(super) fn reflectance_scale(reflectance: f64, noise: f64) -> f64 {
    let (always, share) = REFLECTANCE_SD;
    let share = share * noise;
    (always + share * reflectance.max(0.0)).ln() / share
}

/// Standard deviation of a reflectance.
pub(super) fn reflectance_sd(reflectance: f64, noise: f64) -> f64 {
    let (always, share) = REFLECTANCE_SD;
    always + share * noise * reflectance.max(0.0)
}

/// Standard deviation of L*, a* or b* of a chip in a photograph, beside what the whole of it is off by.
pub(super) fn photographed_sd(noise: f64) -> f64 {
    lab_sd(noise).hypot(CHIP_SD)
}

/// Standard deviation of L*, a* or b*.
pub(super) fn lab_sd(noise: f64) -> f64 {
    LAB_SD.0.hypot(LAB_SD.1 * noise)
}
