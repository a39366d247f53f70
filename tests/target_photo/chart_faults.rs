//! Charts that can't be used, and what the user is told.

use std::path::{Path, PathBuf};

use dropwise::colour::Viewing;
use dropwise::tone::{Card, Chart, ChartValues, Corners, PhotoRequest};

use super::cards::skins;
use super::charts::chart;
use super::scene::{Shot, Table, values_file};
use super::studio::Studio;
use super::{read, refusal, region, request};

fn shot(studio: &Studio, exposure: f64) -> PathBuf {
    let mut shot = Shot::new("reflex", "D65", 1);
    shot.exposure = exposure;
    let skin = skins()[3].1;
    studio.png("chart.png", &Table::shoot(&shot, &[skin]), None)
}

fn ask(studio: &Studio, path: &Path, corners: [[f64; 2]; 4]) -> PhotoRequest {
    PhotoRequest {
        region: Some(region(&Table::region(0))),
        chart: Some(Chart {
            corners: Some(Corners::new(corners)),
            ..chart(&values_file(studio))
        }),
        ..request(path)
    }
}

#[test]
fn a_turned_chart_is_detected_and_the_right_corners_are_offered() {
    let studio = Studio::new();
    let path = shot(&studio, 0.85);
    let right = Table::CORNERS;
    let given = |order: [usize; 4]| order.map(|corner| right[corner]);
    let offered = Corners::new(right).to_string();
    for order in [[2, 3, 0, 1], [1, 2, 3, 0], [3, 0, 1, 2]] {
        let line = refusal(&ask(&studio, &path, given(order)));
        assert!(line.contains("turned"), "{line}");
        assert!(
            line.contains(&format!("the chart's corners {offered}")),
            "{order:?}: {line}"
        );
    }
    let target = read(&ask(&studio, &path, right), Viewing::D65_10);
    assert_eq!(target.charts.len(), 1, "the chart's report");
    assert!(
        target.charts[0].leave_one_out_delta_e < 3.0,
        "{:?}",
        target.charts
    );
}

#[test]
fn corners_that_cross_or_lie_outside_are_refused() {
    let studio = Studio::new();
    let path = shot(&studio, 0.85);
    let [a, b, c, d] = Table::CORNERS;
    assert!(
        refusal(&ask(&studio, &path, [a, c, b, d])).contains("cross"),
        "crossed"
    );
    assert!(
        refusal(&ask(&studio, &path, [a, d, c, b])).contains("anticlockwise"),
        "turned over"
    );
    let far = [a, [900.0, 10.0], c, d];
    assert!(
        refusal(&ask(&studio, &path, far)).contains("420 wide and 240 high"),
        "outside"
    );
    let small = [[30.0, 30.0], [60.0, 30.0], [60.0, 50.0], [30.0, 50.0]];
    assert!(
        refusal(&ask(&studio, &path, small)).contains("at least 8 by 8"),
        "too small"
    );
    let beside = [[250.0, 20.0], [400.0, 20.0], [400.0, 180.0], [250.0, 180.0]];
    let line = refusal(&ask(&studio, &path, beside));
    assert!(line.contains("corners"), "no chart there: {line}");
}

#[test]
fn a_burnt_out_chart_is_refused_and_single_clipped_patches_are_named() {
    let studio = Studio::new();
    let line = refusal(&ask(&studio, &shot(&studio, 60.0), Table::CORNERS));
    assert!(
        line.contains("clipped") && line.contains("less exposure"),
        "{line}"
    );
    // A third of a stop over: the white patch and the strongest colours burn out.
    let target = read(
        &ask(&studio, &shot(&studio, 1.25), Table::CORNERS),
        Viewing::D65_10,
    );
    let left_out = &target.charts[0].left_out;
    let white = left_out
        .iter()
        .find(|patch| (patch.row, patch.column) == (4, 1));
    assert_eq!(
        white.map(|patch| patch.because.as_str()),
        Some("clipped"),
        "{left_out:?}"
    );
    assert!(
        target
            .notes
            .iter()
            .any(|note| note.contains("row 4 column 1 (clipped)")),
        "{:?}",
        target.notes
    );
}

#[test]
fn the_values_of_another_chart_are_refused() {
    let studio = Studio::new();
    let path = shot(&studio, 0.85);
    let mut other = ask(&studio, &path, Table::CORNERS);
    other.chart = Some(Chart {
        corners: Some(Corners::new(Table::CORNERS)),
        values: ChartValues::named_or_read(ChartValues::PUBLISHED).expect("a set"),
    });
    let line = refusal(&other);
    assert!(line.contains("values"), "{line}");
}

#[test]
fn a_card_beside_a_chart_is_one_too_many() {
    let studio = Studio::new();
    let path = shot(&studio, 0.85);
    let both = PhotoRequest {
        card: Some((Some(region(Table::CARD)), Card::GREY)),
        ..ask(&studio, &path, Table::CORNERS)
    };
    assert!(refusal(&both).contains("both a card and a chart"), "both");
}
