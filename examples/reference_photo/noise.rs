//! Smooth noise from whole numbers, so that every run draws the same picture.

use nalgebra::Vector3;

/// The seed of everything irregular in the picture.
pub(crate) const SEED: u32 = 1979;

/// A number from 0 to 1 that belongs to a lattice point; `layer` gives independent sets.
pub(crate) fn lattice(x: i32, y: i32, z: i32, layer: u32) -> f64 {
    let mut hash = SEED ^ layer.wrapping_mul(0x9E37_79B9);
    for part in [x, y, z] {
        hash = (hash ^ part.cast_unsigned()).wrapping_mul(0x85EB_CA6B);
        hash ^= hash >> 13;
        hash = hash.wrapping_mul(0xC2B2_AE35);
        hash ^= hash >> 16;
    }
    f64::from(hash) / f64::from(u32::MAX)
}

/// Smooth noise from −1 to 1 that changes over a distance of 1.
pub(crate) fn smooth(at: Vector3<f64>, layer: u32) -> f64 {
    let cell = at.map(f64::floor);
    let within = (at - cell).map(|t| t * t * (3.0 - 2.0 * t));
    let [x, y, z] = [cell.x, cell.y, cell.z].map(whole);
    let mix = |a: f64, b: f64, t: f64| a + (b - a) * t;
    let along_x = |dy: i32, dz: i32| {
        let value = |dx: i32| lattice(x + dx, y + dy, z + dz, layer);
        mix(value(0), value(1), within.x)
    };
    let along_y = |dz: i32| mix(along_x(0, dz), along_x(1, dz), within.y);
    2.0 * mix(along_y(0), along_y(1), within.z) - 1.0
}

/// [`smooth`] at four scales, each half the size and half the height of the one before.
pub(crate) fn cloudy(at: Vector3<f64>, layer: u32) -> f64 {
    (0..4)
        .map(|octave| {
            let scale = f64::from(1_u32 << octave);
            smooth(at * scale, layer + 31 * octave) / scale
        })
        .sum::<f64>()
        / 1.875
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a whole number of a few thousand at most"
)]
fn whole(value: f64) -> i32 {
    value as i32
}
