//! From a photograph to a map of its tones.
//!
//! Where the photograph is read as a part's tones were, its light undone alike, those tones are what is looked for, and what is far
//! from all of them is none: a wall, a sleeve. Otherwise the tones are found as for a target: which is redder and which darker the
//! photograph itself tells, and colours to be met come from the part. Each block belongs to the tone that it is nearest to, with
//! the shading across a limb taken out; blocks then go with most of those around them, since an airbrush follows no single block.

use super::blocks::Blocks;
use super::board::read_chart;
use super::connection::ConnectionSpace;
use super::photo::{PhotoRequest, reference};
use super::picture::Picture;
use super::roles::roles;
use super::sorted::Sorted;
use super::tone_map::ToneMap;
use super::tones;
use super::view::Correction;
use super::{Region, Target, ToneRole};
use crate::colour::{Lab, Viewing};
use crate::error::{Error, Result};

/// How often each block is put with most of those around it.
const ROUNDS: usize = 3;

/// From how many standard deviations of a target on a block is none of its tones.
const FAR: f64 = 3.0;

/// Least standard deviation of L*, a*, b* that is taken: a typed tone has none, and a body is not of one colour. Common practice, no
/// source.
const LEAST_SD: [f64; 3] = [2.5, 2.5, 2.5];

/// What is looked for in a photograph.
struct Sought {
    /// The tones, as the photograph shows them: Lab under D50/2°.
    means: Vec<Lab>,
    /// What each is on a body.
    roles: Vec<ToneRole>,
    /// Standard deviation of L*, a*, b* of a block that is one of them; `None` where all blocks are.
    sd: Option<[f64; 3]>,
}

impl Sought {
    /// The tones of `target`.
    fn of(target: &Target, space: &ConnectionSpace) -> Self {
        let tones = target.tones.iter();
        let seen = tones.filter_map(|tone| Some((space.as_photographed(tone.lab)?, tone.role)));
        let (means, roles) = seen.unzip();
        let sd = std::array::from_fn(|axis| target.spread[axis].max(LEAST_SD[axis]));
        Self {
            means,
            roles,
            sd: Some(sd),
        }
    }

    /// Up to `count` tones that are found in what was `sorted`.
    fn found(sorted: &Sorted, count: usize) -> Self {
        let groups = tones::groups(&sorted.kept, sorted.noise, count);
        let means: Vec<Lab> = groups.iter().map(|group| group.mean).collect();
        Self {
            roles: roles(&means),
            means,
            sd: None,
        }
    }

    /// The index of the tone that is nearest to `lab`; that behind the last where all are far off.
    fn zone(&self, lab: Lab) -> Option<usize> {
        let nearest = nearest(&self.means, lab)?;
        let Some(sd) = self.sd else {
            return Some(nearest);
        };
        let mean = self.means[nearest];
        let apart = [lab.l - mean.l, lab.a - mean.a, lab.b - mean.b];
        let squares = apart.iter().zip(sd).map(|(apart, sd)| (apart / sd).powi(2));
        let is_far = squares.sum::<f64>() > FAR * FAR;
        Some(if is_far { self.means.len() } else { nearest })
    }
}

impl ToneMap {
    /// Where the tones of `target` lie `within` a region of the photograph that `request` names, or in all of it; the light is undone as
    /// that asks for, about its region. Where `target` is `None`, the tones that are found there.
    ///
    /// # Errors
    /// As [`Target::from_photos`](super::Target::from_photos).
    pub fn of_photo(
        request: &PhotoRequest,
        within: Option<Region>,
        target: Option<&Target>,
    ) -> Result<Self> {
        tones::check_count(request.tones)?;
        Self::read(request, within, target).map_err(|error| error.in_file(&request.path))
    }

    fn read(
        request: &PhotoRequest,
        within: Option<Region>,
        target: Option<&Target>,
    ) -> Result<Self> {
        let space = ConnectionSpace::new(target.map_or(Viewing::D65_10, |target| target.viewing));
        let picture = Picture::open(&request.path)?;
        let whole = Region::whole(picture.size());
        let (about, region) = (request.region.unwrap_or(whole), within.unwrap_or(whole));
        let chart = match &request.chart {
            Some(chart) => Some(read_chart(&picture, chart, &space)?.0),
            None => None,
        };
        let (reference, _) = reference(&picture, request, chart.as_ref(), &space)?;
        let skin = Blocks::read(&picture, about, "the region")?;
        let correction = Correction::of(about, &skin, &reference, &space)?;
        let blocks = Blocks::read(&picture, region, "the region")?;
        let sorted = Sorted::new(&blocks, |xyz| correction.apply(xyz), &space);
        if sorted.kept.len() < request.tones {
            return Err(
                Error::input("too little of the region can be read for a map")
                    .mend("draw it larger, on skin that is neither burnt out nor black"),
            );
        }
        let sought = match target {
            Some(target) => Sought::of(target, &space),
            None => Sought::found(&sorted, request.tones),
        };
        let mut zone_of: Vec<Option<usize>> = (sorted.even.iter())
            .map(|lab| lab.and_then(|lab| sought.zone(lab)))
            .collect();
        let none = sought.means.len();
        for _ in 0..ROUNDS {
            zone_of = smoothed(&zone_of, sorted.columns, none + 1);
        }
        for zone in &mut zone_of {
            *zone = zone.filter(|zone| *zone < none);
        }
        let mut zones = sought.roles;
        in_order(&mut zones, &mut zone_of);
        Ok(Self {
            columns: sorted.columns,
            aspect: f64::from(region.width) / f64::from(region.height),
            colours: sorted.seen,
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
    fn a_block_that_is_far_from_every_tone_is_of_none() {
        let sought = Sought {
            means: vec![Lab::new(60.0, 12.0, 16.0), Lab::new(54.0, 20.0, 16.0)],
            roles: vec![ToneRole::Base, ToneRole::Flush],
            sd: Some([3.0, 3.0, 3.0]),
        };
        assert_eq!(sought.zone(Lab::new(62.0, 11.0, 17.0)), Some(0), "base");
        assert_eq!(sought.zone(Lab::new(52.0, 22.0, 15.0)), Some(1), "flush");
        assert_eq!(
            sought.zone(Lab::new(60.0, 0.0, 0.0)),
            Some(2),
            "a grey wall"
        );
        let found = Sought { sd: None, ..sought };
        assert_eq!(found.zone(Lab::new(60.0, 0.0, 0.0)), Some(0), "found in it");
    }

    #[test]
    fn a_tone_comes_back_as_the_photograph_showed_it() {
        let space = ConnectionSpace::new(Viewing::D65_10);
        let seen = Lab::new(62.0, 12.0, 18.0);
        let tone = space.to_viewing(seen).expect("skin");
        let back = space.as_photographed(tone).expect("skin");
        let apart = crate::colour::delta_e_2000(seen, back);
        assert!(apart < 0.1, "ΔE00 {apart}");
    }

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
