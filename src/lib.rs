//! dropwise
pub mod colour;
mod error;
pub use error::{Error, Result};
