//! Which chip to cast next.

/// One chip worth casting.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice;

/// Placeholder.
pub fn plan() {}
