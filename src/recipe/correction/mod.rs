//! What came out otherwise than predicted: what to add to this cup, and what to mix next.

mod additions;
mod cup;
mod evidence;
mod learnt;
mod looks;
mod next_cup;
mod remedy;
mod request;
mod stage;

#[cfg(test)]
mod checks;

pub use evidence::Evidence;
pub use looks::Looks;
pub use remedy::{Remedy, Unheld};
pub use request::Correction;
pub use stage::{Stage, Well};
