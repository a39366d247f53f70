//! How a part is poured: what the screen of a pour is asked for, and hands on to whatever follows from it.

use maud::{Markup, html};
use serde::Deserialize;

use super::fields::Fields;
use crate::error::Result;
use crate::jobs::batching::Size;
use crate::materials::Grams;

/// How a part is poured, as its forms and links say it.
#[derive(Debug, Deserialize)]
pub(super) struct How {
    /// Mass of the skin, g, as it was typed; as kept where it is empty.
    #[serde(default)]
    pub(super) skin_g: String,
    /// [`EACH`](Self::EACH) where each of several pots is tinted by itself; else all are at once.
    #[serde(default)]
    pots: String,
}

impl How {
    /// Each pot by itself.
    pub(super) const EACH: &str = "each";
    /// Part B of all pots at once.
    pub(super) const AT_ONCE: &str = "once";

    /// What `fields` say.
    pub(super) fn of(fields: &Fields) -> Self {
        Self {
            skin_g: fields.text("skin_g").to_owned(),
            pots: fields.text("pots").to_owned(),
        }
    }

    /// How much is poured: all of it as kept where nothing was typed.
    ///
    /// # Errors
    /// What is no mass.
    pub(super) fn size(&self) -> Result<Size> {
        match self.skin_g.trim() {
            "" => Ok(Size::Times(1.0)),
            typed => typed.replace(',', ".").parse::<Grams>().map(Size::To),
        }
    }

    /// What was chosen of how pots are tinted; empty where that is none of what is offered.
    pub(super) fn pots(&self) -> &'static str {
        let mut offered = [Self::EACH, Self::AT_ONCE].into_iter();
        offered.find(|pots| self.pots == *pots).unwrap_or_default()
    }

    /// Whether each of several pots is tinted by itself.
    pub(super) fn is_pot_by_pot(&self) -> bool {
        self.pots == Self::EACH
    }

    /// The same in a form, so that it stays so.
    pub(super) fn hidden(&self) -> Markup {
        html! {
            input type="hidden" name="skin_g" value=(self.skin_g);
            input type="hidden" name="pots" value=(self.pots());
        }
    }
}
