//! dropwise
pub mod book;
pub mod colour;
mod error;
pub mod materials;
pub mod optics;
pub mod recipe;
pub mod target;
pub use error::{Error, Result};
