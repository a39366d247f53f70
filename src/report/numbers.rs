//! Numbers as people read them: rounded to what they are good for.
//!
//! Only text is rounded: documents give numbers in full.

/// `value` to one digit after the point, without a minus before nothing: that is as far as an instrument reads a colour.
pub(super) fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0 + 0.0
}

/// `+1.2`, `-0.4`, `+0.0`: [`tenths`] with a sign.
pub(super) fn signed(value: f64) -> String {
    format!("{:+.1}", tenths(value))
}

/// `value` to two significant digits, for what is only roughly known: 7368.4 becomes 7400. Nothing and less become 0.
pub(super) fn two_digits(value: f64) -> f64 {
    if value <= 0.0 {
        return 0.0;
    }
    let unit = 10.0_f64.powf(value.log10().floor() - 1.0);
    (value / unit).round() * unit
}

/// A chance, 0–1, in whole castings out of a hundred; only what is certain is 0 or 100. All else is held to 1–99, so that
/// rounding promises nothing.
pub(super) fn in_a_hundred(chance: f64) -> String {
    match chance {
        0.0 => "0".to_owned(),
        1.0 => "100".to_owned(),
        chance => format!("{:.0}", (100.0 * chance).clamp(1.0, 99.0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_area_has_two_digits() {
        assert_eq!(two_digits(7368.4), 7400.0, "cm²");
        assert_eq!(two_digits(0.0), 0.0, "none");
    }
}
