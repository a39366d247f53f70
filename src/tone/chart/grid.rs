//! Where the patches of a chart lie in a picture, and what is seen of each.
//!
//! Four corners make a perspective grid: the projective map of the unit square on the quadrilateral, which is
//! what a pinhole makes of a flat chart. Of each patch the middle half of its width and height is read, clear
//! of the frame and of corners set a little wrong.
//!
//! Source of the map: P. S. Heckbert (1989), Fundamentals of texture mapping and image warping, master's thesis,
//! University of California, Berkeley, section 2.2.3 (from memory).

use std::fmt;
use std::str::FromStr;

use crate::error::{Error, Result};
use crate::tone::connection::ConnectionSpace;
use crate::tone::picture::{Picture, Pixel};
use crate::tone::sorted::median;

/// Share of a patch's width and height that is read, about its middle.
const INTERIOR: f64 = 0.5;
/// Least width and height of a patch, pixels: its interior is then 4 by 4.
const LEAST_SIDE: f64 = 8.0;
/// Most points read along one side of an interior.
const MOST_POINTS: f64 = 24.0;
/// Largest share of a patch's pixels that may be at a limit of their range.
const MOST_CLIPPED: f64 = 0.02;
/// Largest standard deviation of L* over the cells of a patch: an edge, shine or dirt lies across it.
const MOST_UNEVEN: f64 = 2.0;
/// Pixels further from the middle than this, in standard deviations as the median tells them, are left out.
const FAR_OFF: f64 = 3.0;
/// The median distance from the middle of a normal distribution, in its standard deviations.
const MEDIAN_DISTANCE: f64 = 0.674_490;
/// Cells along a side of an interior, for its evenness.
const CELLS: usize = 3;

/// The corners of a chart's grid of patches in the upright picture, pixels: top left, then clockwise, as the
/// chart's values are laid out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corners([[f64; 2]; 4]);

impl Corners {
    /// The four corners, each `[x, y]` in pixels from the top left.
    pub const fn new(corners: [[f64; 2]; 4]) -> Self {
        Self(corners)
    }

    /// The four corners, each `[x, y]` in pixels.
    pub fn points(self) -> [[f64; 2]; 4] {
        self.0
    }

    /// The corners in all eight orders in which a grid can lie: as they are first.
    pub(super) fn arrangements(self) -> [Self; 8] {
        std::array::from_fn(|index| {
            let (turn, mirrored) = (index % 4, index >= 4);
            Self(std::array::from_fn(|corner| {
                let corner = if mirrored { (5 - corner) % 4 } else { corner };
                self.0[(corner + turn) % 4]
            }))
        })
    }

    /// The corners beginning at each of the four in turn: as they are first.
    pub(super) fn turns(self) -> [Self; 4] {
        std::array::from_fn(|turn| Self(std::array::from_fn(|corner| self.0[(corner + turn) % 4])))
    }

