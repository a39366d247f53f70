//! The tones in a region of skin: highlights and clipped pixels left out, the rest put in groups.
//!
//! Groups are found by k-means in CIELAB from a fixed seed, several times, and the tightest answer is kept;
//! a group's colour is the mean of its members.

use kmeans_colors::get_kmeans_hamerly;

use super::ToneRole;
use super::picture::Pixel;
use crate::colour::Lab;
use crate::error::{Error, Result};

/// Most tones that can be asked for: more than a body shows apart.
pub(super) const MOST_TONES: usize = 8;

/// Seed of the first run of k-means; each further run takes the next number.
pub(super) const SEED: u64 = 1976;
/// Runs of k-means, of which the tightest is kept.
pub(super) const RUNS: u64 = 5;
/// Rounds of one run; skin settles in some twenty.
const MOST_ROUNDS: usize = 100;
/// Squared movement of the centres, in L*a*b* units, at which a run has settled.
const SETTLED: f32 = 1e-4;

/// A channel at or above this is at the top of its range: 254 of 255.
const TOP: f64 = 253.5 / 255.0;
/// Three channels at or below this are at the bottom: 1 of 255.
const BOTTOM: f64 = 1.5 / 255.0;

/// How much lighter than the middle of the region a highlight is, L*, and which part of the middle's chroma
/// it has at most. Shine adds the light's own white to the skin's colour: enough of it to lift L* from 65
/// by 12 takes a fifth of the chroma away, where more light on the skin would raise both. From trials of
/// this project, no published source.
const HIGHLIGHT_LIGHTER: f64 = 12.0;
const HIGHLIGHT_CHROMA: f64 = 0.8;

/// A flush is at least this much redder than the base, a*. From trials of this project, no published source.
const FLUSH_REDDER: f64 = 1.5;
/// A shadow is at least this much darker than the base, L*. From trials of this project, no published source.
const SHADOW_DARKER: f64 = 3.0;

/// The pixels of a region that tell its colour, and how many do not.
pub(super) struct Sorted {
    /// Lab under D50/2° of the pixels that are kept.
    pub(super) kept: Vec<Lab>,
    /// Pixels with a channel at the top, or all at the bottom.
    pub(super) clipped: usize,
    /// Pixels that show the light rather than the skin.
    pub(super) highlights: usize,
    /// Pixels that are not opaque.
    pub(super) transparent: usize,
}

/// Tones that belong together.
#[derive(Clone, Copy, Debug)]
pub(super) struct Group {
    /// Mean Lab of the members.
    pub(super) mean: Lab,
    /// Standard deviation of the members' L*, a*, b*.
    pub(super) scatter: [f64; 3],
    /// How many members there are.
    pub(super) members: usize,
}

/// Whether the camera could not hold the pixel's colour.
pub(super) fn is_clipped(pixel: &Pixel) -> bool {
    let [red, green, blue] = pixel.encoded;
    red.max(green).max(blue) >= TOP || red.max(green).max(blue) <= BOTTOM
}

/// Leaves out what is transparent, clipped or shines; `lab_of` is the pixel's Lab.
pub(super) fn sort_out(pixels: &[Pixel], lab_of: impl Fn(&Pixel) -> Lab) -> Sorted {
    let opaque: Vec<&Pixel> = pixels.iter().filter(|pixel| pixel.opaque).collect();
    let sound: Vec<Lab> = opaque
        .iter()
        .filter(|pixel| !is_clipped(pixel))
        .map(|pixel| lab_of(pixel))
        .collect();
    let middle_lightness = median(sound.iter().map(|lab| lab.l));
    let middle_chroma = median(sound.iter().map(|lab| lab.a.hypot(lab.b)));
    let shines = |lab: &Lab| {
        lab.l > middle_lightness + HIGHLIGHT_LIGHTER
            && lab.a.hypot(lab.b) < HIGHLIGHT_CHROMA * middle_chroma
    };
    let kept: Vec<Lab> = sound.iter().filter(|lab| !shines(lab)).copied().collect();
    Sorted {
        clipped: opaque.len() - sound.len(),
        highlights: sound.len() - kept.len(),
        transparent: pixels.len() - opaque.len(),
        kept,
    }
}

