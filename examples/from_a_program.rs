//! The whole job from a program: a match, a logged casting, a calibration and a correction, in a book of its own.
//!
//! `cargo run --release --example from_a_program` works in a folder that it makes and takes away again. The demo's materials
//! and the readings here are invented.

#![expect(clippy::print_stdout, reason = "the program prints its results")]

use dropwise::book::{Book, Starter};
use dropwise::colour::{Lab, Viewing};
use dropwise::jobs::{calibrating, correcting, logging};
use dropwise::materials::{Grams, Swatch};
use dropwise::recipe::Order;
use dropwise::tone::Target;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = tempfile::tempdir()?;
    let mut book = Book::create(&folder.path().join("bench"), Starter::Demo)?;
    let day = dropwise::Date::new(2026, 3, 14)?;

    // From a tone to cups: a skin with fibre, and the foam behind it.
    let target = Target::from_lab(Lab::new(66.0, 11.3, 13.4), Viewing::D65_10)?;
    let part = Order::skin(book.shelf(), "clear skin", Grams(600.0))
        .holding("fibre 12 g".parse()?)
        .over_foam("flexible foam", Grams(300.0))
        .search(&target)?;
    let skin = part.skin.best();
    println!("skin: {} (ΔE00 {:.2})", skin.poured.mix, skin.delta_e);
    if let Some(foam) = &part.foam {
        println!("foam: {}", foam.best().poured.mix);
    }

    // It comes out of the mould a little darker and redder than was aimed at: into the log.
    let measured = Lab::new(64.2, 12.6, 13.5);
    let casting = Swatch::of(part.build.clone(), measured, day);
    for warning in logging::run(&mut book, &casting, None, None)? {
        println!("doubtful: {warning}");
    }

    // The book learns from it, as from all that it has.
    let request = calibrating::Request::on(day);
    let calibrated = calibrating::run(&mut book, &request, &mut |_| {})?;
    if let Some(found) = calibrated.found {
        println!("learnt from {} readings", found.judged.len());
    }

    // What would have mended that cup, and what to pour next.
    let request = correcting::Request::new(part.build, measured, day);
    let corrected = correcting::run(&mut book, &target, &request, &mut |_| {})?;
    for (colorant, drops) in &corrected.remedy.add {
        println!("add {drops} of {colorant}");
    }
    let next = corrected.remedy.next.best();
    println!("next: {} (ΔE00 {:.2})", next.poured.mix, next.delta_e);
    Ok(())
}