    /// Refuses corners that are no view of something flat, called `what`, or lie outside a picture of this size.
    pub(in crate::tone) fn check(self, [width, height]: [u32; 2], what: &str) -> Result<()> {
        let inside = |[x, y]: [f64; 2]| {
            (0.0..=f64::from(width)).contains(&x) && (0.0..=f64::from(height)).contains(&y)
        };
        if let Some([x, y]) = self.0.into_iter().find(|corner| !inside(*corner)) {
            return Err(Error::input(format!(
                "the {what}'s corner {x},{y} does not lie in the picture, which is {width} wide and {height} high \
                 when upright"
            ))
            .mend(format!("the corners are those of the patches or chips, in pixels from the top left; the whole {what} must be in the shot")));
        }
        let turn = |index: usize| {
            let [a, b, c] = [0, 1, 2].map(|step| self.0[(index + step) % 4]);
            (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
        };
        let turns: [f64; 4] = std::array::from_fn(turn);
        if turns.iter().all(|turn| *turn > 0.0) {
            return Ok(());
        }
        if turns.iter().all(|turn| *turn < 0.0) {
            let [a, b, c, d] = self.0;
            return Err(
                Error::input(format!("the {what}'s corners run anticlockwise")).mend(format!(
                    "give them from the top left clockwise: {}",
                    Self([a, d, c, b])
                )),
            );
        }
        Err(Error::input(format!(
            "the {what}'s corners cross each other or make a dent"
        ))
        .mend("give top left, top right, bottom right, bottom left of the grid, in that order"))
    }

    /// The part that is read of the patch at `row` and `column` of a grid of `rows` and `columns`.
    pub fn read_part(self, [row, column]: [u32; 2], [rows, columns]: [u32; 2]) -> Self {
        let half = 0.5 * INTERIOR;
        Self(
            [[-half, -half], [half, -half], [half, half], [-half, half]].map(|[dx, dy]| {
                let u = (f64::from(column) - 0.5 + dx) / f64::from(columns);
                let v = (f64::from(row) - 0.5 + dy) / f64::from(rows);
                self.place(u, v)
            }),
        )
    }

    /// Whether a middle or a corner of one lies in the other.
    pub(in crate::tone) fn meets(self, other: Self) -> bool {
        let holds = |outer: Self, point: [f64; 2]| {
            (0..4).all(|index| {
                let [a, b] = [outer.0[index], outer.0[(index + 1) % 4]];
                (b[0] - a[0]) * (point[1] - a[1]) - (b[1] - a[1]) * (point[0] - a[0]) > 0.0
            })
        };
        let points = |of: Self| of.0.into_iter().chain([of.place(0.5, 0.5)]);
        points(other).any(|point| holds(self, point))
            || points(self).any(|point| holds(other, point))
    }

    /// The place in the picture of a point of the unit square.
    pub(in crate::tone) fn place(self, u: f64, v: f64) -> [f64; 2] {
        let [a, b, c, d] = self.0;
        let sum: [f64; 2] = std::array::from_fn(|i| a[i] - b[i] + c[i] - d[i]);
        let (right, down): ([f64; 2], [f64; 2]) = (
            std::array::from_fn(|i| b[i] - c[i]),
            std::array::from_fn(|i| d[i] - c[i]),
        );
        let bottom = right[0] * down[1] - down[0] * right[1];
        let g = (sum[0] * down[1] - down[0] * sum[1]) / bottom;
        let h = (right[0] * sum[1] - sum[0] * right[1]) / bottom;
        let depth = g * u + h * v + 1.0;
        std::array::from_fn(|i| {
            let along = b[i] - a[i] + g * b[i];
            let across = d[i] - a[i] + h * d[i];
            (along * u + across * v + a[i]) / depth
        })
    }

    /// Where a point of the picture lies from the middle of the chart, in widths of the chart: as if the
    /// picture were the chart's plane seen from straight ahead.
    pub(super) fn offset(self, point: [f64; 2]) -> [f64; 2] {
        let middle = self.place(0.5, 0.5);
        let [a, b, c, d] = self.0;
        let width = f64::midpoint(distance(a, b), distance(d, c));
        std::array::from_fn(|i| (point[i] - middle[i]) / width)
    }

    /// What is seen of the patch at `row`, `column`, from 1, of a grid of `rows` by `columns`.
    ///
    /// # Errors
    ///
    /// An input error where the patches are too small to be read.
    pub(in crate::tone) fn see(
        self,
        picture: &Picture,
        space: &ConnectionSpace,
        [row, column]: [u32; 2],
        [rows, columns]: [u32; 2],
    ) -> Result<Seen> {
        let at = |across: f64, down: f64| {
            let u = (f64::from(column) - 0.5 + across) / f64::from(columns);
            let v = (f64::from(row) - 0.5 + down) / f64::from(rows);
            self.place(u, v)
        };
        let width = distance(at(-0.5, 0.0), at(0.5, 0.0));
        let height = distance(at(0.0, -0.5), at(0.0, 0.5));
        if width.min(height) < LEAST_SIDE {
            return Err(Error::input(format!(
                "the patches or chips are {width:.0} by {height:.0} pixels; at least {LEAST_SIDE} by {LEAST_SIDE} \
                 are wanted"
            ))
            .mend("check the corners, or come nearer with the camera"));
        }
        let [across, down] = [width, height].map(points);
        let size = picture.size();
        let mut places = Vec::with_capacity(across * down);
        for y in 0..down {
            for x in 0..across {
                let step = |index: usize, count: usize| {
                    ((index as f64 + 0.5) / count as f64 - 0.5) * INTERIOR
                };
                let point = at(step(x, across), step(y, down));
                places.push(std::array::from_fn(|i| pixel_at(point[i], size[i])));
            }
        }
        let pixels = picture.pixels(&places)?;
        Ok(Seen::of(&pixels, across, at(0.0, 0.0), space))
    }
}

/// How many points are read along a side of this length, pixels.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "from 4 to 24"
)]
fn points(side: f64) -> usize {
    (side * INTERIOR).round().clamp(4.0, MOST_POINTS) as usize
}

