//! The tones in a region of skin.
//!
//! The blocks of the region are put in groups by k-means in CIELAB from a fixed seed, several times, and
//! the tightest answer is kept. k-means makes as many groups as it is asked for, of noise too. Groups
//! that do not stand apart are therefore put together again. A group's colour is the mean of its members less those
//! that lie far off.

use kmeans_colors::get_kmeans_hamerly;

use super::sorted::median;
use crate::colour::{Lab, delta_e_2000};
use crate::error::{Error, Result};

/// Most tones that can be asked for: more than a body shows apart.
pub(super) const MOST_TONES: usize = 8;

/// Seed of the first run of k-means; each further run takes the next number.
pub(super) const SEED: u64 = 1976;
/// Runs of k-means, of which the tightest is kept.
const RUNS: u64 = 5;
/// Rounds of one run; skin settles in some twenty.
const MOST_ROUNDS: usize = 100;
/// Squared movement of the centres, in L*a*b* units, at which a run has settled.
const SETTLED: f32 = 1e-4;

/// Groups nearer than this are one tone, ΔE00: a prop maker would not mix them apart. From trials of this
/// project, no published source.
const LEAST_APART: f64 = 2.0;
/// Groups nearer than this are one tone, in standard deviations of a block's noise. Of pure noise k-means
/// makes three groups whose outer two lie 2.4 apart, or 3.5 where the noise of L*, a* and b* goes together.
const LEAST_APART_IN_NOISE: f64 = 4.0;

/// Members further off than this, in standard deviations as the median tells them, are left out of the
/// mean.
const FAR_OFF: f64 = 3.0;
/// The median distance from the middle of a normal distribution, in its standard deviations.
const MEDIAN_DISTANCE: f64 = 0.674_490;
/// Least standard deviation that is taken, L*a*b* units: about a step of 8 bits.
const FINEST: f64 = 0.3;

