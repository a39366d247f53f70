//! Fields that lie in rows and columns, and the perspective in which they do.
//!
//! A field's next of kin lies one to one and three quarters of its own sides away, is of like size, and those to two sides
//! stand at a right angle when measured in its sides. From three such fields a lattice grows from neighbour to neighbour;
//! a projective map of the lattice on the picture is fitted to their middles.

use std::collections::{BTreeMap, VecDeque};

use nalgebra::{Matrix3, SMatrix, SVector, Vector3};

use super::fields::Field;

/// How far a neighbour lies, in sides of a field.
const NEXT: (f64, f64) = (0.9, 1.8);
/// By how much neighbours differ in size.
const LIKE_SIZE: f64 = 2.2;
/// Largest cosine between two directions of a lattice, in sides of a field.
const SQUARE: f64 = 0.3;
/// How far from where a lattice goes on a field may lie, as a share of a step.
const ASIDE: f64 = 0.25;
/// How far from its cell's middle a field may lie in the end, as a share of a cell.
const OFF: f64 = 0.15;
/// The same once the perspective is known: a patch half hidden has its middle elsewhere.
const NEAR: f64 = 0.05;
/// How many neighbours of a field are looked at, how many pairs of them begin a lattice, and of how many lattices one
/// field may be.
const NEIGHBOURS: usize = 24;
const PAIRS: usize = 3;
const LATTICES: usize = 2;

/// A cell of a lattice: along, and a quarter turn clockwise from that.
pub(super) type Cell = [i32; 2];

/// Fields in rows and columns.
pub(super) struct Lattice {
    /// The field in each cell.
    pub(super) cells: BTreeMap<Cell, usize>,
    /// From the lattice, its cells' middles at whole numbers, to the small picture.
    pub(super) map: Map,
}

/// A point, and where it is seen.
type Pair = ([f64; 2], [f64; 2]);

/// A projective map of a plane.
#[derive(Clone, Copy, Debug)]
pub(super) struct Map(Matrix3<f64>);

impl Map {
    pub(super) fn apply(&self, [x, y]: [f64; 2]) -> Option<[f64; 2]> {
        let seen = self.0 * Vector3::new(x, y, 1.0);
        (seen[2] > 1e-9).then(|| [seen[0] / seen[2], seen[1] / seen[2]])
    }

    /// The map that brings each first point nearest to its second, in the least squares of eight unknowns; perspective is
    /// held down a little, so that few points make a plain one. `None` where they lie on a line.
    pub(super) fn fitted(pairs: &[Pair]) -> Option<Self> {
        /// What perspective is held down by, for each pair.
        const PLAIN: f64 = 1e-4;
        if pairs.len() < 4 {
            return None;
        }
        let count = pairs.len() as f64;
        let scaled = |of: fn(&Pair) -> [f64; 2]| {
            let mean: [f64; 2] =
                std::array::from_fn(|i| pairs.iter().map(|pair| of(pair)[i]).sum::<f64>() / count);
            let far = pairs.iter().map(|pair| {
                let point = of(pair);
                (point[0] - mean[0]).hypot(point[1] - mean[1])
            });
            let scale = 1.0 / (far.sum::<f64>() / count).max(1e-9);
            Matrix3::new(
                scale,
                0.0,
                -scale * mean[0],
                0.0,
                scale,
                -scale * mean[1],
                0.0,
                0.0,
                1.0,
            )
        };
        let (from, to) = (scaled(|pair| pair.0), scaled(|pair| pair.1));
        let mut normal = SMatrix::<f64, 8, 8>::zeros();
        let mut right = SVector::<f64, 8>::zeros();
        for (one, other) in pairs {
            let [x, y] = [0, 1].map(|i| from[(i, i)] * one[i] + from[(i, 2)]);
            let [u, v] = [0, 1].map(|i| to[(i, i)] * other[i] + to[(i, 2)]);
            for (row, value) in [
                ([x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y], u),
                ([0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y], v),
            ] {
                let row = SVector::<f64, 8>::from(row);
                normal += row * row.transpose();
                right += row * value;
            }
        }
        normal[(6, 6)] += PLAIN * count;
        normal[(7, 7)] += PLAIN * count;
        let h = normal.cholesky()?.solve(&right);
        let middle = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0);
        let map = to.try_inverse()? * middle * from;
        map.iter()
            .all(|value| value.is_finite())
            .then_some(Self(map))
    }
}

