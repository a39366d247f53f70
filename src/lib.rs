//! dropwise
pub mod colour;
mod error;
pub mod optics;
pub use error::{Error, Result};
