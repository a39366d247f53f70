//! dropwise turns a skin tone (a reference photo, a colour reading, an earlier part) into cups for a maker who
//! casts realistic body parts. It says how many drops of which pigment go into how many grams of translucent
//! urethane skin, of flexible foam behind it, and of clear paint over it. It predicts what comes out of the mould,
//! with its colour difference, translucency and uncertainty, keeps a book of what did come out, scales a recipe to
//! any batch, and says when it can't know.
//!
//! # The job, in types
//!
//! ```
//! use dropwise::book::Book;
//! use dropwise::colour::{Lab, Viewing};
//! use dropwise::materials::Grams;
//! use dropwise::recipe::Order;
//! use dropwise::tone::Target;
//!
//! let book = Book::demo()?;
//! let target = Target::from_lab(Lab::new(66.0, 11.3, 13.4), Viewing::D65_10)?;
//! let part = Order::skin(book.shelf(), "clear skin", Grams(600.0))
//!     .holding("fibre 12 g".parse()?)
//!     .over_foam("flexible foam", Grams(300.0))
//!     .search(&target)?;
//! let skin = part.skin.best();
//! println!("{} comes out at ΔE00 {:.2}", skin.poured.mix, skin.delta_e);
//! # assert!(skin.delta_e < 0.75);
//! # Ok::<(), dropwise::Error>(())
//! ```
//!
//! [`jobs`] has the same for whole use cases, with pots, let-downs and a log; `examples/from_a_program.rs` goes through all.
//!
//! # The house
//!
//! | room | what it is for |
//! |---|---|
//! | [`colour`] | spectra, observers, lights, CIELAB, ΔE00, the skin angle |
//! | [`optics`] | a layer, layers on layers, the air surface, foam |
//! | [`materials`] | pigments, bases, mixes, cups, castings, swatches |
//! | [`tone`] | the tone to match, from a photograph or a reading |
//! | [`characterise`] | what swatches tell of the materials, and which to cast next |
//! | [`forecast`] | what comes out of the mould, how surely, and what would tell more |
//! | [`search`] | whole drops for one cup, and the proof that none are nearer |
//! | [`recipe`] | the cups of a part, and what to change when one came out wrong |
//! | [`batch`] | masses of A and B, drops or grams, pots, the clock |
//! | [`book`] | the swatch book: a folder of plain files |
//! | [`jobs`] | one use case a file: what every face calls |
//! | [`report`] | terminal, JSON, the mix sheet |
//! | `page` | the local page |
//! | [`cli`] | the `dropwise` command |
//!
//! A room imports those above it, never those below; DEVELOPERS.md has the exact table, and a test checks it.
//!
//! # Units and conventions
//!
//! Wavelengths are in nm, from 380 to 730 by 10. K and S are in mm⁻¹ for a mix, and in mm⁻¹ per unit mass
//! fraction for a pigment dispersion as it leaves the bottle. Thicknesses are in mm, masses in g, reflectances
//! from 0 to 1. CIELAB is for the light and observer of the swatch book, D65 and 10° unless it says otherwise.
//!
//! # Simplifications
//!
//! Light is followed along five directions and a beam ([`optics::Transport`]), through smooth surfaces and layers
//! of one refractive index; nothing is lost at the edge of an aperture. Foam is a first guess that no
//! measured foam has checked. The starter pigments are computed or generic, not measured; their spread says so.
//! A recipe that is proven best is the best of what the layer model predicts. Spreads are first order.
//!
//! # Out of scope
//!
//! Gloss, texture and veins; fluorescence; how a colour ages; anything worn on a body. The library never prints
//! and never fetches. Safety sheets, local codes and licensed practice stand above every number here.
//!
//! # Features
//!
//! `photo` reads photographs (on by default); `page` writes HTML and serves the local page (on by default). Without them the
//! core builds with no image and no web crate.

pub mod batch;
pub mod book;
pub mod characterise;
pub mod cli;
pub mod colour;
mod error;
pub mod forecast;
pub mod jobs;
pub mod materials;
pub mod optics;
#[cfg(feature = "page")]
pub mod page;
pub mod recipe;
pub mod report;
pub mod search;
pub mod tone;

pub use error::{Error, Mend, Naming, Result, Setting};
/// A day, as swatches and jars are dated.
pub use jiff::civil::Date;