/// The middle value; 0 where there is none.
fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    let middle = values.len() / 2;
    if values.is_empty() {
        return 0.0;
    }
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// Refuses a number of tones that can't be found.
pub(super) fn check_count(tones: usize) -> Result<()> {
    if (1..=MOST_TONES).contains(&tones) {
        return Ok(());
    }
    Err(Error::input(format!(
        "{tones} tones are asked for; expected from 1 to {MOST_TONES}"
    )))
}

/// At most `count` groups of `labs`, the largest first; fewer where there are fewer colours.
pub(super) fn groups(labs: &[Lab], count: usize) -> Vec<Group> {
    let runs = (0..RUNS).map(|run| {
        let found = get_kmeans_hamerly(count, MOST_ROUNDS, SETTLED, false, labs, SEED + run);
        let groups = gather(labs, &found.indices, count);
        // The crate's own score says how settled a run is, not how tight; this is the tightness.
        let looseness: f64 = groups
            .iter()
            .map(|group| group.members as f64 * group.scatter.iter().map(|sd| sd * sd).sum::<f64>())
            .sum();
        (looseness, groups)
    });
    let tightest = runs.min_by(|one, other| one.0.total_cmp(&other.0));
    let mut groups = tightest.map(|(_, groups)| groups).unwrap_or_default();
    groups.sort_by(|one, other| {
        let by_size = other.members.cmp(&one.members);
        by_size.then(other.mean.l.total_cmp(&one.mean.l))
    });
    groups
}

/// The groups that `indices` makes of `labs`, less those without members.
fn gather(labs: &[Lab], indices: &[u8], count: usize) -> Vec<Group> {
    let mut sums = vec![(0_usize, [0.0; 3], [0.0; 3]); count];
    let axes = |lab: &Lab| [lab.l, lab.a, lab.b];
    for (lab, index) in labs.iter().zip(indices) {
        let (members, sum, _) = &mut sums[usize::from(*index)];
        *members += 1;
        for (sum, value) in sum.iter_mut().zip(axes(lab)) {
            *sum += value;
        }
    }
    for (lab, index) in labs.iter().zip(indices) {
        let (members, sum, squares) = &mut sums[usize::from(*index)];
        for ((square, sum), value) in squares.iter_mut().zip(sum).zip(axes(lab)) {
            *square += (value - *sum / *members as f64).powi(2);
        }
    }
    sums.into_iter()
        .filter(|(members, ..)| *members > 0)
        .map(|(members, sum, squares)| {
            let [l, a, b] = sum.map(|sum| sum / members as f64);
            Group {
                mean: Lab::new(l, a, b),
                scatter: squares.map(|square| (square / members as f64).sqrt()),
                members,
            }
        })
        .collect()
}

