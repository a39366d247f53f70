//! What tells of how a cup came out, and how far the work has come, as they are typed.

#[cfg(feature = "photo")]
use super::chip_photo::ChipPhoto;
use super::typed::{TypedLab, aperture_mm};
use crate::book::{Book, PhotographedChip};
use crate::error::{Error, Result};
use crate::materials::{Build, Geometry, Grams, Millimetres, Mix};
use crate::optics::Specular;
use crate::recipe::{Evidence, Looks, Stage, Well};

/// What was seen of the cup, and when.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "What was seen")]
pub(super) struct Seen {
    /// How it read, under the book's light and observer
    #[arg(long, value_name = "L,a,b", allow_hyphen_values = true)]
    #[cfg_attr(not(feature = "photo"), arg(required_unless_present_any = ["looks", "poured"]))]
    #[cfg_attr(feature = "photo", arg(required_unless_present_any = ["looks", "poured", "chip_photo"], conflicts_with = "chip_photo"))]
    measured: Option<TypedLab>,
    #[cfg(feature = "photo")]
    #[command(flatten)]
    photo: ChipPhoto,
    /// How it looks beside the tone, by eye, as in "darker, a little redder": lighter, darker, redder, greener, yellower, bluer,
    /// each with `much` or `a little` or neither (a step of 6, 1.5 or 3 units, our own choice, and half of it as spread)
    #[arg(long, value_name = "WORDS", conflicts_with_all = ["measured", "poured"])]
    #[cfg_attr(feature = "photo", arg(conflicts_with = "chip_photo"))]
    looks: Option<Looks>,
    /// What really went in, where the hand slipped: answered without a reading
    #[arg(long, value_name = "MIX", conflicts_with_all = ["measured", "mix"])]
    #[cfg_attr(feature = "photo", arg(conflicts_with = "chip_photo"))]
    poured: Option<Mix>,
    /// How far the work has come: part-b, tinted and read before part A goes in; test, a cured test piece, while the rest of part B
    /// waits; part, the part itself [default: test; with --poured: part-b]
    #[arg(long, value_name = "STAGE")]
    stage: Option<TypedStage>,
    /// Depth of the well of part B that was read [default: --thickness-mm over a backing, else 2]
    #[arg(long, value_name = "MM")]
    well_mm: Option<Millimetres>,
    /// The backing under that well [default: --backing, else white card]
    #[arg(long, value_name = "NAME")]
    well_over: Option<String>,
    /// The fibre was in part B when it was read
    #[arg(long)]
    fibre_in: bool,
    /// Mass of mixed base that a test piece took of the cup; drops are added to the rest
    #[arg(
        long,
        value_name = "MASS",
        default_value = "0",
        hide_default_value = true
    )]
    drawn_g: Grams,
    /// Whether the light mirrored at the surface was counted [default: as book.toml says]
    #[arg(long, value_name = "included|excluded|45/0", conflicts_with_all = ["looks", "poured"])]
    specular: Option<Specular>,
    /// Diameter of the spot that was read; a small one loses light at its edge
    #[arg(long, value_name = "MM", value_parser = aperture_mm, requires = "measured")]
    aperture_mm: Option<f64>,
}

/// How far the work has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum TypedStage {
    PartB,
    Test,
    Part,
}

impl Seen {
    /// What tells of how `build` came out, and what the camera gave of it where that is a photograph.
    pub(super) fn evidence(
        &self,
        book: &Book,
        build: &Build,
    ) -> Result<(Evidence, Option<PhotographedChip>)> {
        #[cfg(feature = "photo")]
        if let Some(chip) = self.photo.read(book, build, self.specular)? {
            let evidence = Evidence::Reading {
                lab: chip.lab,
                geometry: chip.geometry,
            };
            return Ok((evidence, Some(chip.photographed)));
        }
        #[cfg(not(feature = "photo"))]
        let _ = (book, build);
        let geometry = Geometry {
            specular: self.specular,
            aperture_mm: self.aperture_mm,
        };
        match (self.measured, &self.looks, &self.poured) {
            (Some(TypedLab(lab)), ..) => Ok((Evidence::Reading { lab, geometry }, None)),
            (None, Some(looks), _) => Ok((Evidence::Looks(looks.clone()), None)),
            (None, None, Some(_)) => Ok((Evidence::Poured, None)),
            (None, None, None) => Err(Error::input("nothing tells how the cup came out")
                .mend("give a reading with --measured, its --looks, or what was --poured")),
        }
    }

    /// `planned` with what was poured in its skin's cup, where that was another mix.
    pub(super) fn poured_into(&self, planned: Build) -> Build {
        let mut build = planned;
        if let Some(poured) = &self.poured {
            build.skin.mix.clone_from(poured);
        }
        build
    }

    /// How far the work on `build` has come; `is_running` where part A is in. What was read is `read_thickness` thick, where that
    /// is known apart from the build.
    pub(super) fn stage(
        &self,
        build: &Build,
        is_running: bool,
        read_thickness: Option<Millimetres>,
    ) -> Result<Stage> {
        let usual = if self.poured.is_some() && !is_running {
            TypedStage::PartB
        } else {
            TypedStage::Test
        };
        let stage = self.stage.unwrap_or(usual);
        let only = |is_given: bool, option: &str, of: &str| {
            if is_given {
                let finding = format!("{option} speaks of {of}");
                return Err(
                    Error::input(finding).mend(format!("leave it out, or write --stage {of}"))
                );
            }
            Ok(())
        };
        if stage != TypedStage::PartB {
            let is_of_a_well = self.well_mm.is_some() || self.well_over.is_some() || self.fibre_in;
            only(is_of_a_well, "a well or --fibre-in", "part-b")?;
        } else if is_running {
            return Err(Error::input("no clock runs before part A is in")
                .mend("leave --mixed-since-min out, or write --stage test"));
        }
        if stage != TypedStage::Test {
            only(self.drawn_g.0 > 0.0, "--drawn-g", "test")?;
        }
        Ok(match stage {
            TypedStage::PartB => Stage::PartB(self.well(build, read_thickness)),
            TypedStage::Test => Stage::TestPiece {
                drawn: self.drawn_g,
            },
            TypedStage::Part => Stage::Part,
        })
    }

    fn well(&self, build: &Build, read_thickness: Option<Millimetres>) -> Well {
        let mut well = Well::like(build);
        well.is_fibre_in = self.fibre_in;
        if let Some(depth) = self.well_mm.or(read_thickness) {
            well.depth = depth;
        }
        if let Some(name) = &self.well_over {
            well.beneath = Well::on(name);
        }
        well
    }
}
