//! Names that can stand in a mix.

use crate::error::{Error, Result};
use crate::materials::{Amount, Colorant, Mix};

/// Refuses a name that a mix would read as something else.
pub(super) fn check_stands_in_a_mix(name: &str) -> Result<()> {
    let alone = Mix::new(vec![(Colorant::neat(name), Amount::Drops(1.0))])?;
    match format!("{name} 1").parse::<Mix>() {
        Ok(mix) if mix == alone => Ok(()),
        _ => Err(Error::input(format!(
            "`{}` cannot be told from other parts of a mix",
            name.escape_debug()
        ))
        .mend("a pigment's name has no semicolon and does not end in a ratio such as 1:10")),
    }
}
