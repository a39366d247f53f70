//! Checks against published standards, tables and data: one source a file, its numbers in a CSV file of the
//! same stem. README.md lists the sources, what is left out, and each difference.

mod astm_e308;
mod cgats_17;
mod chardon_1991;
mod cie_015;
mod colour_science;
mod cooksey_2017;
mod giovanelli_1955;
mod iadpython;
mod kubelka_1948;
mod kubelka_1954;
mod saunderson_1942;
mod sharma_2005;
mod van_de_hulst_1980;

use dropwise::optics::Depths;

/// The rows of a CSV table with a header; lines that begin with `#` are remarks.
fn rows<Row: serde::de::DeserializeOwned>(table: &str) -> Vec<Row> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(table.as_bytes())
        .deserialize()
        .collect::<Result<_, _>>()
        .expect("the table lies beside this file and is well formed")
}

/// Fails, naming `what`, where `found` lies further than `tolerance` from `published`.
#[track_caller]
fn assert_agrees(what: &str, found: f64, published: f64, tolerance: f64) {
    assert!(
        approx::abs_diff_eq!(found, published, epsilon = tolerance),
        "{what}: found {found}, published {published}, tolerance {tolerance}"
    );
}

/// The depths of a slab by the words of radiative transfer: its optical thickness, and the albedo and asymmetry of
/// what is in it.
fn depths(optical_thickness: f64, albedo: f64, asymmetry: f64) -> Depths {
    Depths {
        absorption: optical_thickness * (1.0 - albedo),
        scattering: optical_thickness * albedo * (1.0 - asymmetry),
    }
}
