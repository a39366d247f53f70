//! What of a region tells the colour of skin: highlights, clipped and transparent pixels left out, the rest
//! averaged by blocks, the shading across a limb taken out, and how noisy these averages still are.

use super::blocks::Blocks;
use super::connection::ConnectionSpace;
use super::picture::Pixel;
use super::shading::Shading;
use crate::colour::Lab;

/// How much lighter than the middle of the region a highlight is, L*, and which share of the middle's chroma
/// it has at most. Shine adds the light's own white to the skin's colour: enough of it to lift L* from 65
/// by 12 takes a fifth of the chroma away, where more light on the skin would raise both. From trials of
/// this project, no published source.
const HIGHLIGHT_LIGHTER: f64 = 12.0;
const HIGHLIGHT_CHROMA: f64 = 0.8;

/// The median of the distance of two draws from one normal distribution, in its standard deviations: √2
/// times the quartile of the normal distribution.
const MEDIAN_DIFFERENCE: f64 = 0.953_873;

/// Pixels along the side of a block of JPEG's coding.
const CODING_BLOCK: f64 = 8.0;

/// The blocks of a region that tell its colour, and what does not.
pub(super) struct Sorted {
    /// Lab under D50/2° of the blocks that are kept.
    pub(super) kept: Vec<Lab>,
    /// Blocks in a row.
    pub(super) columns: usize,
    /// The same of every block, row by row; `None` of one that is left out.
    pub(super) even: Vec<Option<Lab>>,
    /// What every block looks like, shading, shine and all.
    pub(super) seen: Vec<Option<Lab>>,
    /// Standard deviation of L*, a*, b* of one block by the picture's noise.
    pub(super) noise: [f64; 3],
    /// Pixels of the region that a block covers, in the mean.
    pub(super) covered: f64,
    /// Pixels that were read.
    pub(super) read: usize,
    /// Pixels with a channel at the top, or all at the bottom.
    pub(super) clipped: usize,
    /// Pixels that show the light rather than the skin.
    pub(super) highlights: usize,
    /// Pixels that are not opaque.
    pub(super) transparent: usize,
    /// The shading that was taken out of the blocks that are kept.
    pub(super) shading: Option<Shading>,
}

impl Sorted {
    /// Leaves out what is transparent, clipped or shines; `balance` is what undoes the light.
    pub(super) fn new(
        blocks: &Blocks,
        balance: impl Fn([f64; 3]) -> [f64; 3],
        space: &ConnectionSpace,
    ) -> Self {
        let lab_of = |xyz: [f64; 3]| space.lab(balance(xyz));
        let is_sound = |pixel: &Pixel| pixel.opaque && !pixel.clipped;
        let sound = blocks.means(is_sound);
        let labs: Vec<Lab> = sound.into_iter().flatten().map(lab_of).collect();
        let lightness = median(labs.iter().map(|lab| lab.l)) + HIGHLIGHT_LIGHTER;
        let chroma = median(labs.iter().map(|lab| lab.a.hypot(lab.b))) * HIGHLIGHT_CHROMA;
        let luminance = space.xyz(Lab::new(lightness, 0.0, 0.0))[1];
        let shines = |pixel: &Pixel| {
            let xyz = balance(pixel.xyz);
            // The luminance alone lets nearly all pixels off.
            xyz[1] > luminance && {
                let lab = space.lab(xyz);
                lab.a.hypot(lab.b) < chroma
            }
        };
        let lit: Vec<Option<[f64; 3]>> = blocks
            .means(|pixel| is_sound(pixel) && !shines(pixel))
            .into_iter()
            .map(|mean| mean.map(&balance))
            .collect();
        let in_lab = |lit: &[Option<[f64; 3]>]| -> Vec<Option<Lab>> {
            lit.iter()
                .map(|xyz| xyz.map(|xyz| space.lab(xyz)))
                .collect()
        };
        let mut grid = in_lab(&lit);
        let [noise_of_l, ..] = noise(&grid, blocks.columns, blocks.covered);
        // d ln Y = 3 dL* / (L* + 16).
        let middle = median(grid.iter().flatten().map(|lab| lab.l));
        let noise_of_light = 3.0 * noise_of_l / (middle + 16.0);
        let shading = Shading::find(&lit, blocks.columns, noise_of_light);
        if let Some(shading) = &shading {
            let even = lit.iter().zip(&shading.factors);
            let even = even.map(|(xyz, factor)| xyz.map(|xyz| xyz.map(|value| value / factor)));
            grid = in_lab(&even.collect::<Vec<_>>());
        }
        let pixels = blocks.pixels();
        let count =
            |what: &dyn Fn(&Pixel) -> bool| pixels.iter().filter(|pixel| what(pixel)).count();
        Self {
            noise: noise(&grid, blocks.columns, blocks.covered),
            covered: blocks.covered,
            read: pixels.len(),
            clipped: count(&|pixel| pixel.opaque && pixel.clipped),
            highlights: count(&|pixel| is_sound(pixel) && shines(pixel)),
            transparent: count(&|pixel| !pixel.opaque),
            kept: grid.iter().copied().flatten().collect(),
            columns: blocks.columns,
            even: grid,
            seen: (blocks.means(|pixel| pixel.opaque).into_iter())
                .map(|mean| mean.map(lab_of))
                .collect(),
            shading,
        }
    }

