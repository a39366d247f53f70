//! dropwise
pub mod batch;
pub mod book;
pub mod cli;
pub mod colour;
mod error;
pub mod materials;
pub mod optics;
pub mod recipe;
pub mod report;
pub mod target;
pub use error::{Error, Result};
