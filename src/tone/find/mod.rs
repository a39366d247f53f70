//! Where a chart lies in a photograph that nobody has measured.
//!
//! The photograph is made small ([`small`]), its flat four-sided fields are found ([`fields`]), and those that lie in rows
//! and columns make lattices, each with its perspective ([`lattice`]). A chart's grid is laid on every lattice in all four
//! turns and at every offset; nobody photographs a chart from behind, so it is never mirrored. A place is worth as much as
//! the colours seen there fit the known ones behind one 3 × 3 matrix, which is what lamp, exposure and camera do in the
//! main. The best place is taken only where it fits well, where no other place, turn or offset fits nearly as well, and
//! where enough patches are seen as flat fields: a refusal costs a minute, a chart read askew the casting.
//!
//! Nothing here draws lots, and all loops are bounded: by the pixels of the small picture, the largest fields, and the
//! lattices that one field may be in.

mod card;
mod fields;
mod lattice;
mod small;

use self::fields::Field;
use self::lattice::{Cell, Lattice, Map};
use self::small::Small;
use super::chart::{ChartValues, Corners, PatchColours};
use super::chart_report::ChartFound;
use super::connection::ConnectionSpace;
use super::picture::Picture;
use crate::error::{Error, Mend, Result, Setting};

pub(super) use self::card::find_card;

/// Longer sides of the small picture that are tried, pixels, and how far from its mean a field's pixels may lie.
const SIDES: [u32; 2] = [640, 1200];
const TOLERANCES: [f64; 2] = [4.5, 9.0];
/// The largest share of the picture that one patch covers.
const LARGEST: f64 = 1.0 / 12.0;
/// Mean ΔE00 up to which the colours at a place are those of the chart, and up to which they might be.
const FITS: f64 = 6.0;
const MIGHT_FIT: f64 = 12.0;
/// By how much another place must fit worse: as a factor, and ΔE00.
const APART: (f64, f64) = (1.5, 2.0);
/// The share of the patches that must be seen as flat fields.
const SEEN: f64 = 0.5;
/// The share of the patches that may be hidden, and do not count.
const HIDDEN: f64 = 0.12;
/// How many places are looked at closely.
const CLOSELY: usize = 12;

/// What is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    /// A chart by the values that came with it.
    Chart,
    /// A board of chips by their predicted colours, which are known less well.
    Board,
}

impl What {
    fn name(self) -> &'static str {
        match self {
            Self::Chart => "chart",
            Self::Board => "board",
        }
    }

    /// Mean ΔE00 up to which the colours at a place are those looked for.
    fn fits(self) -> f64 {
        match self {
            Self::Chart => FITS,
            Self::Board => 1.5 * FITS,
        }
    }
}

/// Where a chart was found, and how surely.
#[derive(Clone, Debug)]
pub(super) struct FoundChart {
    /// The chart as it is laid out.
    pub(super) values: ChartValues,
    pub(super) corners: Corners,
    /// Mean ΔE00 by which the colours seen there miss the known ones.
    pub(super) delta_e: f64,
    /// The same of the next best place, turn or offset; `None` where there is none.
    pub(super) next_delta_e: Option<f64>,
    /// Patches that were seen as flat fields.
    pub(super) fields: usize,
}

impl FoundChart {
    /// What is told of it.
    pub(super) fn report(&self) -> ChartFound {
        ChartFound {
            corners: self.corners.points(),
            delta_e: self.delta_e,
            next_delta_e: self.next_delta_e,
            fields: self.fields,
        }
    }
}

/// A place where a chart may lie.
struct Place {
    values: usize,
    corners: [[f64; 2]; 4],
    /// From the chart's cells, their middles at whole numbers, to the small picture.
    map: Map,
    miss: f64,
}

