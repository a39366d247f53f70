//! A photograph made small enough to be searched: a few of its pixels a block, freed of stray ones by a median.

use crate::error::Result;
use crate::tone::connection::ConnectionSpace;
use crate::tone::picture::Picture;

/// Most pixels along a side of a block that are averaged.
const MOST_SAMPLES: u32 = 3;
/// The share of the pixels that are darker than what is taken for a light grey, and the light that it is given.
const BRIGHT: f64 = 0.97;
const BRIGHT_LIGHT: f64 = 0.7;

/// A small picture.
pub(super) struct Small {
    /// Its pixels across and down.
    pub(super) size: [usize; 2],
    /// Those of the photograph.
    pub(super) full: [u32; 2],
    /// Pixels of the photograph along a side of one of its own.
    pub(super) scale: f64,
    /// X, Y, Z, row by row, each a median of nine.
    pub(super) xyz: Vec<[f64; 3]>,
    /// L*, a*, b* of that in a light that shows it.
    pub(super) lab: Vec<[f64; 3]>,
}

impl Small {
    /// `picture` with at most `side` pixels along its longer side.
    pub(super) fn of(picture: &Picture, side: u32, space: &ConnectionSpace) -> Result<Self> {
        let full = picture.size();
        let scale = (f64::from(full[0].max(full[1])) / f64::from(side)).max(1.0);
        let size = full.map(|count| whole((f64::from(count) / scale).floor().max(1.0)));
        let samples = whole(scale.round().clamp(1.0, f64::from(MOST_SAMPLES)));
        let of_block = |block: usize, sample: usize, count: u32| {
            let place = (block as f64 + (sample as f64 + 0.5) / samples as f64) * scale;
            u32::try_from(whole(place)).unwrap_or(count).min(count - 1)
        };
        let mut means = Vec::with_capacity(size[0] * size[1]);
        for row in 0..size[1] {
            let mut places = Vec::with_capacity(size[0] * samples * samples);
            for column in 0..size[0] {
                for sample in 0..samples * samples {
                    places.push([
                        of_block(column, sample % samples, full[0]),
                        of_block(row, sample / samples, full[1]),
                    ]);
                }
            }
            let pixels = picture.pixels(&places)?;
            means.extend(
                pixels
                    .chunks_exact(samples * samples)
                    .map(|block| -> [f64; 3] {
                        let count = block.len() as f64;
                        std::array::from_fn(|i| {
                            block.iter().map(|pixel| pixel.xyz[i]).sum::<f64>() / count
                        })
                    }),
            );
        }
        let xyz = medians(&means, size);
        let mut lights: Vec<f64> = xyz.iter().map(|xyz| xyz[1]).collect();
        let bright = whole(BRIGHT * (lights.len() - 1) as f64);
        let (_, bright, _) = lights.select_nth_unstable_by(bright, f64::total_cmp);
        let gain = BRIGHT_LIGHT / bright.max(1e-3);
        let lab = |xyz: &[f64; 3]| {
            let lab = space.lab(xyz.map(|value| value * gain));
            [lab.l, lab.a, lab.b]
        };
        Ok(Self {
            size,
            full,
            scale,
            lab: xyz.iter().map(lab).collect(),
            xyz,
        })
    }

    /// Mean X, Y, Z about a place, over a square that reaches `reach` pixels to each side; `None` out of the picture.
    pub(super) fn about(&self, [x, y]: [f64; 2], reach: usize) -> Option<[f64; 3]> {
        let [across, down] = self.size;
        if !(0.0..across as f64).contains(&x) || !(0.0..down as f64).contains(&y) {
            return None;
        }
        let (x, y) = (whole(x), whole(y));
        let (mut sum, mut count) = ([0.0; 3], 0.0);
        for row in y.saturating_sub(reach)..=(y + reach).min(down - 1) {
            for column in x.saturating_sub(reach)..=(x + reach).min(across - 1) {
                let xyz = self.xyz[row * across + column];
                sum = std::array::from_fn(|i| sum[i] + xyz[i]);
                count += 1.0;
            }
        }
        Some(sum.map(|sum| sum / count))
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place in a picture, at least 0"
)]
pub(super) fn whole(value: f64) -> usize {
    value as usize
}

/// The median of each pixel and its neighbours, value by value; pixels at the rim stay.
fn medians(pixels: &[[f64; 3]], [across, down]: [usize; 2]) -> Vec<[f64; 3]> {
    let mut result = pixels.to_vec();
    for row in 1..down.saturating_sub(1) {
        for column in 1..across.saturating_sub(1) {
            result[row * across + column] = std::array::from_fn(|i| {
                let mut nine: [f64; 9] = std::array::from_fn(|index| {
                    pixels[(row + index / 3 - 1) * across + column + index % 3 - 1][i]
                });
                *nine.select_nth_unstable_by(4, f64::total_cmp).1
            });
        }
    }
    result
}
