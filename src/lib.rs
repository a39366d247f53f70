//! dropwise
pub mod colour;
mod error;
pub mod materials;
pub mod optics;
pub use error::{Error, Result};
