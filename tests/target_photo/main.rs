//! From picture files to targets: profiles, orientation, cards, tones, and what is refused.
//!
//! The pictures are made here. Reference values come from outside: CIELAB through ICC profiles from
//! littleCMS 2.14 (`transicc -i PROFILE -o '*Lab' -t 1 -n`, general-purpose, MIT), skin reflectances from the
//! reference data set of NIST, sRGB from IEC 61966-2-1:1999.
#![cfg(feature = "photo")]
#![expect(
    clippy::print_stdout,
    clippy::cast_possible_truncation,
    reason = "a check that is skipped says so; the pictures are small, their samples in range"
)]

mod boards;
mod cards;
mod chart_faults;
mod chart_files;
mod charts;
mod colours;
mod command;
mod damage;
mod finding;
mod noise;
mod portraits;
mod refusals;
mod scene;
mod several;
mod studio;
mod tones;

use std::path::Path;

use dropwise::colour::Viewing;
use dropwise::tone::{PhotoRequest, Region, Target};

fn request(path: &Path) -> PhotoRequest {
    PhotoRequest::new(path)
}

fn one_tone(path: &Path) -> PhotoRequest {
    PhotoRequest {
        tones: 1,
        ..request(path)
    }
}

fn region(text: &str) -> Region {
    text.parse().expect("X,Y,W,H")
}

fn read(request: &PhotoRequest, viewing: Viewing) -> Target {
    Target::from_photo(request, viewing).unwrap_or_else(|error| panic!("{error}"))
}

/// The line of the input error that reading `request` ends in.
fn refusal(request: &PhotoRequest) -> String {
    let error = Target::from_photo(request, Viewing::D65_10).expect_err("refused");
    assert!(error.is_input(), "the user can mend it: {error}");
    let line = error.to_string();
    let name = request.path.file_name().and_then(|name| name.to_str());
    assert!(
        line.contains(name.expect("a name")),
        "names the file: {line}"
    );
    assert!(line.ends_with(')'), "says what to do: {line}");
    line
}