fn way(from: [f64; 2], to: [f64; 2]) -> [f64; 2] {
    [to[0] - from[0], to[1] - from[1]]
}

/// The lattices of at least `fewest` of the `fields`, none wider or higher than `most` cells.
pub(super) fn lattices(fields: &[Field], fewest: usize, most: i32) -> Vec<Lattice> {
    let near: Vec<Vec<usize>> = fields
        .iter()
        .map(|field| neighbours(field, fields))
        .collect();
    let mut in_lattices = vec![0; fields.len()];
    let mut found = Vec::new();
    for seed in 0..fields.len() {
        for [along, down] in beginnings(seed, fields, &near[seed]) {
            if in_lattices[seed] >= LATTICES {
                break;
            }
            let cells = grown(fields, &near, seed, along, down, most);
            if cells.len() < fewest {
                continue;
            }
            if let Some(lattice) = fitted(fields, cells, fewest) {
                for field in lattice.cells.values() {
                    in_lattices[*field] += 1;
                }
                found.push(lattice);
            }
        }
    }
    found
}

/// The fields of like size about `field`, the nearest first.
fn neighbours(field: &Field, fields: &[Field]) -> Vec<usize> {
    let mut near: Vec<(f64, usize)> = fields
        .iter()
        .enumerate()
        .filter(|(_, other)| (1.0 / LIKE_SIZE..=LIKE_SIZE).contains(&(other.area / field.area)))
        .map(|(index, other)| (field.sides(way(field.middle, other.middle)), index))
        .filter(|(sides, _)| (0.5..=2.0 * NEXT.1).contains(sides))
        .collect();
    near.sort_by(|one, other| one.0.total_cmp(&other.0));
    near.truncate(NEIGHBOURS);
    near.into_iter().map(|(_, index)| index).collect()
}

/// Pairs of steps from a field to its neighbours: along, and down from that, the shortest first.
fn beginnings(seed: usize, fields: &[Field], near: &[usize]) -> Vec<[[f64; 2]; 2]> {
    let field = &fields[seed];
    let steps: Vec<([f64; 2], f64)> = near
        .iter()
        .map(|other| way(field.middle, fields[*other].middle))
        .map(|step| (step, field.sides(step)))
        .filter(|(_, sides)| (NEXT.0..=NEXT.1).contains(sides))
        .take(8)
        .collect();
    let mut pairs = Vec::new();
    for (along, one) in &steps {
        for (down, other) in &steps {
            let clockwise = along[0] * down[1] - along[1] * down[0] > 0.0;
            let cosine = field.product(*along, *down) / (one * other);
            if clockwise && cosine.abs() < SQUARE {
                pairs.push((one + other, [*along, *down]));
            }
        }
    }
    pairs.sort_by(|one, other| one.0.total_cmp(&other.0));
    pairs.truncate(PAIRS);
    pairs.into_iter().map(|(_, pair)| pair).collect()
}

