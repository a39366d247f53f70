//! Sentences and rows of a report one by one, for a face that puts each in a place of its own: the page.

#[cfg(feature = "photo")]
pub(crate) use super::board::board_says;
pub(crate) use super::budget::{best_next_step, name as source_of_doubt, worth_a_word};
pub(crate) use super::cautions::in_a_line as care_in_a_line;
pub(crate) use super::colours::{hex, hides, in_plain_words, in_words, steps};
pub(crate) use super::one_tint::{stirred, what_for};
pub(crate) use super::plan::{landing, tells};
pub(crate) use super::poured::is_fibre;
pub(crate) use super::reach::first_help;
pub(crate) use super::remedy_words::{notes as remedy_notes, says as remedy_says};
pub(crate) use super::screen::{missed, put_on};
pub(crate) use super::standing::says;
pub(crate) use super::text::capital;
