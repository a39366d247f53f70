//! The layer models by their words in a swatch book.

use std::fmt;

use super::{KubelkaMunk, LayerModel, Transport};
use crate::error::{Error, Result};

/// A layer model, by its word in a swatch book.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Model {
    /// [`Transport`], `transport`.
    Transport,
    /// [`KubelkaMunk`], `kubelka-munk`.
    KubelkaMunk,
}

impl std::ops::Deref for Model {
    type Target = dyn LayerModel;

    fn deref(&self) -> &Self::Target {
        match self {
            Self::Transport => &Transport,
            Self::KubelkaMunk => &KubelkaMunk,
        }
    }
}

impl fmt::Display for Model {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Transport => "transport",
            Self::KubelkaMunk => "kubelka-munk",
        })
    }
}

impl std::str::FromStr for Model {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        match text {
            "transport" => Ok(Self::Transport),
            "kubelka-munk" => Ok(Self::KubelkaMunk),
            _ => {
                let models = ["transport", "kubelka-munk"];
                Err(Error::unknown_name("layer model", text, models))
            }
        }
    }
}