/// Looks for the chart of `values` in `picture`.
///
/// # Errors
///
/// An input error, with the mend, where the chart is not found, where it fits in several places, or where its fit is poor.
pub(super) fn find(
    picture: &Picture,
    values: &ChartValues,
    what: What,
    space: &ConnectionSpace,
) -> Result<FoundChart> {
    let name = what.name();
    let layouts = values.layouts();
    let mut best_miss = f64::INFINITY;
    for side in SIDES {
        let small = Small::of(picture, side, space)?;
        for tolerance in TOLERANCES {
            let fields = fields::fields(&small, tolerance, LARGEST);
            let found = in_fields(&small, &fields, &layouts, space);
            if let Some(place) = found.first() {
                best_miss = best_miss.min(place.miss);
            }
            match settled(&found, &fields, &small, &layouts, what) {
                Some(Ok(found)) => return Ok(found),
                Some(Err(several)) => return Err(several),
                None => {}
            }
        }
        // A picture that is small as it is has no finer one.
        if small.scale <= 1.0 {
            break;
        }
    }
    let finding = if best_miss < MIGHT_FIT {
        format!(
            "the {name} was not found surely: the colours at the likeliest place miss its values by {best_miss:.1} ΔE00 in the mean"
        )
    } else {
        format!("the {name} was not found in the picture")
    };
    Err(Error::input(finding).mend(give_corners(
        what,
        "all of it must be in the shot, in even light and a tenth of the frame or more; check that the values are its own, or say where it lies: ",
    )))
}

fn give_corners(what: What, before: &str) -> Mend {
    let mend = Mend::from(before);
    match what {
        What::Chart => mend.set(Setting::Chart),
        What::Board => mend.set(Setting::Grid),
    }
    .and(" X,Y,X,Y,X,Y,X,Y")
}

/// Every place where the chart may lie, the likeliest first.
fn in_fields(
    small: &Small,
    fields: &[Field],
    layouts: &[ChartValues],
    space: &ConnectionSpace,
) -> Vec<Place> {
    let patches = layouts[0].count();
    let fewest = (patches / 3).clamp(4, 8);
    let longest = layouts.iter().flat_map(|values| values.size()).max();
    let longest = longest.unwrap_or(1).cast_signed();
    let colours: Vec<PatchColours> = layouts.iter().map(ChartValues::colours).collect();
    let mut places = Vec::new();
    for lattice in lattice::lattices(fields, fewest, longest + 2) {
        for (index, values) in layouts.iter().enumerate() {
            for turn in 0..4 {
                for offset in offsets(&lattice, values, turn) {
                    let at = |cell: [f64; 2]| lattice.map.apply(in_lattice(cell, turn, offset));
                    places.extend(place(small, index, values, &colours[index], at, space));
                }
            }
        }
    }
    places.sort_by(|one, other| one.miss.total_cmp(&other.miss));
    let mut close = Vec::new();
    for place in places {
        if close.len() >= CLOSELY || place.miss > 2.0 * MIGHT_FIT {
            break;
        }
        let values = &layouts[place.values];
        let [rows, columns] = values.size().map(u32::cast_signed);
        let (map, _) = lattice::refined(fields, place.map, [columns, rows]);
        let at = |cell: [f64; 2]| map.apply(cell);
        let better = self::place(
            small,
            place.values,
            values,
            &colours[place.values],
            at,
            space,
        );
        close.push(
            better
                .filter(|better| better.miss < place.miss)
                .unwrap_or(place),
        );
    }
    close.sort_by(|one, other| one.miss.total_cmp(&other.miss));
    close
}

/// The place in a lattice of a place in a chart, turned by quarters.
fn in_lattice([x, y]: [f64; 2], turn: u8, [right, down]: Cell) -> [f64; 2] {
    let [u, v] = match turn {
        0 => [x, y],
        1 => [-y, x],
        2 => [-x, -y],
        _ => [y, -x],
    };
    [u + f64::from(right), v + f64::from(down)]
}

/// Where in a lattice the chart's first cell may lie when it is turned: so that it covers the lattice but for a row or
/// column about it, or is covered by it.
fn offsets(lattice: &Lattice, values: &ChartValues, turn: u8) -> Vec<Cell> {
    let [rows, columns] = values.size().map(|count| f64::from(count - 1));
    let ends = [[0.0, 0.0], [columns, rows]].map(|cell| in_lattice(cell, turn, [0, 0]));
    let span = |axis: usize| -> (i32, i32) {
        let cells = || lattice.cells.keys().map(|cell| cell[axis]);
        let (low, high) = (cells().min().unwrap_or(0), cells().max().unwrap_or(0));
        let own = |pick: fn(f64, f64) -> f64| whole(pick(ends[0][axis], ends[1][axis]));
        // The offset that brings the chart's low end to the lattice's, and its high end to the other.
        let (one, other) = (low - own(f64::min), high - own(f64::max));
        (one.min(other) - 1, one.max(other) + 1)
    };
    let ((left, right), (top, bottom)) = (span(0), span(1));
    (left..=right)
        .flat_map(|x| (top..=bottom).map(move |y| [x, y]))
        .collect()
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a count of rows or columns"
)]
fn whole(value: f64) -> i32 {
    value.round() as i32
}

