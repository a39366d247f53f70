//! What to put into the cups of a part.
//!
//! [`Order`] asks for a part from one target: skin over a backing, or over foam that is tinted first, and paint over
//! both. The part is worked out cup after cup (the foam, the skin over it, the paints), and the time is shared between
//! them. For each cup the search is asked, and of each recipe that it finds, what comes out is told. [`Correction`]
//! says what to do about a cup that came out otherwise.
//!
//! # The foam
//!
//! Pigment in foam gives less chroma than in the skin, because foam's own scattering is white. So the foam is aimed at
//! the tone first. Where no skin over it passes, it is aimed at L* + 4, + 8, + 12, and a lighter one is kept if the
//! skin gains by it.
//!
//! # How near is near enough
//!
//! Cups are solved foam, skin, paint, and each is the least effort given those before; of the part as a whole that is not
//! claimed. A skin or a paint may be farther from its aim than the nearest recipe by what is not seen and not known; a
//! foam need only keep its tolerance, since the skin over it makes up for the rest. Tolerance counts before the window of
//! the contrast ratio (`see_through`), and that before effort.
//!
//! # One stock for skin and foam
//!
//! Dispersions stirred together in fixed proportion are a dispersion: K and S add by mass, a drop weighs the mean of
//! its pigments', and the load is limited by whichever pigment is first at its limit. So [`OneTint`] puts the stock as
//! a pigment on a copy of the shelf, bans all else but white, and asks the same proven search. What is not known of its
//! pigments moves the stock by their shares of it ([`Stock`](crate::materials::Stock)).
//!
//! The stock is let down, where a drop is too coarse, into the base of the cup that it goes into, so that no foam gets
//! a skin's part B. Its proportion is that of the skin's own recipe, sought again over the foam that the stock gave
//! (three rounds at most, the best kept): there a fixed proportion costs least, since it is the skin that is looked at.
//! Logs and JSON spell a stock that is yet to be made out in grams of its pigments, since the book knows no other; one that
//! stands on the shelf is called by its name.
//!
//! # A correction
//!
//! *What it learns.* The book is fitted to this reading and all that it has logged, as a calibration would, so that
//! every correction counts at once and a second one doesn't undo the first. Where the swatches of an earlier
//! calibration are no longer in the book, that would forget them: there the calibration is updated by an iterated
//! Kalman step of this reading alone (Bell and Cathey, 1993). The drops as they seem to have come out go into the cup
//! on the bench; the thickness goes into neither answer.
//!
//! *How long it takes.* One limit of time is for all its searches. A third is for the cup on the bench, which can't
//! wait. What is left of two thirds, and then of the whole, is for the next cup of the same pigments and of any. A stop
//! ends the search that runs, and those after it with their first good answers. Learning from swatches comes before
//! that, is no search, and isn't counted.
//!
//! *Part B.* Pigment goes into part B, and no clock runs until part A is in. So the tinted part B is the best place to read: a
//! well of it holds every pigment at (A + B) / B times its strength in the cup. K and S of part B are taken to be those of
//! the mixed base. What the reading tells of drops and curves is carried into the finished cup, part A and fibre included,
//! and the drops are searched there. A reading of a liquid is no casting, and is not logged.
//!
//! *By eye.* Words are steps with a spread half as wide (this project's own choice), and are weighed against what the book
//! knows as a reading is: a calibrated book trusts itself more than the eye.
//!
//! *Contrast.* A tone can be met by a skin that hides more, so the contrast ratio is held within 0.1 of what was poured, for
//! both cups (this project's own choice), or within the window of [`Limits`](crate::search::Limits) where there is one. A cup
//! on the bench that can't keep to it gets nothing. Where no cup within the window passes, what could be had without it is
//! told in numbers, and its drops only where the contrast ratio is let go: white or fibre is often the only way to a lighter
//! tone, but that is for the maker to say.
//!
//! *Let-downs for the cup on the bench.* There is no time to make one, so a jar of the book must hold as many drops as
//! may be added. One that went into the cup and that the book does not keep is taken to stand beside it still.
//!
//! *Drops of the next cup.* It may take as many as this one would hold with all that may be added, where that is more
//! than the usual 40 of one and 60 in all. A cup that wants twelve drops more must not be answered by one that may not
//! have them.

mod bench_cup;
mod checks;
mod correction;
mod evaluator;
mod filling;
mod foam;
mod goal;
mod held;
mod kept;
mod kept_part;
mod more_fibre;
mod one_tint;
mod order;
mod part;
mod prospects;
mod reach;
mod request;
mod see_through;
mod stock_plan;

pub use bench_cup::{BenchCup, BenchFate};
pub use correction::{Correction, Evidence, Looks, Remedy, Stage, Unheld, Well};
pub use evaluator::Evaluator;
pub use kept_part::{Deed, Event, KeptCup, KeptLayer, KeptRecipe, KeptStock, Part, SearchedCup};
pub use more_fibre::MoreFibre;
pub use one_tint::{Cost, OneTint};
pub use order::{Order, OrderedCup, OrderedUnderlay, PAINTED_TONES};
pub use part::{Choice, CupRecipe, PartRecipe};
pub use prospects::{Foaming, Prospects};
pub use reach::{Helper, MoreDrops, Reach};
pub use request::{Beneath, Request, WantedCup};
pub use see_through::VEIL;
pub use stock_plan::{NextStock, PlannedTone, STOCK_COUNTS, StockPlan};
