//! The local page: the same jobs as the command line's, by touch, at the sink and with gloves on.
//!
//! # Why HTML from here, and little script?
//!
//! What a screen says comes from a job and from `report`, so that page and terminal cannot tell two stories. A script does
//! only what must work while nobody answers: it counts drops, runs the clock, draws boxes on a photograph. All of a pour is in
//! one document, and what was counted stays in the browser, so that no tap is lost because the machine slept.
//!
//! # What may ask?
//!
//! This machine alone, unless its keeper opens the page to their network. A page of any other origin can't ask for anything:
//! `guard` looks at `Host`, `Origin` and the key before a route is chosen. Bodies are read whole, within a limit and a time,
//! before a handler runs; jobs run in a `pool` of few threads, each with an end to its waiting.
//!
//! # What is kept, and where?
//!
//! In the book, through its lock, as from the command line. A form carries the [`revision`](crate::book::Book::revision) of the
//! book that it was drawn of: where that is another by now, which is looked at under the lock, the page says so and changes nothing.
//! A browser keeps screens that were open (`files/worker.js`), to show them again while nobody answers; never an address with a
//! key, and nothing once the key that opened them is no longer good.

mod answer;
mod assets;
#[cfg(feature = "photo")]
mod board;
mod body;
#[cfg(feature = "photo")]
mod chip;
mod clocks;
mod compare;
mod doors;
mod fields;
mod frame;
mod guard;
mod how;
mod jars;
mod key;
mod listen;
mod next;
#[cfg(feature = "photo")]
mod photo;
mod picture;
#[cfg(feature = "photo")]
mod pictures;
mod pool;
mod pour;
mod routes;
mod state;
mod steps;
mod today;
mod tone;
mod why;
mod words;

pub use doors::Doors;
pub use key::Key;
pub use listen::{Listening, serve};
pub use picture::picture;
pub use routes::app;
pub use state::Settings;
