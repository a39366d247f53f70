//! What the program is asked to do: one use case a file, a request in and a result out.
//!
//! Jobs know no words of an answer, no flags and no screen: whatever face asks (the command line, a page, another
//! program) gets the same result from the same request. What a job writes, it writes through the [`Book`](crate::book::Book).
//!
//! | job | request → result |
//! |---|---|
//! | [`targeting`] | readings, a swatch of the book → a target |
//! | [`matching`] | a target and a part → cups, poured, with what is to be expected |
//! | [`parts`] | a part that is kept by name → its cups, without a search; kept, replaced, listed |
//! | [`batching`] | a recipe and a size → pots |
//! | [`let_downs`] | jars made, taken from and listed |
//! | [`bottles`] | new pigments, bases and backings → the shelf |
//! | [`stocks`] | stocks made, taken from, listed and taken out |
//! | `boards` | a photograph of chips beside a chart → the log |
//! | [`logging`] | a reading → the log, beside its prediction |
//! | [`finding`] | a colour, a pigment, a day, a part → swatches of the log |
//! | [`mending`] | a swatch that was logged wrong → the log put right |
//! | [`comparing`] | builds, logged swatches → predictions |
//! | [`correcting`] | a casting that came out wrong → what to add, the next cup |
//! | [`moulds`] | moulds → how much skin and foam fills them |
//! | [`nudging`] | a part that is kept, a drop more or less → what would come out |
//! | [`part_cups`] | a part that is kept → what a correction of its cup takes from it |
//! | [`rounding`] | a cup as it is measured out → how far that is off the recipe |
//! | [`scheduling`] | a part that is kept, people and moulds → who mixes what when |
//! | [`left_part_b`] | tinted part B that is left → what a pour can take of it |
//! | [`pouring`] | cups that were poured → what is left of jars, stocks and bottles |
//! | [`plotting`] | a part that is kept → what a picture of it shows |
//! | [`patching`] | a part that is kept, and a reading of its casting → a small cup that repairs it |
//! | [`test_pieces`] | a part that is kept → a test piece of its tinted part B, and what remains |
//! | [`calibrating`] | swatches and weighed drops → curves and drop masses |
//! | [`thinning`] | a long log → the readings to learn from |
//! | [`verdict`] | a matched part → how it stands |
//! | [`planning`] | what is not known → the chips to cast next |

pub mod batching;
#[cfg(feature = "photo")]
pub mod boards;
pub mod bottles;
pub mod calibrating;
pub mod comparing;
pub mod correcting;
pub mod finding;
pub mod left_part_b;
pub mod let_downs;
pub mod logging;
pub mod matching;
pub mod mending;
pub mod moulds;
pub mod nudging;
pub mod part_cups;
pub mod parts;
pub mod patching;
pub mod planning;
pub mod plotting;
pub mod pouring;
pub mod rounding;
pub mod scheduling;
pub mod stock_instead;
pub mod stocks;
pub mod targeting;
pub mod test_pieces;
pub mod thinning;
pub mod verdict;

pub(crate) mod bases;
mod learning;
#[cfg(feature = "photo")]
mod reading_again;
