//! Photographs on the command line: which, and what lies where in them.

use std::path::PathBuf;
use std::str::FromStr;

use super::checked;
use super::forced::Forced;
use super::progress::Progress;
use crate::book::read_chart_values;
use crate::error::{Error, Result};
use crate::materials::{Geometry, Settings};
use crate::optics::Specular;
use crate::tone::{Card, Chart, Corners, DEFAULT_TONES, PhotoRequest, Region, Target};

/// What is read off photographs, beside an argument `target`, by which the tone is typed instead.
#[derive(Debug, clap::Args)]
pub(super) struct PhotoArguments {
    /// Where the skin is: pixels from the top left of the upright picture [default: the whole]. Given again,
    /// regions are averaged; with several photographs, `2:X,Y,W,H` is for the second alone
    #[arg(
        long,
        value_name = "X,Y,W,H",
        allow_hyphen_values = true,
        conflicts_with = "target"
    )]
    region: Vec<InPhoto<Region>>,
    /// Where a white or grey card lies in the shot; find looks for it
    #[arg(
        long,
        value_name = "X,Y,W,H|find",
        allow_hyphen_values = true,
        requires = "card_lab",
        conflicts_with = "target"
    )]
    card: Vec<InPhoto<Sought<Region>>>,
    /// Which card it is: grey (18 %), white, or its own L*,a*,b* under D50/2°
    #[arg(
        long,
        value_name = "grey|white|L,a,b",
        requires = "card",
        conflicts_with = "target"
    )]
    card_lab: Option<Card>,
    /// Where a colour chart lies in the shot: the corners of its patches, from the top left clockwise; find looks for it
    #[arg(
        long,
        value_name = "X,Y,X,Y,X,Y,X,Y|find",
        allow_hyphen_values = true,
        requires = "chart_values",
        conflicts_with_all = ["target", "card"]
    )]
    chart: Vec<InPhoto<Sought<Corners>>>,
    /// What the chart's patches are: the file that came with it, CGATS or a CSV of row,column,L,a,b (D50/2° unless it says
    /// otherwise), or "published 1976" for the 24 patches of that year's paper
    #[arg(
        long,
        value_name = "FILE|NAME",
        requires = "chart",
        conflicts_with = "target"
    )]
    chart_values: Option<String>,
    /// How the chart's values were read; the skin is brought from there to what book.toml says [default: 45/0 with a chart]
    #[arg(
        id = "photo_specular",
        long = "specular",
        value_name = "included|excluded|45/0",
        conflicts_with = "target"
    )]
    specular: Option<Specular>,
    /// Write the photograph to this file, a PNG, with what was read of it outlined
    #[arg(long = "check", value_name = "FILE", conflicts_with = "target")]
    check: Option<PathBuf>,
    /// How many tones to part the region into, 1 to 8
    #[arg(long, value_name = "K", conflicts_with = "target", default_value_t = DEFAULT_TONES)]
    tones: usize,
}

/// Where something lies; it is looked for where `None`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sought<T>(pub(super) Option<T>);

impl<T: FromStr<Err = Error>> FromStr for Sought<T> {
    type Err = Error;

    /// Takes `find`, or where it lies.
    fn from_str(text: &str) -> Result<Self> {
        if text.trim().eq_ignore_ascii_case("find") {
            return Ok(Self(None));
        }
        text.parse().map(|place| Self(Some(place)))
    }
}

/// A value for one of several photographs, or for all.
#[derive(Clone, Copy, Debug)]
struct InPhoto<T> {
    /// Which photograph, from 1.
    number: Option<usize>,
    value: T,
}

impl<T: FromStr<Err = Error>> FromStr for InPhoto<T> {
    type Err = Error;

    /// Takes `VALUE` or `N:VALUE`.
    fn from_str(text: &str) -> Result<Self> {
        let Some((number, value)) = text.split_once(':') else {
            return Ok(Self {
                number: None,
                value: text.parse()?,
            });
        };
        let number = number.trim().parse().ok().filter(|number| *number > 0);
        let number = number.ok_or_else(|| {
            Error::input("before a colon stands the number of a photograph, from 1")
                .mend("such as 2:120,80,200,150")
        })?;
        Ok(Self {
            number: Some(number),
            value: value.parse()?,
        })
    }
}

impl<T> InPhoto<T> {
    fn is_for(&self, number: usize) -> bool {
        self.number.is_none_or(|own| own == number)
    }
}

impl PhotoArguments {
    /// Reads the target off `photos`, at least one; where asked, shows what was read of it in a file.
    pub(super) fn read(
        &self,
        photos: &[PathBuf],
        settings: &Settings,
        forced: Forced,
    ) -> Result<Target> {
        if self.check.is_some() && photos.len() > 1 {
            return Err(
                Error::input("--check shows one photograph, and several are named")
                    .mend("check them one by one"),
            );
        }
        let requests = self.requests(photos)?;
        let doing = match photos {
            [photo] => format!("reading {}", photo.display()),
            photos => format!("reading {} photographs", photos.len()),
        };
        let _progress = Progress::begin(move || doing.clone());
        let mut target = Target::from_photos(&requests, settings.viewing)?;
        for photographed in &mut target.photographs {
            photographed.chart_values.clone_from(&self.chart_values);
        }
        if let Some(file) = &self.check {
            forced.write(file, checked::picture(&requests, &target)?)?;
        }
        let of_chart = (!self.chart.is_empty()).then_some(Specular::FortyFive);
        let geometry = Geometry {
            specular: self.specular.or(of_chart),
            aperture_mm: None,
        };
        target.brought_to_book(geometry, settings)
    }