/// The chart laid where `at` has its cells; `None` where a part of it lies out of the picture.
fn place(
    small: &Small,
    index: usize,
    values: &ChartValues,
    colours: &PatchColours,
    at: impl Fn([f64; 2]) -> Option<[f64; 2]>,
    space: &ConnectionSpace,
) -> Option<Place> {
    let [rows, columns] = values.size().map(|count| f64::from(count) - 0.5);
    let cells = [[-0.5, -0.5], [columns, -0.5], [columns, rows], [-0.5, rows]];
    let mut corners = [[0.0; 2]; 4];
    let size = small.size.map(|count| count as f64);
    for (corner, cell) in corners.iter_mut().zip(cells) {
        *corner = at(cell)?;
        // A corner may lie in the rim of a pixel that the small picture leaves out.
        if (0..2).any(|i| !(-0.5..=size[i] + 0.5).contains(&corner[i])) {
            return None;
        }
    }
    let side = |i: usize, count: f64| {
        let [a, b] = [corners[i], corners[(i + 1) % 4]];
        (a[0] - b[0]).hypot(a[1] - b[1]) / (count + 0.5)
    };
    let least = side(0, columns)
        .min(side(1, rows))
        .min(side(2, columns))
        .min(side(3, rows));
    let reach = small::whole((0.2 * least).clamp(0.0, 3.0));
    let seen: Option<Vec<[f64; 3]>> = values
        .cells()
        .map(|cell| small.about(at(cell.map(f64::from))?, reach))
        .collect();
    let miss = colours.miss(&seen?, HIDDEN, space);
    let pairs: Vec<_> = cells.into_iter().zip(corners).collect();
    let map = Map::fitted(&pairs)?;
    Some(Place {
        values: index,
        corners,
        map,
        miss,
    })
}

/// What the places come to: the chart where one fits and no other does; an error where several do; `None` where none.
fn settled(
    places: &[Place],
    fields: &[Field],
    small: &Small,
    layouts: &[ChartValues],
    what: What,
) -> Option<Result<FoundChart>> {
    let best = places.first().filter(|best| best.miss <= what.fits())?;
    let values = &layouts[best.values];
    let [rows, columns] = values.size().map(u32::cast_signed);
    let [a, b, _, _] = best.corners;
    let patch = (a[0] - b[0]).hypot(a[1] - b[1]) / f64::from(columns);
    let differs = |other: &&Place| {
        let far = |i: usize| {
            let (one, other) = (best.corners[i], other.corners[i]);
            (one[0] - other[0]).hypot(one[1] - other[1])
        };
        other.values != best.values || (0..4).any(|i| far(i) > 0.4 * patch)
    };
    let next = places.iter().find(differs).map(|place| place.miss);
    // A corner in the picture's own may come out a hair beyond it.
    let tenths = |place: f64, count: u32| {
        let place = (place * small.scale * 10.0).round() / 10.0;
        place.clamp(0.0, f64::from(count))
    };
    let [across, down] = small.full;
    let corners = best
        .corners
        .map(|[x, y]| [tenths(x, across), tenths(y, down)]);
    let corners = Corners::new(corners);
    if next.is_some_and(|next| next < APART.0 * best.miss || next < best.miss + APART.1) {
        return Some(Err(Error::input(format!(
            "the {} fits in several places: as at {corners} by {:.1} ΔE00, and elsewhere by {:.1}",
            what.name(),
            best.miss,
            next.unwrap_or_default()
        ))
        .mend(give_corners(
            what,
            "have it in the shot once, or say where it lies: ",
        ))));
    }
    let (_, fields) = lattice::refined(fields, best.map, [columns, rows]);
    if (fields as f64) < SEEN * values.count() as f64 {
        return None;
    }
    Some(Ok(FoundChart {
        values: values.clone(),
        corners,
        delta_e: best.miss,
        next_delta_e: next,
        fields,
    }))
}