fn grown(
    fields: &[Field],
    near: &[Vec<usize>],
    seed: usize,
    along: [f64; 2],
    down: [f64; 2],
    most: i32,
) -> BTreeMap<Cell, usize> {
    const SIDES: [Cell; 4] = [[1, 0], [0, 1], [-1, 0], [0, -1]];
    let mut cells = BTreeMap::from([([0, 0], seed)]);
    let mut taken = BTreeMap::from([(seed, ())]);
    let mut open = VecDeque::from([[0, 0]]);
    while let Some([x, y]) = open.pop_front() {
        let own = cells[&[x, y]];
        for [right, below] in SIDES {
            let next = [x + right, y + below];
            if cells.contains_key(&next) || next.iter().any(|cell| cell.abs() >= most) {
                continue;
            }
            let at = |cell: Cell| cells.get(&cell).map(|field| fields[*field].middle);
            let beside = |[dx, dy]: Cell| {
                let from = at([x + dx, y + dy])?;
                let to = at([x + dx + right, y + dy + below])?;
                Some(way(from, to))
            };
            let step = at([x - right, y - below])
                .map(|before| way(before, fields[own].middle))
                .or_else(|| beside([below, right]))
                .or_else(|| beside([-below, -right]))
                .unwrap_or_else(|| {
                    let sign = f64::from(right + below);
                    let step = if right == 0 { down } else { along };
                    step.map(|part| part * sign)
                });
            let from = fields[own].middle;
            let goal = [from[0] + step[0], from[1] + step[1]];
            let reach = ASIDE * step[0].hypot(step[1]);
            let off = |field: usize| {
                let [x, y] = way(goal, fields[field].middle);
                x.hypot(y)
            };
            let nearest = near[own]
                .iter()
                .copied()
                .filter(|field| !taken.contains_key(field))
                .min_by(|one, other| off(*one).total_cmp(&off(*other)));
            if let Some(field) = nearest.filter(|field| off(*field) < reach) {
                cells.insert(next, field);
                taken.insert(field, ());
                open.push_back(next);
            }
        }
    }
    cells
}

/// The lattice of those cells whose fields lie in one perspective; `None` where fewer than `fewest` do.
fn fitted(fields: &[Field], mut cells: BTreeMap<Cell, usize>, fewest: usize) -> Option<Lattice> {
    let mut map = map_of(fields, &cells)?;
    for _ in 0..3 {
        cells.retain(|cell, field| is_in(&map, *cell, fields[*field].middle, OFF * 1.5));
        if cells.len() < fewest {
            return None;
        }
        map = map_of(fields, &cells)?;
    }
    Some(Lattice { cells, map })
}

fn map_of(fields: &[Field], cells: &BTreeMap<Cell, usize>) -> Option<Map> {
    let pairs: Vec<_> = cells
        .iter()
        .map(|(cell, field)| (cell.map(f64::from), fields[*field].middle))
        .collect();
    Map::fitted(&pairs)
}

/// Whether `middle` lies within `off` of a cell from the middle of `cell`.
fn is_in(map: &Map, cell: Cell, middle: [f64; 2], off: f64) -> bool {
    let [x, y] = cell.map(f64::from);
    let (Some(own), Some(right), Some(down)) = (
        map.apply([x, y]),
        map.apply([x + 1.0, y]),
        map.apply([x, y + 1.0]),
    ) else {
        return false;
    };
    let [right, down, aside] = [right, down, middle].map(|point| way(own, point));
    let turn = right[0] * down[1] - right[1] * down[0];
    let u = (aside[0] * down[1] - aside[1] * down[0]) / turn;
    let v = (right[0] * aside[1] - right[1] * aside[0]) / turn;
    u.hypot(v) < off
}

/// The map of a grid of cells on all `fields` that lie in it, begun from a `map` that is nearly right: every cell's field
/// that lies at its middle counts. With it, how many cells have one.
pub(super) fn refined(fields: &[Field], mut map: Map, [across, down]: [i32; 2]) -> (Map, usize) {
    let mut most = 0;
    for off in [OFF, OFF, NEAR] {
        let mut cells = BTreeMap::new();
        for x in 0..across {
            for y in 0..down {
                let Some(own) = map.apply([x, y].map(f64::from)) else {
                    continue;
                };
                let away = |field: &Field| {
                    let [x, y] = way(own, field.middle);
                    x.hypot(y)
                };
                let nearest = fields
                    .iter()
                    .enumerate()
                    .filter(|(_, field)| is_in(&map, [x, y], field.middle, off))
                    .min_by(|one, other| away(one.1).total_cmp(&away(other.1)));
                if let Some((index, _)) = nearest {
                    cells.insert([x, y], index);
                }
            }
        }
        most = most.max(cells.len());
        match map_of(fields, &cells) {
            Some(better) if 2 * cells.len() > most => map = better,
            _ => break,
        }
    }
    (map, most)
}
