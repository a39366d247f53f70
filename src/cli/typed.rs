//! Colours and numbers as they are typed.

use std::str::FromStr;
use std::time::Duration;

use crate::colour::Lab;
use crate::error::{Error, Result};
use crate::materials::{Geometry, check_range, parse_number};

/// A colour typed as `L,a,b`.
#[derive(Clone, Copy, Debug)]
pub(super) struct TypedLab(pub(super) Lab);

impl FromStr for TypedLab {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let numbers: Option<Vec<f64>> = text
            .split(',')
            .map(|number| {
                number
                    .trim()
                    .parse()
                    .ok()
                    .filter(|value: &f64| value.is_finite())
            })
            .collect();
        match numbers.as_deref() {
            Some(&[l, a, b]) => Ok(Self(Lab::new(l, a, b))),
            _ => Err(
                Error::input(format!("\"{}\" is not L*,a*,b*", text.escape_debug())).mend(
                    "write three numbers with points and commas between, as in 66.2,12.3,16.8",
                ),
            ),
        }
    }
}

/// A number from 0 up.
pub(super) fn not_negative(text: &str) -> Result<f64> {
    let value = parse_number(text)?;
    if value < 0.0 {
        return Err(Error::input("a number below zero; expected 0 or more"));
    }
    Ok(value)
}

/// A share above 0, up to 1.
pub(super) fn fraction(text: &str) -> Result<f64> {
    let value = parse_number(text)?;
    if value > 0.0 && value <= 1.0 {
        return Ok(value);
    }
    Err(
        Error::input(format!("a share of {value}; expected above 0, up to 1"))
            .mend("write it as a fraction, such as 0.03 for 3 %"),
    )
}

/// A contrast ratio.
pub(super) fn contrast_ratio(text: &str) -> Result<f64> {
    let value = not_negative(text)?;
    if value > 1.0 {
        return Err(
            Error::input("a contrast ratio above 1; expected 0 (clear) to 1 (hides all)")
                .mend("write it as a fraction, such as 0.5"),
        );
    }
    Ok(value)
}

/// A span of time, typed in seconds from 0 up.
pub(super) fn time_limit(text: &str) -> Result<Duration> {
    Duration::try_from_secs_f64(not_negative(text)?)
        .map_err(|_| Error::input("no span of time").mend("write seconds, such as 2"))
}

/// The diameter of an aperture, mm.
pub(super) fn aperture_mm(text: &str) -> Result<f64> {
    let value = parse_number(text)?;
    check_range("the aperture", value, Geometry::APERTURE_RANGE_MM, "mm")?;
    Ok(value)
}

/// A reader of whole numbers from 1 to `most`.
pub(super) fn count_to<T: TryFrom<u32>>(most: u32) -> impl Fn(&str) -> Result<T> + Clone {
    move |text| {
        let count = text.trim().parse().ok();
        let count = count.filter(|count| (1..=most).contains(count));
        count
            .and_then(|count| T::try_from(count).ok())
            .ok_or_else(|| Error::input(format!("expected a whole number from 1 to {most}")))
    }
}
