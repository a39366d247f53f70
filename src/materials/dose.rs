//! Whole drops, and the drops of a let-down that make up what they leave.

/// Parts by mass of the let-down that is made where a drop is too coarse: one in ten, which a bench scale can weigh
/// and a hand can count. Common practice, no source.
pub(crate) const LET_DOWN_PARTS: f64 = 10.0;

/// Whole drops, and drops of a let-down of `parts` (10 for one in ten), that come nearest to `drops` of the
/// dispersion (not negative).
pub(crate) fn dose(drops: f64, parts: f64) -> (u32, u32) {
    let whole = drops.floor();
    let rest = ((drops - whole) * parts).round();
    if rest >= parts {
        (whole_number(whole + 1.0), 0)
    } else {
        (whole_number(whole), whole_number(rest))
    }
}

/// A count from a whole number that is not negative; huge ones end at the largest count there is.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates"
)]
pub(crate) fn whole_number(value: f64) -> u32 {
    value as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dose_is_split_into_whole_drops_and_let_down() {
        assert_eq!(dose(0.63, 10.0), (0, 6), "six tenths");
        assert_eq!(dose(2.0, 10.0), (2, 0), "whole");
        assert_eq!(dose(2.97, 10.0), (3, 0), "nearly whole");
        assert_eq!(dose(0.0, 10.0), (0, 0), "nothing");
    }
}
