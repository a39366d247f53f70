//! Two portraits that are in the public domain, where the machine has them.

use std::path::Path;

use dropwise::colour::Viewing;
use dropwise::tone::PhotoRequest;

use super::{read, region, request};

/// Names the folder that holds the portraits.
const FOLDER: &str = "DROPWISE_PORTRAITS";

#[test]
fn portraits_without_a_card_are_read_and_said_to_be_uncorrected() {
    let Some(folder) = std::env::var_os(FOLDER) else {
        println!("skipped: {FOLDER} does not name a folder of portraits");
        return;
    };
    // Cheeks; the people in the pictures can be known.
    for (name, cheek) in [
        ("portrait_astronaut.png", "186,112,20,20"),
        ("portrait_officer.jpg", "300,235,35,30"),
    ] {
        let path = Path::new(&folder).join(name);
        let ask = PhotoRequest {
            region: Some(region(cheek)),
            ..request(&path)
        };
        let target = read(&ask, Viewing::D65_10);
        println!(
            "{name}: {:?} ± {:?}; {:?}",
            target.lab, target.spread, target.notes
        );
        let first = &target.notes[0];
        assert!(first.starts_with("uncorrected"), "{:?}", target.notes);
        assert!((25.0..90.0).contains(&target.lab.l), "skin's lightness");
        assert!(target.lab.a > 0.0 && target.lab.b > 0.0, "skin's hue");

        let whole = read(&request(&path), Viewing::D65_10);
        let first = &whole.notes[0];
        assert!(
            first.contains("no colour of measured skin"),
            "{:?}",
            whole.notes
        );
        assert!(first.contains("name the region"), "{first}");
    }
}
