//! Which readings of a long log are learnt from.
//!
//! A calibration weighs every reading against every other, and after some thousands one more of what was cast a hundred times
//! tells next to nothing, while the fit takes minutes. So no more than [`MOST_READINGS`] are learnt from: chips are sorted by what
//! they are of (base, pigments, foam and paint, whatever the amounts), and of each sort the newest is taken, then the next, in
//! turn, until there are enough. So what was cast once is never crowded out by what is cast daily, a bottle in use counts before
//! one that is long empty, and a chip that was read over two cards keeps both its readings.

use std::collections::HashMap;

use crate::materials::{Build, Swatch};

/// So many readings a calibration learns from at most.
pub const MOST_READINGS: usize = 5_000;

/// Readings to learn from, in the order of the log.
#[derive(Clone, Debug, PartialEq)]
pub struct Thinned {
    /// They.
    pub swatches: Vec<Swatch>,
    /// How many others the log holds.
    pub left_out: usize,
}

/// Of `swatches` those to learn from: all, where there are no more than [`MOST_READINGS`].
pub fn thinned(swatches: &[Swatch]) -> Thinned {
    to_at_most(swatches, MOST_READINGS)
}

fn to_at_most(swatches: &[Swatch], most: usize) -> Thinned {
    if swatches.len() <= most {
        return Thinned {
            swatches: swatches.to_vec(),
            left_out: 0,
        };
    }
    let mut taken = vec![false; swatches.len()];
    let mut left = most;
    for chip in in_turn(swatches) {
        if chip.len() > left {
            break;
        }
        left -= chip.len();
        for index in chip {
            taken[index] = true;
        }
    }
    let chosen = swatches.iter().zip(taken).filter(|(_, is_taken)| *is_taken);
    let chosen: Vec<Swatch> = chosen.map(|(swatch, _)| swatch.clone()).collect();
    Thinned {
        left_out: swatches.len() - chosen.len(),
        swatches: chosen,
    }
}

/// The chips, each by the indices of its readings, in the order in which they are to be learnt from.
fn in_turn(swatches: &[Swatch]) -> Vec<Vec<usize>> {
    let mut chip_of: HashMap<&str, usize> = HashMap::new();
    let mut chips: Vec<Vec<usize>> = Vec::new();
    for (index, swatch) in swatches.iter().enumerate() {
        let chip = *chip_of.entry(&swatch.id).or_insert(chips.len());
        match chips.get_mut(chip) {
            Some(readings) => readings.push(index),
            None => chips.push(vec![index]),
        }
    }
    // The newest first; of one day, what was logged last.
    let newest = |chip: &Vec<usize>| {
        chip.iter()
            .map(|index| (swatches[*index].date, *index))
            .max()
    };
    chips.sort_by_key(|chip| std::cmp::Reverse(newest(chip)));
    let mut before: HashMap<Sort<'_>, usize> = HashMap::new();
    let mut ranked: Vec<(usize, Vec<usize>)> = Vec::with_capacity(chips.len());
    for chip in chips {
        let of_its_sort = before.entry(sort(&swatches[chip[0]].build)).or_insert(0);
        ranked.push((*of_its_sort, chip));
        *of_its_sort += 1;
    }
    ranked.sort_by_key(|(of_its_sort, _)| *of_its_sort);
    ranked.into_iter().map(|(_, chip)| chip).collect()
}

/// What a chip is of: each base with its pigments.
type Sort<'a> = Vec<(&'a str, Vec<&'a str>)>;

fn sort(build: &Build) -> Sort<'_> {
    let poured = build.poured().map(|poured| {
        let entries = poured.mix.entries().iter();
        let mut pigments: Vec<&str> = entries
            .map(|(colorant, _)| colorant.pigment.as_str())
            .collect();
        pigments.sort_unstable();
        pigments.dedup();
        (poured.base.as_str(), pigments)
    });
    poured.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::Book;

    /// The chips of the demo book, as castings of the day `day` of May 2026.
    fn chip(mix: &str, id: &str, day: i8) -> Swatch {
        let book = Book::demo().expect("the demo");
        let mut swatch = book.swatches().expect("its log")[0].clone();
        swatch.id = id.to_owned();
        swatch.date = jiff::civil::date(2026, 5, day);
        swatch.build.skin.mix = mix.parse().expect(mix);
        swatch
    }

    fn ids(thinned: &Thinned) -> Vec<&str> {
        let swatches = thinned.swatches.iter();
        swatches.map(|swatch| swatch.id.as_str()).collect()
    }

    #[test]
    fn what_was_cast_once_is_kept_beside_the_newest_of_what_is_cast_daily() {
        let mut log: Vec<Swatch> = (1..=20)
            .map(|day| chip(&format!("umber {day}"), &format!("U{day}"), day))
            .collect();
        log.insert(0, chip("blue 1", "B1", 1));
        log.insert(5, chip("umber 2; blue 1", "UB", 3));
        let thinned = to_at_most(&log, 5);
        assert_eq!(ids(&thinned), ["B1", "UB", "U18", "U19", "U20"], "in turn");
        assert_eq!(thinned.left_out, 17, "the others");
        let all = to_at_most(&log, log.len());
        assert_eq!(
            (all.swatches, all.left_out),
            (log, 0),
            "no more than may be"
        );
    }

    #[test]
    fn a_chip_keeps_both_its_readings_or_neither() {
        let mut log = vec![chip("umber 1", "U1", 1), chip("umber 2", "U2", 2)];
        log.extend(log.clone());
        assert_eq!(ids(&to_at_most(&log, 2)), ["U2", "U2"], "the newer one");
        assert_eq!(ids(&to_at_most(&log, 3)), ["U2", "U2"], "never the half");
    }
}