/// Blocks that belong together.
#[derive(Clone, Copy, Debug)]
pub(super) struct Group {
    /// Mean Lab of the members.
    pub(super) mean: Lab,
    /// Standard deviation of the members' L*, a*, b*.
    pub(super) scatter: [f64; 3],
    /// How many members there are.
    pub(super) members: usize,
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

/// At most `count` groups of `labs`, the largest first; fewer where there are fewer colours that stand
/// apart. `noise` is the standard deviation of the L*, a*, b* of one of `labs` that is no colour's.
pub(super) fn groups(labs: &[Lab], noise: [f64; 3], count: usize) -> Vec<Group> {
    let tightest = (0..RUNS)
        .map(|run| get_kmeans_hamerly(count, MOST_ROUNDS, SETTLED, false, labs, SEED + run).indices)
        .map(|indices| gather(labs, &indices, count))
        // The crate's own score says how settled a run is, not how tight.
        .min_by(|one, other| looseness(one).total_cmp(&looseness(other)));
    let mut groups: Vec<Group> = put_together(tightest.unwrap_or_default(), noise)
        .iter()
        .map(|members| robust(members))
        .collect();
    groups.sort_by(|one, other| {
        let by_size = other.members.cmp(&one.members);
        by_size.then(other.mean.l.total_cmp(&one.mean.l))
    });
    groups
}

/// The members of each group that `indices` makes of `labs`, less the groups without members.
fn gather(labs: &[Lab], indices: &[u8], count: usize) -> Vec<Vec<Lab>> {
    let mut groups = vec![Vec::new(); count];
    for (lab, index) in labs.iter().zip(indices) {
        groups[usize::from(*index)].push(*lab);
    }
    groups.retain(|members| !members.is_empty());
    groups
}

/// Sum of the squared distances of all members from the means of their groups.
fn looseness(groups: &[Vec<Lab>]) -> f64 {
    groups
        .iter()
        .map(|members| {
            let [l, a, b] = moments(members).1;
            members.len() as f64 * (l * l + a * a + b * b)
        })
        .sum()
}

/// Puts the nearest two groups together until all stand apart.
fn put_together(mut groups: Vec<Vec<Lab>>, noise: [f64; 3]) -> Vec<Vec<Lab>> {
    loop {
        let means: Vec<Lab> = groups.iter().map(|members| moments(members).0).collect();
        let pairs = (0..means.len()).flat_map(|one| (0..one).map(move |other| (one, other)));
        let nearest = pairs
            .filter(|(one, other)| !stand_apart(means[*one], means[*other], noise))
            .min_by(|one, other| {
                let apart = |(a, b): &(usize, usize)| delta_e_2000(means[*a], means[*b]);
                apart(one).total_cmp(&apart(other))
            });
        let Some((one, other)) = nearest else {
            return groups;
        };
        // `one` is the later index, so that taking it out moves nothing before it.
        let members = groups.swap_remove(one);
        groups[other].extend(members);
    }
}

/// Whether two means are two tones, given the noise of a single block.
fn stand_apart(one: Lab, other: Lab, noise: [f64; 3]) -> bool {
    let in_noise = [one.l - other.l, one.a - other.a, one.b - other.b]
        .iter()
        .zip(noise)
        .map(|(apart, noise)| (apart / noise.max(FINEST)).powi(2))
        .sum::<f64>()
        .sqrt();
    delta_e_2000(one, other) >= LEAST_APART && in_noise >= LEAST_APART_IN_NOISE
}

/// Mean and standard deviation of L*, a*, b*.
fn moments(members: &[Lab]) -> (Lab, [f64; 3]) {
    let count = members.len() as f64;
    let mut sum = [0.0; 3];
    for lab in members {
        for (sum, value) in sum.iter_mut().zip(axes(lab)) {
            *sum += value;
        }
    }
    let mean = sum.map(|sum| sum / count);
    let mut squares = [0.0; 3];
    for lab in members {
        for ((square, mean), value) in squares.iter_mut().zip(mean).zip(axes(lab)) {
            *square += (value - mean).powi(2);
        }
    }
    let [l, a, b] = mean;
    (
        Lab::new(l, a, b),
        squares.map(|square| (square / count).sqrt()),
    )
}

/// The group of `members`, its mean and scatter of those that do not lie far off.
fn robust(members: &[Lab]) -> Group {
    let middle: [f64; 3] = std::array::from_fn(|i| median(members.iter().map(|lab| axes(lab)[i])));
    let distance = |lab: &Lab, i: usize| (axes(lab)[i] - middle[i]).abs();
    let limits: [f64; 3] = std::array::from_fn(|i| {
        let median_distance = median(members.iter().map(|lab| distance(lab, i)));
        FAR_OFF * (median_distance / MEDIAN_DISTANCE).max(FINEST)
    });
    let near: Vec<Lab> = members
        .iter()
        .filter(|lab| (0..3).all(|i| distance(lab, i) <= limits[i]))
        .copied()
        .collect();
    let (mean, scatter) = moments(if near.is_empty() { members } else { &near });
    Group {
        mean,
        scatter,
        members: members.len(),
    }
}

fn axes(lab: &Lab) -> [f64; 3] {
    [lab.l, lab.a, lab.b]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The noise of a clean picture.
    const CLEAN: [f64; 3] = [0.1; 3];

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
        let found = groups(&labs, CLEAN, 3);
        assert_eq!(found.len(), 3, "groups");
        for (group, (count, lab)) in found.iter().zip(patches) {
            assert_eq!(group.members, count as usize, "members");
            approx::assert_abs_diff_eq!(group.mean.l, lab.l + 0.4, epsilon = 1e-9);
            approx::assert_abs_diff_eq!(group.mean.a, lab.a, epsilon = 1e-9);
            approx::assert_abs_diff_eq!(group.scatter[0], 0.08_f64.sqrt(), epsilon = 1e-9);
        }
    }

    #[test]
    fn fewer_colours_than_tones_give_fewer_groups() {
        let labs = vec![Lab::new(60.0, 10.0, 10.0); 50];
        let found = groups(&labs, CLEAN, 4);
        assert_eq!(found.len(), 1, "one colour");
        assert_eq!(found[0].members, 50, "all of it");
    }

    #[test]
    fn groups_of_noise_are_put_together_and_a_stray_does_not_move_the_mean() {
        let grain = |index: u32| f64::from(index * 7919 % 101) / 12.5 - 4.0;
        let mut labs: Vec<Lab> = (0..1010)
            .map(|index| Lab::new(60.0, 12.0 + grain(index), 15.0))
            .collect();
        labs.extend([Lab::new(61.0, 30.0, 15.0); 5]);
        let found = groups(&labs, [0.2, 2.3, 0.2], 2);
        let base = found[0];
        approx::assert_abs_diff_eq!(base.mean.a, 12.0, epsilon = 0.05);
        assert_eq!(
            groups(&labs[..1010], [0.2, 2.3, 0.2], 8).len(),
            1,
            "one tone"
        );
        assert!(
            groups(&labs[..1010], CLEAN, 3).len() > 1,
            "without noise they stand apart"
        );
    }
}
