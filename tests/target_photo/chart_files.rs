//! Files of chart values as they come with charts: CGATS with patches named by letter and number.

use dropwise::book::read_chart_values;
use dropwise::colour::{Illuminant, Observer, Viewing, delta_e_2000};
use dropwise::tone::{Chart, Corners, PhotoRequest};

use super::cards::skins;
use super::read;
use super::scene::{Shot, Table, patches, values_file};
use super::studio::Studio;

/// A CGATS file of the chart's spectra, named by `name` of row and column, from 0.
fn cgats(name: impl Fn(usize, usize) -> String) -> String {
    let weights = Viewing {
        illuminant: Illuminant::D50,
        observer: Observer::Cie1931,
    }
    .weights();
    let mut text = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n".to_owned();
    for (index, patch) in patches().iter().enumerate() {
        let lab = weights.lab(patch);
        let name = name(index / 6, index % 6);
        text += &format!(
            "{} {name} {:.2} {:.2} {:.2}\n",
            index + 1,
            lab.l,
            lab.a,
            lab.b
        );
    }
    text + "END_DATA\n"
}

const LETTERS: [&str; 6] = ["A", "B", "C", "D", "E", "F"];

#[test]
fn letters_are_rows_or_columns_as_the_photograph_shows() {
    let studio = Studio::new();
    let skin = skins()[3].1;
    let shot = Shot::new("reflex", "D65", 5);
    let photo = studio.png("chart.png", &Table::shoot(&shot, &[skin]), None);
    let request = |values: &std::path::Path, corners: Option<Corners>| PhotoRequest {
        region: Some(Table::region(0).parse().expect("a region")),
        chart: Some(Chart {
            corners,
            values: read_chart_values(values.to_str().expect("a name")).expect("values"),
        }),
        tones: 1,
        ..PhotoRequest::new(&photo)
    };
    let given = Some(Corners::new(Table::CORNERS));
    let plain = read(&request(&values_file(&studio), given), Viewing::D65_10);
    let of_columns = cgats(|row, column| format!("{}{}", LETTERS[column], row + 1));
    let of_rows = cgats(|row, column| format!("{}{}", LETTERS[row], column + 1));
    for (name, text) in [("columns.txt", of_columns), ("rows.txt", of_rows)] {
        let file = studio.file(name, text.as_bytes());
        let by_corners = read(&request(&file, given), Viewing::D65_10);
        let apart = delta_e_2000(by_corners.lab, plain.lab);
        assert!(
            apart < 1e-6,
            "{name}: {apart} ΔE00 from the same values in CSV"
        );
        let found = read(&request(&file, None), Viewing::D65_10);
        let apart = delta_e_2000(found.lab, plain.lab);
        assert!(apart < 0.5, "{name}: {apart} ΔE00 where it was looked for");
    }
}
