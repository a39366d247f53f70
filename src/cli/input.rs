//! Values as they are typed.

use std::io::{self, IsTerminal as _, Write as _};
use std::path::Path;
use std::str::FromStr;
use std::time::{Duration, Instant};

use jiff::civil::Date;

use crate::book::{read_lamp, read_transmittance};
use crate::colour::{Illuminant, Lab, Light, Viewing};
use crate::error::{Error, Result};
use crate::materials::{Geometry, check_range, parse_number};

/// A colour typed as `L,a,b`.
#[derive(Clone, Copy, Debug)]
pub(super) struct TypedLab(pub(super) Lab);

impl FromStr for TypedLab {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let numbers: Option<Vec<f64>> = text
            .split(',')
            .map(|number| {
                number
                    .trim()
                    .parse()
                    .ok()
                    .filter(|value: &f64| value.is_finite())
            })
            .collect();
        match numbers.as_deref() {
            Some(&[l, a, b]) => Ok(Self(Lab::new(l, a, b))),
            _ => Err(
                Error::input(format!("\"{}\" is not L*,a*,b*", text.escape_debug())).mend(
                    "write three numbers with points and commas between, as in 66.2,12.3,16.8",
                ),
            ),
        }
    }
}

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
        for (place, light) in lights.iter().enumerate() {
            if lights[..place]
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

/// A number from 0 up.
pub(super) fn not_negative(text: &str) -> Result<f64> {
    let value = parse_number(text)?;
    if value < 0.0 {
        return Err(Error::input("a number below zero; expected 0 or more"));
    }
    Ok(value)
}

/// A contrast ratio.
pub(super) fn contrast_ratio(text: &str) -> Result<f64> {
    let value = not_negative(text)?;
    if value > 1.0 {
        return Err(
            Error::input("a contrast ratio above 1; expected 0 (clear) to 1 (hides all)")
                .mend("write it as a fraction, such as 0.5"),
        );
    }
    Ok(value)
}

/// A span of time, typed in seconds from 0 up.
pub(super) fn time_limit(text: &str) -> Result<Duration> {
    Duration::try_from_secs_f64(not_negative(text)?)
        .map_err(|_| Error::input("no span of time").mend("write seconds, such as 2"))
}

/// The diameter of an aperture, mm.
pub(super) fn aperture_mm(text: &str) -> Result<f64> {
    let value = parse_number(text)?;
    check_range("the aperture", value, Geometry::APERTURE_RANGE_MM, "mm")?;
    Ok(value)
}

/// A reader of whole numbers from 1 to `most`.
pub(super) fn count_to<T: TryFrom<u32>>(most: u32) -> impl Fn(&str) -> Result<T> + Clone {
    move |text| {
        let count = text.trim().parse().ok();
        let count = count.filter(|count| (1..=most).contains(count));
        count
            .and_then(|count| T::try_from(count).ok())
            .ok_or_else(|| Error::input(format!("expected a whole number from 1 to {most}")))
    }
}

/// A day.
pub(super) fn day(text: &str) -> Result<Date> {
    text.parse().map_err(|_| {
        Error::input("no such day").mend("write year, month and day, as in 2026-03-14")
    })
}

/// The day of what is done, beside other arguments.
#[derive(Debug, clap::Args)]
pub(super) struct DayOf {
    /// The day on which it is done, by which let-downs of the book are judged [default: today]
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    date: Option<Date>,
}

impl DayOf {
    /// That day.
    pub(super) fn day(&self) -> Date {
        self.date.unwrap_or_else(today)
    }
}

/// This day, where the program runs.
pub(super) fn today() -> Date {
    jiff::Zoned::now().date()
}

/// A line on a terminal's standard error that tells how far long work has come; nothing elsewhere.
pub(super) struct Bar {
    what: &'static str,
    since: Instant,
    shown: bool,
}

impl Bar {
    /// Work that takes less than this is not told of.
    const PATIENCE: Duration = Duration::from_secs(1);

    pub(super) fn new(what: &'static str) -> Self {
        Self {
            what,
            since: Instant::now(),
            shown: false,
        }
    }

    /// Tells that `share` (0–1) is done.
    pub(super) fn show(&mut self, share: f64) {
        let mut err = io::stderr();
        if !err.is_terminal() || self.since.elapsed() < Self::PATIENCE {
            return;
        }
        self.shown = true;
        // A terminal that cannot be written to is no reason to stop.
        let _ = write!(err, "\r{} {:3.0} %", self.what, 100.0 * share);
        let _ = err.flush();
    }

    /// Takes the line away.
    pub(super) fn clear(&mut self) {
        if self.shown {
            let _ = write!(io::stderr(), "\r\x1b[2K");
        }
    }
}
