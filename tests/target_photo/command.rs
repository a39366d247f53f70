//! The command line on photographs with a chart: what a user types, and what comes back.

use std::path::Path;

use super::cards::skins;
use super::scene::{Shot, Table, values_file};
use super::studio::Studio;

/// What `dropwise` prints for `words`.
fn run(words: &[&str]) -> String {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let words = ["dropwise"].iter().chain(words).map(Into::into);
    let code = dropwise::cli::run(words, &mut out, &mut err);
    assert_eq!(code, 0, "{}", String::from_utf8_lossy(&err));
    assert!(err.is_empty(), "nothing on the error stream");
    String::from_utf8(out).expect("text")
}

fn text(path: &Path) -> &str {
    path.to_str().expect("a plain name")
}

#[test]
fn a_chart_two_regions_and_two_photographs_are_one_command() {
    let studio = Studio::new();
    let values = values_file(&studio);
    let skin = skins()[3].1;
    let shots = [("one.jpg", "D65"), ("two.jpg", "LED-B3")].map(|(name, light)| {
        let shot = Shot::new("reflex", light, 7);
        studio.jpeg(name, &Table::shoot(&shot, &[skin, skin]), None)
    });
    let [a, b, c, d] = Table::CORNERS;
    let chart = [a, b, c, d].map(|[x, y]| format!("{x},{y}")).join(",");
    let (first, second) = (Table::region(0), format!("2:{}", Table::region(1)));
    let words = [
        "target",
        text(&shots[0]),
        text(&shots[1]),
        "--region",
        &first,
        "--region",
        &second,
        "--chart",
        &chart,
        "--chart-values",
        text(&values),
        "--tones",
        "1",
    ];
    // Notes are wrapped.
    let output = run(&words).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(output.contains("a patch left out is told to"), "{output}");
    assert!(output.contains("3 readings averaged"), "{output}");
    let words: Vec<&str> = words.into_iter().chain(["--json"]).collect();
    let json: serde_json::Value = serde_json::from_str(&run(&words)).expect("JSON");
    let charts = json["charts"].as_array().expect("charts");
    assert_eq!(charts.len(), 2, "one a photograph");
    for chart in charts {
        let left_out = chart["leave_one_out_delta_e"].as_f64().expect("a number");
        assert!((0.1..4.0).contains(&left_out), "{left_out} ΔE00");
    }
    assert!(
        json["L_sd"].as_f64().is_some_and(|sd| sd > 0.5),
        "never exact"
    );
}