/// What each of `labs`, the largest tone first, is on a body.
pub(super) fn roles(labs: &[Lab]) -> Vec<ToneRole> {
    let mut roles = vec![ToneRole::Other; labs.len()];
    let Some(base) = labs.first() else {
        return roles;
    };
    roles[0] = ToneRole::Base;
    let flush = (1..labs.len())
        .max_by(|one, other| labs[*one].a.total_cmp(&labs[*other].a))
        .filter(|place| labs[*place].a >= base.a + FLUSH_REDDER);
    if let Some(place) = flush {
        roles[place] = ToneRole::Flush;
    }
    let shadow = (1..labs.len())
        .filter(|place| Some(*place) != flush)
        .min_by(|one, other| labs[*one].l.total_cmp(&labs[*other].l))
        .filter(|place| labs[*place].l <= base.l - SHADOW_DARKER);
    if let Some(place) = shadow {
        roles[place] = ToneRole::Shadow;
    }
    roles
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pixel(encoded: [f64; 3]) -> Pixel {
        Pixel {
            encoded,
            xyz: [0.0; 3],
            opaque: true,
        }
    }

    #[test]
    fn the_ends_of_the_range_are_clipped_and_their_neighbours_are_not() {
        for (encoded, clipped) in [
            ([1.0, 0.5, 0.5], true),
            ([254.0 / 255.0, 0.5, 0.5], true),
            ([253.0 / 255.0, 0.5, 0.5], false),
            ([0.0, 0.0, 0.0], true),
            ([0.0, 0.0, 2.0 / 255.0], false),
        ] {
            assert_eq!(is_clipped(&pixel(encoded)), clipped, "{encoded:?}");
        }
    }

    #[test]
    fn shine_is_left_out_and_brighter_light_is_not() {
        let skin = Lab::new(65.0, 15.0, 18.0);
        let shine = Lab::new(82.0, 6.0, 8.0);
        let lit = Lab::new(80.0, 18.0, 21.0);
        let labs = [vec![skin; 90], vec![shine; 6], vec![lit; 4]].concat();
        // The Lab rides along in a channel, to be looked up.
        let pixels: Vec<Pixel> = (0..labs.len())
            .map(|place| pixel([0.5, 0.5, place as f64 / 1000.0]))
            .collect();
        let by_place = |pixel: &Pixel| {
            let place = labs
                .iter()
                .enumerate()
                .find(|(place, _)| (*place as f64 / 1000.0 - pixel.encoded[2]).abs() < 1e-9);
            *place.expect("was put in").1
        };
        let sorted = sort_out(&pixels, by_place);
        assert_eq!(sorted.highlights, 6, "shine");
        assert_eq!(sorted.kept.len(), 94, "skin, and skin in more light");
        assert_eq!(sorted.clipped + sorted.transparent, 0, "nothing else");
    }

    #[test]
    fn three_patches_are_three_groups_with_their_shares() {
        let patches = [
            (600, Lab::new(65.0, 12.0, 17.0)),
            (300, Lab::new(58.0, 20.0, 17.0)),
            (100, Lab::new(45.0, 13.0, 16.0)),
        ];
        let labs: Vec<Lab> = patches
            .iter()
            .flat_map(|(count, lab)| {
                (0..*count).map(|i| Lab::new(lab.l + f64::from(i % 5) * 0.2, lab.a, lab.b))
            })
            .collect();
        let found = groups(&labs, 3);
        for (group, (count, lab)) in found.iter().zip(patches) {
            assert_eq!(group.members, count as usize, "members");
            approx::assert_abs_diff_eq!(group.mean.l, lab.l + 0.4, epsilon = 1e-9);
            approx::assert_abs_diff_eq!(group.mean.a, lab.a, epsilon = 1e-9);
            approx::assert_abs_diff_eq!(group.scatter[0], 0.08_f64.sqrt(), epsilon = 1e-9);
        }
        let means: Vec<Lab> = found.iter().map(|group| group.mean).collect();
        let expected = [ToneRole::Base, ToneRole::Flush, ToneRole::Shadow];
        assert_eq!(roles(&means), expected, "roles");
    }

    #[test]
    fn fewer_colours_than_tones_give_fewer_groups() {
        let labs = vec![Lab::new(60.0, 10.0, 10.0); 50];
        let found = groups(&labs, 4);
        assert_eq!(found.len(), 1, "one colour");
        assert_eq!(found[0].members, 50, "all of it");
    }

    #[test]
    fn a_tone_that_is_hardly_redder_or_darker_is_other() {
        let base = Lab::new(65.0, 12.0, 17.0);
        let near = [base, Lab::new(63.0, 13.0, 17.0), Lab::new(66.0, 11.0, 17.0)];
        let expected = [ToneRole::Base, ToneRole::Other, ToneRole::Other];
        assert_eq!(roles(&near), expected, "nothing stands out");
        assert!(roles(&[]).is_empty(), "nothing at all");
    }
}