/// The pixel that covers a place, within a picture of this many.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to the picture"
)]
fn pixel_at(place: f64, count: u32) -> u32 {
    place.floor().clamp(0.0, f64::from(count - 1)) as u32
}

fn distance([ax, ay]: [f64; 2], [bx, by]: [f64; 2]) -> f64 {
    (ax - bx).hypot(ay - by)
}

impl fmt::Display for Corners {
    /// `X,Y,X,Y,X,Y,X,Y`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let numbers: Vec<String> = self.0.iter().flatten().map(f64::to_string).collect();
        f.write_str(&numbers.join(","))
    }
}

impl FromStr for Corners {
    type Err = Error;

    /// Takes `X,Y,X,Y,X,Y,X,Y`.
    fn from_str(text: &str) -> Result<Self> {
        let numbers: Option<Vec<f64>> = text
            .split(',')
            .map(|field| {
                let value = field.trim().parse().ok();
                value.filter(|value: &f64| value.is_finite())
            })
            .collect();
        match numbers.as_deref() {
            Some(&[a, b, c, d, e, f, g, h]) => Ok(Self([[a, b], [c, d], [e, f], [g, h]])),
            _ => Err(Error::input(format!(
                "\"{}\" are no corners; expected X,Y,X,Y,X,Y,X,Y: the four of all patches or chips, in pixels",
                text.escape_debug()
            ))
            .mend("from the top left clockwise, such as 120,80,620,84,616,420,118,414")),
        }
    }
}

/// What is seen of one patch.
#[derive(Clone, Debug)]
pub(in crate::tone) struct Seen {
    /// Mean X, Y, Z of the connection space, strays left out.
    pub(super) xyz: [f64; 3],
    /// Standard deviation of that mean, as a share of it.
    pub(super) doubt: f64,
    /// The middle of the patch in the picture, pixels.
    pub(super) middle: [f64; 2],
    /// Why the patch tells nothing, where it doesn't.
    pub(in crate::tone) fault: Option<&'static str>,
}

impl Seen {
    fn of(pixels: &[Pixel], across: usize, middle: [f64; 2], space: &ConnectionSpace) -> Self {
        let of_all = |what: &dyn Fn(&Pixel) -> bool| {
            pixels.iter().filter(|pixel| what(pixel)).count() as f64 / pixels.len() as f64
        };
        let clipped = of_all(&|pixel| pixel.clipped || pixel.at_bottom);
        let transparent = of_all(&|pixel| !pixel.opaque);
        let luminance = median(pixels.iter().map(|pixel| pixel.xyz[1]));
        let off = |pixel: &Pixel| (pixel.xyz[1] - luminance).abs();
        let scatter = median(pixels.iter().map(off)) / MEDIAN_DISTANCE;
        let near: Vec<&Pixel> = pixels
            .iter()
            .filter(|pixel| off(pixel) <= FAR_OFF * scatter)
            .collect();
        let count = near.len().max(1) as f64;
        let mean_of = |pixels: &[&Pixel]| -> [f64; 3] {
            let count = pixels.len().max(1) as f64;
            std::array::from_fn(|i| pixels.iter().map(|pixel| pixel.xyz[i]).sum::<f64>() / count)
        };
        let fault = if transparent > 0.0 {
            Some("not opaque")
        } else if clipped > MOST_CLIPPED {
            Some("clipped")
        } else if unevenness(pixels, across, space) > MOST_UNEVEN {
            Some("uneven")
        } else {
            None
        };
        Self {
            xyz: mean_of(&near),
            doubt: scatter / luminance.max(1e-3) / count.sqrt(),
            middle,
            fault,
        }
    }
}

