//! Lights as they are typed: of the CIE, lamps, and gels before them.

use std::path::Path;

use crate::book::{read_lamp, read_transmittance};
use crate::colour::{Illuminant, Light, Viewing};
use crate::error::{Error, Result};
use crate::materials::check_seen;

/// The lights to look under, beside other arguments.
#[derive(Debug, clap::Args)]
pub(super) struct Lights {
    /// Look under these lights; match makes the mean ΔE00 under them least. A light is a CIE name (A, FL11, LED-B3),
    /// or a lamp's own spectrum, a CSV file with wavelength_nm,power; either may stand behind gels, CSV files with
    /// wavelength_nm,t, as in lamp.csv*gel.csv [default: the book's light]
    #[arg(
        id = "illuminants",
        long = "illuminants",
        value_name = "LIGHT[*GEL…],…",
        value_delimiter = ','
    )]
    words: Vec<String>,
}

impl Lights {
    /// The lights that were typed, in their order; may be none.
    pub(super) fn read(&self) -> Result<Vec<Light>> {
        let lights: Vec<Light> = self
            .words
            .iter()
            .map(|word| light(word))
            .collect::<Result<_>>()?;
        for (index, light) in lights.iter().enumerate() {
            if lights[..index]
                .iter()
                .any(|other| other.name() == light.name())
            {
                let finding = format!("the light `{}` is named twice", light.name().escape_debug());
                return Err(Error::input(finding).mend("name each once"));
            }
        }
        Ok(lights)
    }

    /// The lights that were typed, or that of `viewing`.
    pub(super) fn or_of(&self, viewing: Viewing) -> Result<Vec<Light>> {
        let lights = self.read()?;
        Ok(if lights.is_empty() {
            vec![viewing.illuminant.into()]
        } else {
            lights
        })
    }
}

/// The light typed as `LIGHT`, `LAMP.csv` or either with `*GEL.csv` once or more; it is called what was typed.
fn light(typed: &str) -> Result<Light> {
    check_seen("the light", typed)?;
    let mut words = typed.split('*').map(str::trim);
    let source = words.next().unwrap_or_default();
    if source.is_empty() {
        let finding = format!("no light is named in \"{}\"", typed.escape_debug());
        return Err(Error::input(finding).mend("name one, such as D65, or leave --illuminants out"));
    }
    let mut light = match source.parse::<Illuminant>() {
        Ok(illuminant) => Light::from(illuminant),
        Err(unknown) if !is_file(source) => return Err(unknown),
        Err(_) => read_lamp(Path::new(source), source)?.into(),
    };
    let mut name = light.name().to_owned();
    for gel in words {
        if gel.is_empty() {
            let finding = format!("no gel is named behind the * of `{}`", typed.escape_debug());
            return Err(Error::input(finding).mend("write it as in A*gel.csv"));
        }
        name = format!("{name}*{gel}");
        light = light.through(&read_transmittance(Path::new(gel))?, &name);
    }
    Ok(light)
}

/// Whether the word names a file, there or missing, rather than a light of the CIE's.
fn is_file(word: &str) -> bool {
    word.contains(['.', '/', '\\']) || Path::new(word).is_file()
}
