//! Values as they are typed.

use std::str::FromStr;

use crate::colour::Lab;
use crate::error::Error;

/// A colour typed as `L,a,b`.
#[derive(Clone, Copy, Debug)]
pub(super) struct TypedLab(pub(super) Lab);

impl FromStr for TypedLab {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
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
