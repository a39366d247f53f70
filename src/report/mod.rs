//! What people and programs read: text for a terminal, JSON, and the mix sheet.
//!
//! Every function returns text; printing and writing are the caller's. From the bottom up: helpers of wording
//! (`text`, `numbers`, `colours`, `document`); one file a subject, with its text and its JSON side by side; and on top of
//! them the mix sheet, which words nothing anew. What a face adds to a job's result stands apart (`part_report`, `corrected`).
//!
//! Numbers are rounded here and nowhere below: a text shows what a maker can use, JSON has all digits. Texts are 80 columns
//! wide, with colours and patches of colour as terminals know them; whoever prints takes these out where they are not
//! wanted. Names that a user typed are shown with control characters escaped. JSON documents have snake_case keys that end
//! in their unit (`thickness_mm`), but for L, a and b, which keep their own letters; what is not there is left out, and
//! what is not known is `null`.

pub mod batch;
#[cfg(feature = "photo")]
pub mod board;
#[cfg(feature = "page")]
pub mod board_sheet;
mod bottles;
mod budget;
pub mod calibration;
mod cautions;
mod colours;
mod corrected;
mod cup;
mod document;
pub mod drift;
pub mod fault;
mod foams;
pub mod found;
pub mod left;
pub mod let_downs;
mod lights;
mod lots;
pub mod moulds;
mod numbers;
mod one_tint;
pub mod part;
mod part_report;
pub mod parts;
#[cfg(feature = "page")]
pub(crate) mod pieces;
pub mod plan;
pub mod planned_stocks;
#[cfg(feature = "page")]
pub mod plot;
mod poured;
pub mod predictions;
mod prospects;
mod reach;
pub mod remedy;
mod remedy_json;
mod remedy_words;
pub mod schedule;
mod screen;
#[cfg(feature = "page")]
pub mod sheet;
pub mod shelf;
mod standing;
pub mod stocks;
pub mod swatches;
pub mod target;
pub mod test_piece;
mod text;
#[cfg(feature = "page")]
mod tone_map;

pub use cautions::{Caution, cautions};
pub use corrected::RemedyReport;
pub use part_report::{NextCommands, PartReport};
