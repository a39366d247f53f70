//! A region of a picture in small blocks, so that the noise of single pixels averages out.
//!
//! A block's colour is the mean of its pixels in linear light, as the eye and a colour reader see a patch of
//! that size. Blocks are as large as JPEG's, 8 × 8 pixels, where the region is of middling size, smaller in
//! a small one, larger in a large one, of whose blocks an even grid of pixels is read.

use super::Region;
use super::picture::{Picture, Pixel};
use crate::error::{Error, Result};

/// Fewest pixels of a region: one block of JPEG's coding. Fewer are one reading of unknown noise.
pub(super) const FEWEST_PIXELS: usize = 64;

/// Pixels along the side of a block of middling size.
const USUAL_SIDE: f64 = 8.0;
/// Pixels along the side of the smallest block.
const SMALLEST_SIDE: f64 = 2.0;
/// Blocks that a small region is divided into where its pixels suffice, and a large one at most.
const BLOCKS: [f64; 2] = [1024.0, 8192.0];
/// Pixels read along the side of a block at most.
const MOST_READ: u32 = 5;

/// The pixels of a region, by blocks.
pub(super) struct Blocks {
    /// Blocks in a row.
    pub(super) columns: usize,
    /// Pixels of the region that a block covers, in the mean, whether they are read or not.
    pub(super) covered: f64,
    pixels: Vec<Pixel>,
    /// Where each block's pixels end.
    ends: Vec<usize>,
}

impl Blocks {
    /// Reads `region` of `picture`; `name` is what the user knows it by.
    ///
    /// # Errors
    ///
    /// An input error where the region reaches out of the picture or is too small.
    pub(super) fn read(picture: &Picture, region: Region, name: &str) -> Result<Self> {
        region.check(picture.size())?;
        let area = f64::from(region.width) * f64::from(region.height);
        if area < FEWEST_PIXELS as f64 {
            return Err(Error::input(format!(
                "{name} holds {area} pixels; at least {FEWEST_PIXELS} are wanted, such as 8 by 8"
            ))
            .mend("draw it larger"));
        }
        let [columns, rows] = divisions(region);
        let mut blocks = Self {
            columns: columns as usize,
            covered: area / (f64::from(columns) * f64::from(rows)),
            pixels: Vec::new(),
            ends: Vec::new(),
        };
        // A row of blocks at a time, so that little is in memory twice.
        for row in 0..rows {
            let mut places = Vec::new();
            for column in 0..columns {
                for y in read_along(region.height, rows, row) {
                    for x in read_along(region.width, columns, column) {
                        places.push([region.left + x, region.top + y]);
                    }
                }
                blocks.ends.push(blocks.pixels.len() + places.len());
            }
            blocks.pixels.extend(picture.pixels(&places)?);
        }
        Ok(blocks)
    }

    /// Every pixel that was read.
    pub(super) fn pixels(&self) -> &[Pixel] {
        &self.pixels
    }

    /// Mean X, Y, Z of each block's pixels that are `sound`, row by row; `None` where fewer than half are.
    pub(super) fn means(&self, sound: impl Fn(&Pixel) -> bool) -> Vec<Option<[f64; 3]>> {
        let mut start = 0;
        let mut means = Vec::with_capacity(self.ends.len());
        for end in &self.ends {
            let block = &self.pixels[start..*end];
            let (mut sum, mut count) = ([0.0; 3], 0_usize);
            for pixel in block.iter().filter(|pixel| sound(pixel)) {
                count += 1;
                for (sum, value) in sum.iter_mut().zip(pixel.xyz) {
                    *sum += value;
                }
            }
            means.push((2 * count >= block.len()).then(|| sum.map(|sum| sum / count as f64)));
            start = *end;
        }
        means
    }

    /// Blocks of `side` by `side` pixels, `columns` of them in a row.
    #[cfg(test)]
    pub(super) fn of(pixels: Vec<Pixel>, side: usize, columns: usize) -> Self {
        let covered = side * side;
        Self {
            columns,
            covered: covered as f64,
            ends: (1..=pixels.len() / covered)
                .map(|block| block * covered)
                .collect(),
            pixels,
        }
    }
}

/// Into how many columns and rows of blocks a region is divided.
fn divisions(region: Region) -> [u32; 2] {
    let area = f64::from(region.width) * f64::from(region.height);
    let [fewest, most] = BLOCKS;
    let wanted = (area / (USUAL_SIDE * USUAL_SIDE)).clamp(fewest, most);
    let side = (area / wanted).sqrt().max(SMALLEST_SIDE);
    [region.width, region.height].map(|length| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a positive number below `length`, which is a u32"
        )]
        let count = (f64::from(length) / side) as u32;
        count.max(1)
    })
}

/// Which pixels of a `length` in `count` blocks are read in the block at `index`.
fn read_along(length: u32, count: u32, index: u32) -> impl Iterator<Item = u32> {
    let bound = |index: u32| {
        let bound = u64::from(index) * u64::from(length) / u64::from(count);
        u32::try_from(bound).unwrap_or(length)
    };
    let (first, side) = (bound(index), bound(index + 1) - bound(index));
    let read = side.min(MOST_READ);
    (0..read).map(move |step| first + (2 * step + 1) * side / (2 * read))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_blocks_are_read_whole_and_large_ones_evenly() {
        let all: Vec<u32> = (0..7).flat_map(|index| read_along(30, 7, index)).collect();
        assert_eq!(all, (0..30).collect::<Vec<_>>(), "every pixel once");
        let some: Vec<u32> = read_along(4000, 100, 1).collect();
        assert_eq!(some, [44, 52, 60, 68, 76], "five of 40");
    }

    #[test]
    fn blocks_fit_the_region() {
        let divided = |text: &str| divisions(text.parse().expect("a region"));
        assert_eq!(divided("0,0,8,8"), [4, 4], "the smallest");
        assert_eq!(divided("0,0,100,100"), [32, 32], "a thousand");
        assert_eq!(divided("0,0,400,400"), [50, 50], "of 8 × 8");
        assert_eq!(divided("0,0,64,1"), [32, 1], "a line");
        let [columns, rows] = divided("0,0,4000,3000");
        assert!(columns * rows <= 8192, "no more than the most");
    }

    #[test]
    fn a_block_is_the_mean_of_its_sound_pixels() {
        let pixel = |light: f64| Pixel {
            xyz: [light; 3],
            opaque: light > 0.0,
            clipped: false,
            at_bottom: false,
        };
        let pixels = [0.2, 0.4, 0.0, 0.6, 0.0, 0.0, 0.0, 0.5].map(pixel);
        let means = Blocks::of(pixels.to_vec(), 2, 2).means(|pixel| pixel.opaque);
        let [first, second] = means[..] else {
            panic!("two blocks");
        };
        approx::assert_abs_diff_eq!(first.expect("three of four")[1], 0.4, epsilon = 1e-12);
        assert!(second.is_none(), "one of four");
    }
}
