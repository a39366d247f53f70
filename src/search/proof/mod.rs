//! What the search missed, and that nothing else was: branch and bound over boxes of doses.

mod bound;
#[cfg(test)]
mod checks;
mod hulls;
pub(super) mod instructions;
pub(super) mod kernel;
mod lanes;
mod open;
mod planes;
pub(super) mod prove;
pub(super) mod response;
mod zonotope;