    fn requests(&self, photos: &[PathBuf]) -> Result<Vec<PhotoRequest>> {
        self.check_numbers(photos.len())?;
        let values = match &self.chart_values {
            Some(text) => Some(read_chart_values(text)?),
            None => None,
        };
        let mut requests = Vec::new();
        for (number, path) in (1..).zip(photos) {
            let corners = the_one(&self.chart, number, "--chart")?;
            let card = the_one(&self.card, number, "--card")?;
            let whole = PhotoRequest {
                card: card
                    .zip(self.card_lab)
                    .map(|(Sought(region), card)| (region, card)),
                chart: corners
                    .zip(values.clone())
                    .map(|(Sought(corners), values)| Chart { corners, values }),
                tones: self.tones,
                ..PhotoRequest::new(path)
            };
            if self.region.is_empty() {
                requests.push(whole);
                continue;
            }
            let before = requests.len();
            let own = self.region.iter().filter(|region| region.is_for(number));
            requests.extend(own.map(|region| PhotoRequest {
                region: Some(region.value),
                ..whole.clone()
            }));
            if requests.len() == before {
                return Err(Error::input("no --region is for this photograph")
                    .mend(format!(
                        "add --region {number}:X,Y,W,H, or leave the photograph out"
                    ))
                    .in_file(path));
            }
        }
        Ok(requests)
    }

    fn check_numbers(&self, photos: usize) -> Result<()> {
        let regions = self.region.iter().map(|in_photo| in_photo.number);
        let cards = self.card.iter().map(|in_photo| in_photo.number);
        let charts = self.chart.iter().map(|in_photo| in_photo.number);
        match regions
            .chain(cards)
            .chain(charts)
            .flatten()
            .find(|number| *number > photos)
        {
            Some(number) => Err(Error::input(format!(
                "there is no photograph {number}: {photos} named"
            ))
            .mend("the number before the colon counts the photographs as they stand")),
            None => Ok(()),
        }
    }
}

/// The value for photograph `number`: its own, or that for all.
fn the_one<T: Copy>(values: &[InPhoto<T>], number: usize, option: &str) -> Result<Option<T>> {
    let own = values.iter().filter(|value| value.number == Some(number));
    let all = values.iter().filter(|value| value.number.is_none());
    for found in [own.collect::<Vec<_>>(), all.collect()] {
        match found[..] {
            [] => {}
            [value] => return Ok(Some(value.value)),
            _ => {
                return Err(Error::input(format!(
                    "{option} is given {} times for one photograph",
                    found.len()
                ))
                .mend("write N: before the value to say for which photograph it is"));
            }
        }
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tone::ChartValues;

    fn arguments(region: &[&str], chart: &[&str]) -> PhotoArguments {
        PhotoArguments {
            region: region
                .iter()
                .map(|text| text.parse().expect("a region"))
                .collect(),
            card: Vec::new(),
            card_lab: None,
            chart: chart
                .iter()
                .map(|text| text.parse().expect("corners"))
                .collect(),
            specular: None,
            check: None,
            chart_values: (!chart.is_empty()).then(|| ChartValues::PUBLISHED.to_owned()),
            tones: 1,
        }
    }

    fn photos(count: usize) -> Vec<PathBuf> {
        (0..count)
            .map(|number| format!("{number}.jpg").into())
            .collect()
    }

    #[test]
    fn regions_without_a_number_are_for_every_photograph() {
        let requests = arguments(&["1,1,9,9", "2:5,5,9,9"], &[])
            .requests(&photos(2))
            .expect("sound");
        let of: Vec<(PathBuf, String)> = requests
            .iter()
            .map(|request| {
                (
                    request.path.clone(),
                    request.region.expect("given").to_string(),
                )
            })
            .collect();
        let expected = [
            ("0.jpg", "1,1,9,9"),
            ("1.jpg", "1,1,9,9"),
            ("1.jpg", "5,5,9,9"),
        ];
        assert_eq!(
            of,
            expected.map(|(path, region)| (path.into(), region.to_owned())),
            "photograph and region"
        );
        assert_eq!(
            arguments(&[], &[])
                .requests(&photos(2))
                .expect("whole")
                .len(),
            2,
            "whole pictures"
        );
    }

    #[test]
    fn a_chart_of_its_own_goes_before_that_of_all() {
        let all = "0,0,60,0,60,40,0,40";
        let own = "2:9,0,60,0,60,40,0,40";
        let requests = arguments(&[], &[all, own])
            .requests(&photos(2))
            .expect("sound");
        let corners = |index: usize| {
            requests[index]
                .chart
                .as_ref()
                .expect("a chart")
                .corners
                .expect("given")
                .to_string()
        };
        assert_eq!([corners(0), corners(1)], [all, &own[2..]], "corners");
    }

    #[test]
    fn numbers_that_name_no_photograph_and_photographs_without_a_region_are_refused() {
        let line = |regions: &[&str], count: usize| {
            let error = arguments(regions, &[]).requests(&photos(count));
            error.expect_err("refused").to_string()
        };
        assert!(
            line(&["3:1,1,9,9"], 2).contains("no photograph 3"),
            "too far"
        );
        assert!(
            line(&["1:1,1,9,9"], 2).contains("--region 2:X,Y,W,H"),
            "none for the second"
        );
        assert!("0:1,1,9,9".parse::<InPhoto<Region>>().is_err(), "from 1");
        let twice = "0,0,60,0,60,40,0,40";
        let error = arguments(&[], &[twice, twice])
            .requests(&photos(1))
            .expect_err("two charts");
        assert!(
            error.to_string().contains("--chart is given 2 times"),
            "{error}"
        );
    }
}