/// Standard deviation of L* over the cells of an interior, `across` points wide.
fn unevenness(pixels: &[Pixel], across: usize, space: &ConnectionSpace) -> f64 {
    let down = pixels.len() / across;
    let mut sums = [[0.0; CELLS]; CELLS];
    let mut counts = [[0.0; CELLS]; CELLS];
    for (index, pixel) in pixels.iter().enumerate() {
        let (row, column) = (
            index / across * CELLS / down,
            index % across * CELLS / across,
        );
        sums[row][column] += pixel.xyz[1];
        counts[row][column] += 1.0;
    }
    let cells = sums.as_flattened().iter().zip(counts.as_flattened());
    let lightness: Vec<f64> = cells
        .map(|(sum, count)| space.lab([0.0, sum / count, 0.0]).l)
        .collect();
    let mean = lightness.iter().sum::<f64>() / lightness.len() as f64;
    let squares: f64 = lightness.iter().map(|value| (value - mean).powi(2)).sum();
    (squares / lightness.len() as f64).sqrt()
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    const TILTED: Corners =
        Corners::new([[10.0, 20.0], [110.0, 30.0], [100.0, 90.0], [20.0, 80.0]]);

    #[test]
    fn the_corners_of_the_square_are_the_corners() {
        for (corner, (u, v)) in
            TILTED
                .0
                .into_iter()
                .zip([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
        {
            let [x, y] = TILTED.place(u, v);
            assert_abs_diff_eq!(x, corner[0], epsilon = 1e-9);
            assert_abs_diff_eq!(y, corner[1], epsilon = 1e-9);
        }
    }

    #[test]
    fn the_middle_lies_where_the_diagonals_cross() {
        let [x, y] = TILTED.place(0.5, 0.5);
        let [a, b, c, d] = TILTED.0;
        for (one, other) in [(a, c), (b, d)] {
            let aside = (other[0] - one[0]) * (y - one[1]) - (other[1] - one[1]) * (x - one[0]);
            assert_abs_diff_eq!(aside, 0.0, epsilon = 1e-9);
        }
    }

    #[test]
    fn eight_arrangements_are_all_different_and_begin_with_the_given() {
        let all = TILTED.arrangements();
        assert_eq!(all[0], TILTED, "as given");
        for one in 0..8 {
            assert!((0..one).all(|other| all[one] != all[other]), "{one} is new");
        }
    }

    #[test]
    fn corners_that_are_no_chart_are_told_apart() {
        let line = |text: &str| {
            let corners: Corners = text.parse().expect("eight numbers");
            corners
                .check([200, 100], "chart")
                .err()
                .map(|e| e.to_string())
                .unwrap_or_default()
        };
        assert_eq!(line("10,10,90,10,90,50,10,50"), "", "sound");
        assert!(
            line("10,10,10,50,90,50,90,10").contains("anticlockwise"),
            "turned over"
        );
        assert!(
            line("10,10,10,50,90,50,90,10").contains("10,10,90,10,90,50,10,50"),
            "the mend"
        );
        assert!(line("10,10,90,50,90,10,10,50").contains("cross"), "crossed");
        assert!(line("10,10,90,10,30,20,10,50").contains("dent"), "a dent");
        assert!(
            line("10,10,90,10,90,150,10,50").contains("200 wide and 100 high"),
            "outside"
        );
        assert!("1,2,3".parse::<Corners>().is_err(), "three numbers");
    }
}
