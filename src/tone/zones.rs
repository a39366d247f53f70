//! From a photograph to a map of its tones.
//!
//! The tones are found as for a target, with neither card nor chart: which is redder and which darker the photograph itself tells,
//! and colours to be met come from the part. Each block belongs to the tone that it is nearest to, with the shading across a limb
//! taken out; blocks then go with most of those around them, since an airbrush follows no single block.

use std::path::Path;

use super::connection::ConnectionSpace;
use super::picture::Picture;
use super::roles::roles;
use super::tone_map::ToneMap;
use super::tones;
use super::view::{Reference, View};
use super::{Region, ToneRole};
use crate::colour::{Lab, Viewing};
use crate::error::{Error, Result};

/// How often each block is put with most of those around it.
const ROUNDS: usize = 3;

impl ToneMap {
    /// Where up to `tones` tones lie in `region` of the photograph at `path`, or in all of it.
    ///
    /// # Errors
    /// As [`Target::from_photos`](super::Target::from_photos).
    pub fn of_photo(path: &Path, region: Option<Region>, tones: usize) -> Result<Self> {
        tones::check_count(tones)?;
        Self::read(path, region, tones).map_err(|error| error.in_file(path))
    }

    fn read(path: &Path, region: Option<Region>, tones: usize) -> Result<Self> {
        let space = ConnectionSpace::new(Viewing::D65_10);
        let picture = Picture::open(path)?;
        let region = region.unwrap_or_else(|| Region::whole(picture.size()));
        let view = View::read(&picture, region, &Reference::Nothing, &space)?;
        let sorted = &view.sorted;
        if sorted.kept.len() < tones {
            return Err(
                Error::input("too little of the region can be read for a map")
                    .mend("draw it larger, on skin that is neither burnt out nor black"),
            );
        }
        let groups = tones::groups(&sorted.kept, sorted.noise, tones);
        let means: Vec<Lab> = groups.iter().map(|group| group.mean).collect();
        let mut zone_of: Vec<Option<usize>> = (sorted.even.iter())
            .map(|lab| lab.and_then(|lab| nearest(&means, lab)))
            .collect();
        for _ in 0..ROUNDS {
            zone_of = smoothed(&zone_of, sorted.columns, means.len());
        }
        let (mut zones, mut zone_of) = (roles(&means), zone_of);
        in_order(&mut zones, &mut zone_of);
        Ok(Self {
            columns: sorted.columns,
            aspect: f64::from(region.width) / f64::from(region.height),
            colours: sorted.seen.clone(),
            zone_of,
            zones,
        })
    }
}

/// The index of that of `means` which is nearest to `lab`.
fn nearest(means: &[Lab], lab: Lab) -> Option<usize> {
    let apart = |mean: &Lab| {
        let [l, a, b] = [mean.l - lab.l, mean.a - lab.a, mean.b - lab.b];
        l * l + a * a + b * b
    };
    let by_distance =
        |one: &(usize, &Lab), other: &(usize, &Lab)| apart(one.1).total_cmp(&apart(other.1));
    means
        .iter()
        .enumerate()
        .min_by(by_distance)
        .map(|(index, _)| index)
}

/// Each cell in the zone of most of the nine around and with it, its own where as many are of that.
fn smoothed(zone_of: &[Option<usize>], columns: usize, zones: usize) -> Vec<Option<usize>> {
    let rows = zone_of.len() / columns.max(1);
    let of = |cell: usize| {
        let own = zone_of[cell]?;
        let (column, row) = (cell % columns, cell / columns);
        let mut counts = vec![0_u32; zones];
        for row in row.saturating_sub(1)..(row + 2).min(rows) {
            for column in column.saturating_sub(1)..(column + 2).min(columns) {
                if let Some(zone) = zone_of[row * columns + column] {
                    counts[zone] += 1;
                }
            }
        }
        let most = counts.iter().copied().max()?;
        if counts[own] == most {
            return Some(own);
        }
        counts.iter().position(|count| *count == most)
    };
    (0..zone_of.len()).map(of).collect()
}

/// Puts `zones` into the order in which they are painted: base, flush, shadow, others.
fn in_order(zones: &mut Vec<ToneRole>, zone_of: &mut [Option<usize>]) {
    let rank = |role: ToneRole| match role {
        ToneRole::Base => 0,
        ToneRole::Flush => 1,
        ToneRole::Shadow => 2,
        ToneRole::Other => 3,
    };
    let mut order: Vec<usize> = (0..zones.len()).collect();
    order.sort_by_key(|index| rank(zones[*index]));
    let place_of = |zone: usize| order.iter().position(|index| *index == zone);
    for zone in zone_of.iter_mut() {
        *zone = zone.and_then(place_of);
    }
    *zones = order.iter().map(|index| zones[*index]).collect();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stray_block_goes_with_those_around_it_and_an_edge_stays() {
        // The left half is of zone 0, the right half of zone 1, with a stray in each.
        let mut zone_of: Vec<Option<usize>> = (0..100)
            .map(|cell| Some(usize::from(cell % 10 >= 5)))
            .collect();
        let clean = zone_of.clone();
        (zone_of[22], zone_of[77]) = (Some(1), Some(0));
        assert_eq!(smoothed(&zone_of, 10, 2), clean, "strays are gone");
        let mut zones = vec![ToneRole::Base, ToneRole::Shadow, ToneRole::Flush];
        let mut of = [Some(1), Some(2), None];
        in_order(&mut zones, &mut of);
        assert_eq!(of, [Some(2), Some(1), None], "shadow is painted last");
    }
}
