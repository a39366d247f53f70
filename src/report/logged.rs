//! A logged swatch and what the model says of it, as data.

use crate::colour::Lab;
use crate::materials::Swatch;

/// A logged swatch beside what the model says of it.
#[derive(Clone, Debug)]
pub struct Logged<'a> {
    /// The swatch.
    pub swatch: &'a Swatch,
    /// As read.
    pub measured: Lab,
    /// As predicted.
    pub predicted: Lab,
}
