//! ANSI CGATS.17-2009 and ISO 28178:2009, text for the exchange of colour readings; keywords and field names from
//! memory, for the standards were not to hand.
//!
//! The files in cgats_17/ are written by hand, each in another of the ways that the standards and their writers have:
//! wavelengths beside values or in the names of fields, percent said or unsaid or fractions, tabs or spaces, any line
//! ends, several tables. Each holds subjects 1 and 17 of Cooksey, Allen and Tsai (2017, see cooksey_2017.rs), so that
//! what is read of them can be told. Tested: `read_readings` and, there and back, `Book::cgats`.

use std::path::{Path, PathBuf};

use dropwise::book::{Book, Starter, read_readings};
use dropwise::colour::{Lab, Spectrum, Viewing};
use dropwise::materials::Reading;
use dropwise::optics::Specular;

use super::{assert_agrees, cooksey_2017};

/// Percent with three digits, and fractions with five, say the same to this.
const DIGITS: f64 = 5e-6 + 1e-12;

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/published/cgats_17")
        .join(name)
}

fn read(name: &str) -> Vec<Reading> {
    let path = fixture(name);
    read_readings(&path, Viewing::D65_2).unwrap_or_else(|error| panic!("{error}"))
}

/// The subjects that every file holds.
fn expected() -> [Spectrum; 2] {
    let subjects = cooksey_2017::subjects();
    [1, 17].map(|number| {
        let subject = subjects.iter().find(|subject| subject.number() == number);
        *subject.expect("a subject of the set").reflectance()
    })
}

#[test]
fn one_and_the_same_readings_come_out_of_every_way_to_write_them() {
    for name in [
        "wavelength_pairs.txt",
        "tabs_and_commas.txt",
        "old_line_ends.txt",
    ] {
        let readings = read(name);
        assert_eq!(readings.len(), 2, "{name}");
        for (reading, expected) in readings.iter().zip(expected()) {
            let found = reading.reflectance.expect("a spectrum");
            for (band, (found, expected)) in
                found.values().iter().zip(expected.values()).enumerate()
            {
                let nm = Spectrum::wavelength_nm(band);
                assert_agrees(
                    &format!("{name}, {} at {nm} nm", reading.name),
                    *found,
                    *expected,
                    DIGITS,
                );
            }
        }
    }
}

#[test]
fn names_and_geometry_are_kept() {
    let names =
        |name| -> Vec<String> { read(name).into_iter().map(|reading| reading.name).collect() };
    assert_eq!(
        names("wavelength_pairs.txt"),
        ["subject 1", "subject 17"],
        "in quotes"
    );
    assert_eq!(
        names("tabs_and_commas.txt"),
        ["subject 1", "subject 17"],
        "between tabs"
    );
    assert_eq!(names("old_line_ends.txt"), ["S1", "S17"], "by their id");
    let geometry = read("wavelength_pairs.txt")[0].geometry;
    assert_eq!(geometry.specular, Some(Specular::Included), "di:8");
    let geometry = read("tabs_and_commas.txt")[1].geometry;
    assert_eq!(geometry.specular, Some(Specular::Excluded), "in words");
    assert_eq!(geometry.aperture_mm, Some(8.0), "with its unit");
}

#[test]
fn a_table_of_spectra_and_one_of_lab_stand_in_one_file() {
    let readings = read("two_tables.txt");
    assert_eq!(readings.len(), 2, "both tables");
    assert!(readings[0].reflectance.is_some(), "with its spectrum");
    assert!(readings[1].reflectance.is_none(), "without");
    let subjects = cooksey_2017::subjects();
    for (reading, number) in readings.iter().zip([1, 17]) {
        let (lab, viewing) = reading.lab.expect("a CIELAB");
        assert_eq!(
            viewing,
            Viewing::D65_10,
            "as the head says, and not the caller"
        );
        let subject = subjects.iter().find(|subject| subject.number() == number);
        let [l, a, b] = subject.expect("a subject of the set").published_lab();
        assert_eq!(lab, Lab::new(l, a, b), "to the printed digits");
    }
}

#[test]
fn a_file_that_was_cut_off_anywhere_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    for name in [
        "wavelength_pairs.txt",
        "tabs_and_commas.txt",
        "old_line_ends.txt",
    ] {
        let whole = std::fs::read(fixture(name)).expect(name);
        let end = whole.len() - b"\r\n".len();
        // Every seventh byte, and all of the last line.
        for cut in (0..end - 12).step_by(7).chain(end - 12..end - 1) {
            let file = folder.path().join("cut.txt");
            std::fs::write(&file, &whole[..cut]).expect("written");
            let outcome = read_readings(&file, Viewing::D65_2);
            let error = outcome.expect_err("cut off");
            assert!(error.is_input(), "{name} cut at {cut}: {error}");
        }
    }
}

#[test]
fn the_books_readings_go_there_and_back_to_the_last_digit() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut book = Book::create(&folder.path().join("bench"), Starter::Demo).expect("the demo");
    let mut spectral = book.swatches().expect("a sound log")[0].clone();
    spectral.id = "S \"9\"".to_owned();
    spectral.lab = None;
    spectral.reflectance = Some(expected()[1]);
    book.add_swatch(&spectral).expect("a spectrum");
    let mut both = spectral.clone();
    both.lab = Some(Lab::new(88.123_456_789, -0.1, 1.0 / 3.0));
    both.reflectance = Some(Spectrum::from_fn(|band| 0.70 + band as f64 / 301.0));
    book.add_swatch(&both).expect("both");

    let file = folder.path().join("out.txt");
    let day = "2026-03-14".parse().expect("a day");
    std::fs::write(&file, book.cgats(day).expect("readings")).expect("written");
    let readings = read_readings(&file, Viewing::D65_2).unwrap_or_else(|error| panic!("{error}"));
    let mut swatches: Vec<_> = book.swatches().expect("a sound log").to_vec();
    assert_eq!(readings.len(), swatches.len(), "all of them");
    // The file has those with a spectrum first, then those with both, then the rest.
    swatches.sort_by_key(|swatch| match (&swatch.reflectance, &swatch.lab) {
        (Some(_), None) => 0,
        (Some(_), Some(_)) => 1,
        _ => 2,
    });
    for (reading, swatch) in readings.iter().zip(&swatches) {
        assert_eq!(reading.name, swatch.id, "its name");
        assert_eq!(
            reading.reflectance, swatch.reflectance,
            "its spectrum, to the last digit"
        );
        assert_eq!(
            reading.lab,
            swatch.lab.map(|lab| (lab, Viewing::D65_10)),
            "its colour, to the last digit"
        );
        assert_eq!(
            reading.geometry.specular,
            Some(Specular::Included),
            "as the book says"
        );
    }
}
