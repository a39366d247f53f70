//! Flat four-sided fields of one colour.
//!
//! Fields grow from a pixel over neighbours that are near the field's mean. That a field has four sides shows in its
//! second moments: of any parallelogram the area is 12 √(det covariance), of a ragged or hollow field it is less. The same
//! covariance measures distances in the field's own sides, however it is turned and foreshortened: a side has length √12.

use super::small::Small;

/// Fewest pixels of a field.
const FEWEST: f64 = 16.0;
/// Area over 12 √(det covariance), between which a field has four sides.
const FOUR_SIDED: (f64, f64) = (0.8, 1.15);
/// Longest side over the shortest.
const LONGEST: f64 = 4.0;
/// Most fields that are looked at, the largest ones.
const MOST_FIELDS: usize = 1500;

/// A flat field.
#[derive(Clone, Debug)]
pub(super) struct Field {
    /// Its middle, in pixels of the small picture, whose first pixel's middle is 0.5.
    pub(super) middle: [f64; 2],
    /// Its pixels.
    pub(super) area: f64,
    /// Mean L*, a*, b*.
    pub(super) lab: [f64; 3],
    /// Inverse of its covariance: xx, xy, yy.
    inverse: [f64; 3],
}

impl Field {
    /// The scalar product of two ways, in this field's sides.
    pub(super) fn product(&self, [ax, ay]: [f64; 2], [bx, by]: [f64; 2]) -> f64 {
        let [xx, xy, yy] = self.inverse;
        (ax * (xx * bx + xy * by) + ay * (xy * bx + yy * by)) / 12.0
    }

    /// How far it reaches across and down from its middle, as one standard deviation of its pixels.
    pub(super) fn extent(&self) -> [f64; 2] {
        let [xx, xy, yy] = self.inverse;
        let determinant = xx * yy - xy * xy;
        [(yy / determinant).sqrt(), (xx / determinant).sqrt()]
    }

    /// The length of a way, in this field's sides.
    pub(super) fn sides(&self, way: [f64; 2]) -> f64 {
        self.product(way, way).max(0.0).sqrt()
    }
}

/// Sums over a growing field.
#[derive(Default)]
struct Sums {
    area: f64,
    lab: [f64; 3],
    /// x, y, xx, xy, yy.
    moments: [f64; 5],
}

impl Sums {
    fn add(&mut self, [x, y]: [f64; 2], lab: [f64; 3]) {
        self.area += 1.0;
        self.lab = std::array::from_fn(|i| self.lab[i] + lab[i]);
        let own = [x, y, x * x, x * y, y * y];
        self.moments = std::array::from_fn(|i| self.moments[i] + own[i]);
    }

    fn apart(&self, lab: [f64; 3]) -> f64 {
        let square = |i: usize| (self.lab[i] / self.area - lab[i]).powi(2);
        square(0) + square(1) + square(2)
    }

    fn field(&self, largest: f64) -> Option<Field> {
        if self.area < FEWEST || self.area > largest {
            return None;
        }
        let [x, y, xx, xy, yy] = self.moments.map(|moment| moment / self.area);
        // A pixel is a square, and no point.
        let (xx, xy, yy) = (xx - x * x + 1.0 / 12.0, xy - x * y, yy - y * y + 1.0 / 12.0);
        let determinant = xx * yy - xy * xy;
        let (middle, half) = (f64::midpoint(xx, yy), f64::midpoint(xx, -yy).hypot(xy));
        let is_long = middle + half > LONGEST.powi(2) * (middle - half);
        let filled = self.area / (12.0 * determinant.sqrt());
        if is_long || !(FOUR_SIDED.0..=FOUR_SIDED.1).contains(&filled) {
            return None;
        }
        Some(Field {
            middle: [x + 0.5, y + 0.5],
            area: self.area,
            lab: self.lab.map(|sum| sum / self.area),
            inverse: [yy / determinant, -xy / determinant, xx / determinant],
        })
    }
}

/// The four-sided fields of `small` whose pixels lie within `tolerance` of their mean, a distance in L*, a*, b*, and
/// that cover no more than the share `largest` of it.
pub(super) fn fields(small: &Small, tolerance: f64, largest: f64) -> Vec<Field> {
    let [across, down] = small.size;
    let apart = |one: [f64; 3], other: [f64; 3]| -> f64 {
        (0..3).map(|i| (one[i] - other[i]).powi(2)).sum()
    };
    let mut taken = vec![false; small.lab.len()];
    let mut found = Vec::new();
    let mut open = Vec::new();
    for seed in 0..small.lab.len() {
        let (column, row) = (seed % across, seed / across);
        let inner = column + 1 < across && row + 1 < down;
        let flat = |neighbour: usize| {
            apart(small.lab[seed], small.lab[neighbour]) < (0.5 * tolerance).powi(2)
        };
        if taken[seed] || !inner || !flat(seed + 1) || !flat(seed + across) {
            continue;
        }
        let mut sums = Sums::default();
        taken[seed] = true;
        open.push(seed);
        while let Some(pixel) = open.pop() {
            let (column, row) = (pixel % across, pixel / across);
            sums.add([column as f64, row as f64], small.lab[pixel]);
            let neighbours = [
                (column > 0).then(|| pixel - 1),
                (column + 1 < across).then(|| pixel + 1),
                (row > 0).then(|| pixel - across),
                (row + 1 < down).then(|| pixel + across),
            ];
            for neighbour in neighbours.into_iter().flatten() {
                if !taken[neighbour] && sums.apart(small.lab[neighbour]) < tolerance.powi(2) {
                    taken[neighbour] = true;
                    open.push(neighbour);
                }
            }
        }
        found.extend(sums.field(largest * small.lab.len() as f64));
    }
    found.sort_by(|one, other| other.area.total_cmp(&one.area));
    found.truncate(MOST_FIELDS);
    found
}