    /// Pixels that were read and not left out.
    pub(super) fn usable(&self) -> usize {
        self.read - self.clipped - self.highlights - self.transparent
    }
}

/// Standard deviation of the blocks' L*, a*, b* by what differs between blocks close by: noise, and grain so
/// fine that no tone can be made of it either. Edges are too few to move the median. Close by is a block of
/// JPEG's coding apart, since within one the coding makes noise hang together; the scatter of pixels within
/// a block would miss that.
fn noise(grid: &[Option<Lab>], columns: usize, covered: f64) -> [f64; 3] {
    let rows = grid.len() / columns.max(1);
    let apart = |count: usize| {
        let side = covered.sqrt();
        let wanted = (1..count / 2).find(|steps| *steps as f64 * side >= CODING_BLOCK);
        wanted.unwrap_or(count / 2).max(1)
    };
    let (across, down) = (apart(columns), apart(rows));
    let mut differences: [Vec<f64>; 3] = Default::default();
    for (index, one) in grid.iter().enumerate() {
        let right = (index % columns + across < columns).then_some(index + across);
        for neighbour in [right, Some(index + down * columns)].into_iter().flatten() {
            if let (Some(one), Some(Some(other))) = (one, grid.get(neighbour)) {
                let apart = [one.l - other.l, one.a - other.a, one.b - other.b];
                for (differences, apart) in differences.iter_mut().zip(apart) {
                    differences.push(apart.abs());
                }
            }
        }
    }
    differences.map(|differences| median(differences.into_iter()) / MEDIAN_DIFFERENCE)
}

/// The middle value; 0 where there is none.
pub(super) fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    let middle = values.len() / 2;
    if values.is_empty() {
        return 0.0;
    }
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Viewing;

    #[test]
    fn shine_is_left_out_and_brighter_light_is_not() {
        let space = ConnectionSpace::new(Viewing::D65_10);
        let skin = Lab::new(65.0, 15.0, 18.0);
        let shine = Lab::new(82.0, 6.0, 8.0);
        let lit = Lab::new(80.0, 18.0, 21.0);
        let labs = [vec![skin; 90 * 4], vec![shine; 6 * 4], vec![lit; 4 * 4]].concat();
        let pixels = labs.into_iter().map(|lab| Pixel {
            xyz: space.xyz(lab),
            opaque: true,
            clipped: false,
            at_bottom: false,
        });
        let sorted = Sorted::new(&Blocks::of(pixels.collect(), 2, 10), |xyz| xyz, &space);
        assert_eq!(sorted.highlights, 24, "shine");
        assert_eq!(sorted.kept.len(), 94, "skin, and skin in more light");
        assert_eq!(sorted.clipped + sorted.transparent, 0, "nothing else");
    }

    #[test]
    fn noise_is_what_neighbours_differ_by_and_an_edge_is_not() {
        let grain = |index: usize| (index * 7919 % 101) as f64 / 25.0 - 2.0;
        let half = |index: usize| if index % 20 < 10 { 40.0 } else { 70.0 };
        let grid: Vec<Option<Lab>> = (0..400)
            .map(|index| Some(Lab::new(half(index), 10.0 + grain(index), 15.0)))
            .collect();
        let [l, a, b] = noise(&grid, 20, 64.0);
        approx::assert_abs_diff_eq!(l, 0.0, epsilon = 1e-12);
        assert!((0.8..1.8).contains(&a), "the grain, 1.17: {a}");
        approx::assert_abs_diff_eq!(b, 0.0, epsilon = 1e-12);
    }
}
