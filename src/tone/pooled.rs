//! Several readings of one person made into one.
//!
//! Each reading has a base tone of its own. One that lies far from the middle of the others is left out and
//! named. The rest are averaged, each counting alike, and the blocks of each are moved so that their base
//! tones meet at that average; so the tones are found in all of them together, and a picture's own cast makes
//! no tone.

use super::sorted::median;
use super::tones;
use super::view::View;
use crate::colour::{Lab, delta_e_2000};

/// A reading further than this from the middle of all, ΔE00, may be left out: what charts leave is less. From
/// trials of this project, no published source.
const LEAST_FAR: f64 = 3.0;
/// And further than this many times the readings' median distance from their middle.
const FAR_OFF: f64 = 4.0;
/// Fewest readings among which one can be told to be wrong.
const FEWEST_TO_JUDGE: usize = 3;

/// The blocks of several readings.
pub(super) struct Pooled {
    /// Lab under D50/2° of all blocks.
    pub(super) labs: Vec<Lab>,
    /// Standard deviation of L*, a*, b* of one block by noise.
    pub(super) noise: [f64; 3],
    /// Pixels that a block covers, in the mean.
    pub(super) covered: f64,
    /// Standard deviation of L*, a*, b* that all blocks share.
    pub(super) systematic: [f64; 3],
    /// How far each reading's base tone lies from their middle, ΔE00, and whether it was left out.
    distances: Vec<(f64, bool)>,
    /// Standard deviation of the readings' L*, a*, b*.
    between: [f64; 3],
}

impl Pooled {
    /// Pools `views`, at least one, each with at least `tones` blocks.
    pub(super) fn of(views: &[View], tones: usize) -> Self {
        if let [view] = views {
            return Self {
                labs: view.sorted.kept.clone(),
                noise: view.sorted.noise,
                covered: view.sorted.covered,
                systematic: view.systematic,
                distances: vec![(0.0, false)],
                between: [0.0; 3],
            };
        }
        let base = |view: &View| {
            let groups = tones::groups(&view.sorted.kept, view.sorted.noise, tones);
            groups
                .first()
                .map_or(view.sorted.kept[0], |group| group.mean)
        };
        let bases: Vec<Lab> = views.iter().map(base).collect();
        let distances = distances(&bases);
        let kept: Vec<(&View, Lab)> = views
            .iter()
            .zip(bases)
            .zip(&distances)
            .filter(|(_, (_, left_out))| !left_out)
            .map(|(view, _)| view)
            .collect();
        let count = kept.len() as f64;
        let mean_of =
            |value: &dyn Fn(&(&View, Lab)) -> f64| kept.iter().map(value).sum::<f64>() / count;
        let axes = |lab: Lab| [lab.l, lab.a, lab.b];
        let middle: [f64; 3] = std::array::from_fn(|i| mean_of(&|(_, lab)| axes(*lab)[i]));
        let between: [f64; 3] = std::array::from_fn(|i| {
            let squares = mean_of(&|(_, lab)| (axes(*lab)[i] - middle[i]).powi(2));
            (squares * count / (count - 1.0).max(1.0)).sqrt()
        });
        let moved = kept.iter().flat_map(|(view, base)| {
            let shift: [f64; 3] = std::array::from_fn(|i| middle[i] - axes(*base)[i]);
            let kept = view.sorted.kept.iter();
            kept.map(move |lab| Lab::new(lab.l + shift[0], lab.a + shift[1], lab.b + shift[2]))
        });
        let root_mean_square =
            |value: &dyn Fn(&View) -> f64| mean_of(&|(view, _)| value(view).powi(2)).sqrt();
        Self {
            labs: moved.collect(),
            noise: std::array::from_fn(|i| root_mean_square(&|view| view.sorted.noise[i])),
            covered: mean_of(&|(view, _)| view.sorted.covered),
            // The same chart, camera and skin err alike every time, so that many shots mend little of it.
            systematic: std::array::from_fn(|i| {
                root_mean_square(&|view| view.systematic[i]).hypot(between[i] / count.sqrt())
            }),
            distances,
            between,
        }
    }

    /// What was averaged and what was left out, by the `names` of the readings; nothing of a single one.
    pub(super) fn notes(&self, names: &[String]) -> Vec<String> {
        let readings = self.distances.len();
        if readings < 2 {
            return Vec::new();
        }
        let mut notes = Vec::new();
        for (name, (distance, _)) in names
            .iter()
            .zip(&self.distances)
            .filter(|(_, (_, left_out))| *left_out)
        {
            notes.push(format!(
                "left out as unlike the others: {name} ({distance:.1} ΔE00 from their middle)"
            ));
        }
        let [l, a, b] = self.between;
        let averaged = readings - notes.len();
        let farthest = self.distances.iter().map(|(distance, _)| *distance);
        let warning = if readings < FEWEST_TO_JUDGE && farthest.fold(0.0, f64::max) > LEAST_FAR {
            ": they disagree, and a third would tell which is wrong"
        } else {
            ""
        };
        notes.push(format!(
            "{averaged} readings averaged, which scatter by L* {l:.1}, a* {a:.1}, b* {b:.1}{warning}"
        ));
        notes
    }
}

/// How far each of `bases` lies from their middle, ΔE00, and whether that is too far.
fn distances(bases: &[Lab]) -> Vec<(f64, bool)> {
    let of = |axis: fn(&Lab) -> f64| {
        let values = || bases.iter().map(axis);
        // The median of an even number is the upper of the middle two; of two, their mean is fairer.
        if bases.len() < FEWEST_TO_JUDGE {
            values().sum::<f64>() / bases.len() as f64
        } else {
            median(values())
        }
    };
    let middle = Lab::new(of(|lab| lab.l), of(|lab| lab.a), of(|lab| lab.b));
    let apart: Vec<f64> = bases.iter().map(|lab| delta_e_2000(*lab, middle)).collect();
    let limit = (FAR_OFF * median(apart.iter().copied())).max(LEAST_FAR);
    let judged = bases.len() >= FEWEST_TO_JUDGE;
    apart
        .into_iter()
        .map(|apart| (apart, judged && apart > limit))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_far_off_is_left_out_and_two_can_not_be_judged() {
        let near = [
            Lab::new(64.0, 11.0, 15.0),
            Lab::new(65.0, 11.5, 15.5),
            Lab::new(64.5, 11.2, 15.1),
        ];
        let far = Lab::new(56.0, 16.0, 10.0);
        let out = |bases: &[Lab]| -> Vec<bool> {
            distances(bases).into_iter().map(|(_, out)| out).collect()
        };
        assert_eq!(out(&near), [false; 3], "alike");
        assert_eq!(
            out(&[near[0], far, near[1], near[2]]),
            [false, true, false, false],
            "one is wrong"
        );
        assert_eq!(out(&[near[0], far]), [false; 2], "either may be wrong");
    }
}
