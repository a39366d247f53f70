//! Masses and thicknesses as types, so that a gram is never taken for a millimetre.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Mul};
use std::str::FromStr;

use serde::Serialize;

use crate::error::Error;

/// A mass in grams.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize)]
pub struct Grams(pub f64);

/// A thickness in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize)]
pub struct Millimetres(pub f64);

/// The international avoirdupois ounce, g: exactly 1/16 of 453.59237 g.
///
/// Source: NIST Handbook 44, appendix C (the pound of 1959).
const OUNCE_G: f64 = 28.349_523_125;

impl Grams {
    /// Rounds to a multiple of `step` (the resolution of a scale), which must be positive.
    #[must_use]
    pub fn rounded_to(self, step: Self) -> Self {
        // Dividing by the whole number of steps in a gram avoids 0.30000000000000004.
        let per_gram = 1.0 / step.0;
        let count = (self.0 * per_gram).round();
        Self(if per_gram.fract() == 0.0 {
            count / per_gram
        } else {
            count * step.0
        })
    }
}

impl Add for Grams {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Mul<f64> for Grams {
    type Output = Self;

    fn mul(self, factor: f64) -> Self {
        Self(self.0 * factor)
    }
}

impl Sum for Grams {
    fn sum<I: Iterator<Item = Self>>(masses: I) -> Self {
        masses.fold(Self(0.0), Add::add)
    }
}

impl fmt::Display for Grams {
    /// `12.5 g`; a precision, as in `{:.2}`, fixes the digits.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)?;
        f.write_str(" g")
    }
}

impl fmt::Display for Millimetres {
    /// `2.1 mm`; a precision, as in `{:.2}`, fixes the digits.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)?;
        f.write_str(" mm")
    }
}

impl FromStr for Grams {
    type Err = Error;

    /// Reads `600`, `600 g`, `0.6 kg`, `8 oz` or `2 lb`; the bare number is grams.
    fn from_str(text: &str) -> Result<Self, Error> {
        let text = text.trim();
        let number = text.trim_end_matches(char::is_alphabetic);
        let factor = match &text[number.len()..] {
            "" | "g" => 1.0,
            "kg" => 1000.0,
            "oz" => OUNCE_G,
            "lb" => 16.0 * OUNCE_G,
            // A word such as NaN or inf, and no number.
            _ if number.is_empty() => return parse_number(text).map(Self),
            unit => {
                return Err(
                    Error::input(format!("`{}` is no unit of mass", unit.escape_debug()))
                        .mend("write g, kg, oz or lb"),
                );
            }
        };
        let mass = parse_number(number)? * factor;
        if mass < 0.0 {
            return Err(
                Error::input(format!("a mass of {text}; expected none below zero"))
                    .mend("write it as in 12.5 g"),
            );
        }
        Ok(Self(mass))
    }
}

impl FromStr for Millimetres {
    type Err = Error;

    /// Reads `2`, `2.1` or `2.1 mm`.
    fn from_str(text: &str) -> Result<Self, Error> {
        let number = text.trim();
        let value = parse_number(number.strip_suffix("mm").unwrap_or(number))?;
        if value < 0.0 {
            return Err(Error::input(format!(
                "a thickness of {text}; expected none below zero"
            )));
        }
        Ok(Self(value))
    }
}

/// Refuses a `value` of `what` outside `range`, both in `unit`.
pub(crate) fn check_range(
    what: &str,
    value: f64,
    range: (f64, f64),
    unit: &str,
) -> Result<(), Error> {
    let (least, most) = range;
    if (least..=most).contains(&value) {
        return Ok(());
    }
    let found = if value < 1e7 {
        value.to_string()
    } else {
        format!("{value:e}")
    };
    Err(Error::input(format!(
        "{what} is {found} {unit}; expected from {least} to {most} {unit}"
    )))
}

/// A finite number with a point; a comma is pointed out with the mend.
pub(crate) fn parse_number(text: &str) -> Result<f64, Error> {
    let text = text.trim();
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => {
            let error = Error::input(format!("\"{}\" is not a number", text.escape_debug()));
            Err(error.mend(match with_point(text) {
                Some(pointed) => format!("write {pointed}, with a point"),
                None => "write digits with a point, such as 2.1".to_owned(),
            }))
        }
    }
}

/// `2.1` for `2,1`: a number whose decimal comma is the one thing wrong with it.
pub(crate) fn with_point(text: &str) -> Option<String> {
    let pointed = text.replacen(',', ".", 1);
    (pointed != text && pointed.parse::<f64>().is_ok()).then_some(pointed)
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    fn grams(text: &str) -> f64 {
        text.parse::<Grams>().expect(text).0
    }

    #[test]
    fn eight_ounces_are_227_g_and_not_300() {
        // NIST Handbook 44, appendix C: one avoirdupois ounce is 28.3495 g.
        assert_abs_diff_eq!(grams("8 oz"), 226.796, epsilon = 5e-4);
        assert_abs_diff_eq!(grams("8oz"), 226.796, epsilon = 5e-4);
        assert_abs_diff_eq!(grams("1 lb"), 453.592, epsilon = 5e-4);
    }

    #[test]
    fn grams_are_the_default_and_nonsense_is_refused() {
        assert_abs_diff_eq!(grams("600"), 600.0, epsilon = 1e-12);
        assert_abs_diff_eq!(grams("0.25 kg"), 250.0, epsilon = 1e-12);
        for wrong in ["2,5 g", "-3", "5 cups", "", "NaN", "inf"] {
            assert!(wrong.parse::<Grams>().is_err(), "{wrong}");
        }
        let comma = "2,5 g".parse::<Grams>().expect_err("a comma").to_string();
        assert!(comma.ends_with("(write 2.5, with a point)"), "{comma}");
    }

    #[test]
    fn rounding_to_the_scale_leaves_clean_digits() {
        assert_eq!(
            Grams(0.3049).rounded_to(Grams(0.01)).to_string(),
            "0.3 g",
            "to 0.01 g"
        );
        assert_eq!(
            Grams(12.34).rounded_to(Grams(0.5)).to_string(),
            "12.5 g",
            "to 0.5 g"
        );
        assert_eq!(
            Grams(1234.0).rounded_to(Grams(5.0)).to_string(),
            "1235 g",
            "to 5 g"
        );
    }
}
