//! Who mixes what when: so many pieces of a part, on so many moulds, by so many people.
//!
//! A pot life takes a pair of hands whole, and nothing else of theirs may lie in it. The foam goes in when the skin has gelled and
//! before it has cured; a mould is taken from its first skin until its piece is out. Each piece begins as early as lets all of that
//! be, one after the other: none is put off for one that begins later.
//!
//! What follows what is common practice, no source; minutes are the book's, which are the maker's sheets'.

use super::{Pour, Stage};
use crate::error::{Error, Result};

/// What is made, and with what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    /// How many pieces.
    pub pieces: u32,
    /// How many moulds of it.
    pub moulds: u32,
    /// How many people.
    pub people: u32,
    /// Whether thin spots of the foam are filled by a second small pour.
    pub second_foam: bool,
    /// Minutes within which all must be done; without end where `None`.
    pub within_min: Option<f64>,
    /// Temperature of the room, °C.
    pub room_c: f64,
}

impl Shift {
    /// The temperature that makers' sheets commonly give their minutes for, °C. Common practice, no source.
    pub const SHEET_C: f64 = 23.0;
    /// The range of a room's temperature, °C.
    pub const ROOM_C: (f64, f64) = (10.0, 40.0);
    /// Most pieces, moulds or people.
    pub const MOST: u32 = 100;

    /// By what the minutes of a sheet are multiplied: ten degrees warmer, half as long. A rule of thumb for reactions at large: J. H.
    /// van 't Hoff (1884), Études de dynamique chimique; a sheet's own table comes first.
    pub fn slowness(&self) -> f64 {
        0.5_f64.powf((self.room_c - Self::SHEET_C) / 10.0)
    }
}

/// What hands do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Skin is mixed and brushed into the mould.
    Skin,
    /// Foam is mixed and poured behind the skin.
    Foam,
    /// A little more foam fills its thin spots.
    SecondFoam,
    /// The piece is taken out of the mould, and the mould made ready.
    Demould,
    /// The piece is painted.
    Paint,
}

/// Something that one person does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Task {
    /// Of which piece, from 1.
    pub piece: u32,
    /// On which mould, from 1.
    pub mould: u32,
    /// By whom, from 1.
    pub person: u32,
    /// What.
    pub step: Step,
    /// Minutes from the beginning of all until it begins, and until it is done.
    pub minutes: (f64, f64),
}

/// All that is done, in the order in which it begins.
#[derive(Clone, Debug, PartialEq)]
pub struct Schedule {
    /// What is made, and with what.
    pub shift: Shift,
    /// Who does what.
    pub tasks: Vec<Task>,
}

/// Minutes that it takes to open a mould and make it ready for the next piece. Our own choice, no source.
const DEMOULD_MIN: f64 = 5.0;

/// Minutes that it takes to paint a piece with one cup. Our own choice, no source.
const PAINT_MIN: f64 = 15.0;

/// Pieces begin on whole multiples of this, minutes.
const GRID_MIN: f64 = 0.5;

/// Past this nothing is sought, minutes: a fortnight.
const HORIZON_MIN: f64 = 20_160.0;

/// The minutes of a part's cups, for one piece.
struct Times {
    skin: Cup,
    foam: Option<Cup>,
    paint_min: f64,
}

/// The minutes of one cup.
struct Cup {
    /// All its pots, one after the other.
    hands_min: f64,
    /// From the end of that until it gels, and until it may leave the mould: the last pot was mixed a pot life before.
    gels_min: f64,
    opens_min: f64,
}

impl Cup {
    fn of(pour: &Pour, slowness: f64) -> Result<Self> {
        let known = |stage, column: &str| {
            pour.minutes_until(stage).ok_or_else(|| {
                let finding = format!("`{}` has no {column}", pour.base.escape_debug());
                Error::input(finding).mend(
                    "write it into bases.csv by the maker's sheet: without it nobody knows what may follow when",
                )
            })
        };
        let pot_life = known(Stage::UsedUp, "pot_life_min")? * slowness;
        let gels = known(Stage::Gelled, "gel_min")? * slowness;
        let opens = known(Stage::Open, "demold_min")? * slowness;
        Ok(Self {
            hands_min: pot_life * f64::from(pour.pots),
            gels_min: (gels - pot_life).max(0.0),
            opens_min: (opens - pot_life).max(0.0),
        })
    }
}

/// Who does what in `shift`, for pieces of one `skin`, the `foam` behind it if it has one, and so many cups of paint.
///
/// # Errors
/// Times that the book does not know; a foam that finds no hands between the skin's gelling and its curing, or a shift that is over
/// too soon: the step is named.
pub fn schedule(skin: &Pour, foam: Option<&Pour>, paints: u32, shift: Shift) -> Result<Schedule> {
    let slowness = shift.slowness();
    let times = Times {
        skin: Cup::of(skin, slowness)?,
        foam: foam.map(|foam| Cup::of(foam, slowness)).transpose()?,
        paint_min: PAINT_MIN * f64::from(paints),
    };
    let mut hands = Hands {
        busy: (1..=shift.people)
            .map(|person| (person, Vec::new()))
            .collect(),
    };
    let mut moulds: Vec<(u32, f64)> = (1..=shift.moulds).map(|mould| (mould, 0.0)).collect();
    let mut tasks = Vec::new();
    for piece in 1..=shift.pieces {
        let free = moulds
            .iter_mut()
            .min_by(|one, other| one.1.total_cmp(&other.1));
        let (mould, free_from) = free.expect("a shift has a mould");
        let mut begin = (*free_from / GRID_MIN).ceil() * GRID_MIN;
        let done = loop {
            let mut tried = hands.clone();
            match tried.make(&times, shift.second_foam, begin) {
                Ok(done) => {
                    hands = tried;
                    break done;
                }
                Err(step) if begin > HORIZON_MIN => return Err(unmet(step, piece)),
                Err(_) => begin += GRID_MIN,
            }
        };
        let out = done.iter().find(|done| done.1 == Step::Demould);
        *free_from = out.expect("every piece leaves its mould").2.1;
        tasks.extend(done.into_iter().map(|(person, step, minutes)| Task {
            piece,
            mould: *mould,
            person,
            step,
            minutes,
        }));
    }
    tasks.sort_by(|one: &Task, other| {
        let order = one.minutes.0.total_cmp(&other.minutes.0);
        order.then(one.person.cmp(&other.person))
    });
    let schedule = Schedule { shift, tasks };
    schedule.check_in_time()?;
    Ok(schedule)
}

impl Schedule {
    /// Minutes from the beginning until all is done.
    pub fn ends_min(&self) -> f64 {
        let ends = self.tasks.iter().map(|task| task.minutes.1);
        ends.fold(0.0, f64::max)
    }

    fn check_in_time(&self) -> Result<()> {
        let Some(within) = self.shift.within_min else {
            return Ok(());
        };
        let late = self.tasks.iter().find(|task| task.minutes.1 > within);
        let Some(late) = late else {
            return Ok(());
        };
        let finding = format!(
            "the {} of piece {} ends {:.0} min after the beginning, and all of it {:.0} min; {within:.0} were given",
            late.step,
            late.piece,
            late.minutes.1,
            self.ends_min()
        );
        Err(Error::input(finding).mend("make fewer pieces, or take more moulds, people or time"))
    }
}

impl std::fmt::Display for Step {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Skin => "skin",
            Self::Foam => "foam",
            Self::SecondFoam => "second foam",
            Self::Demould => "demould",
            Self::Paint => "paint",
        })
    }
}

fn unmet(step: Step, piece: u32) -> Error {
    let finding = format!(
        "the {step} of piece {piece} finds no free hands between gelling and curing of what it goes behind"
    );
    Error::input(finding).mend("take another person, or check gel_min and demold_min in bases.csv")
}

/// What each person is busy with.
#[derive(Clone)]
struct Hands {
    /// Who, and from when until when, minutes, in no order.
    busy: Vec<(u32, Vec<(f64, f64)>)>,
}

/// Who does what from when until when.
type Done = (u32, Step, (f64, f64));

impl Hands {
    /// One piece of which the skin begins at `begin`, each step as soon as it may and a person is free.
    ///
    /// # Errors
    /// The step that finds nobody in time.
    fn make(
        &mut self,
        times: &Times,
        second_foam: bool,
        begin: f64,
    ) -> std::result::Result<Vec<Done>, Step> {
        let mut done = Vec::new();
        let skin = &times.skin;
        let brushed = self.take(Step::Skin, (begin, begin), skin.hands_min, &mut done)?;
        let mut opens = brushed + skin.opens_min;
        if let Some(foam) = &times.foam {
            let window = (brushed + skin.gels_min, opens);
            let poured = self.take(Step::Foam, window, foam.hands_min, &mut done)?;
            let mut set = poured + foam.opens_min;
            if second_foam {
                let window = (poured + foam.gels_min, set);
                let poured = self.take(Step::SecondFoam, window, foam.hands_min, &mut done)?;
                set = poured + foam.opens_min;
            }
            opens = opens.max(set);
        }
        let out = self.take(
            Step::Demould,
            (opens, f64::INFINITY),
            DEMOULD_MIN,
            &mut done,
        )?;
        if times.paint_min > 0.0 {
            self.take(
                Step::Paint,
                (out, f64::INFINITY),
                times.paint_min,
                &mut done,
            )?;
        }
        Ok(done)
    }

    /// Gives `step`, which takes `length` and begins within `window`, to whoever is free first, and returns when it is done.
    fn take(
        &mut self,
        step: Step,
        (from, until): (f64, f64),
        length: f64,
        done: &mut Vec<Done>,
    ) -> std::result::Result<f64, Step> {
        let people = self.busy.iter_mut();
        let starts = people.map(|person| (first_gap(&person.1, from, length), person));
        let first = starts.min_by(|one, other| one.0.total_cmp(&other.0));
        let (start, (person, busy)) = first.expect("a shift has a person");
        if start > until {
            return Err(step);
        }
        let minutes = (start, start + length);
        busy.push(minutes);
        done.push((*person, step, minutes));
        Ok(minutes.1)
    }
}

/// The first moment from `from` on at which someone `busy` is free for `length`.
fn first_gap(busy: &[(f64, f64)], from: f64, length: f64) -> f64 {
    /// What rounding may take from a gap, minutes.
    const SLACK: f64 = 1e-9;
    let is_free = |start: f64| {
        let mut busy = busy.iter();
        busy.all(|(begin, end)| start + length <= begin + SLACK || start >= end - SLACK)
    };
    let ends = busy.iter().map(|(_, end)| *end).filter(|end| *end > from);
    let starts = std::iter::once(from)
        .chain(ends)
        .filter(|start| is_free(*start));
    starts
        .min_by(f64::total_cmp)
        .expect("after all else they are free")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::{Scale, pour};
    use crate::materials::fixtures::shelf;
    use crate::materials::{Cup as Filled, Grams, Poured, Shelf};

    const SHIFT: Shift = Shift {
        pieces: 1,
        moulds: 1,
        people: 1,
        second_foam: false,
        within_min: None,
        room_c: Shift::SHEET_C,
    };

    /// Skin of 4, 7 and 60 minutes, foam of 1.5, 3 and 45: usable until, gelled, open.
    fn bench() -> Shelf {
        let mut shelf = shelf();
        for (name, minutes) in [("skin", [4.0, 7.0, 60.0]), ("foam", [1.5, 3.0, 45.0])] {
            let mut bases = shelf.bases.iter_mut();
            let base = bases.find(|base| base.name == name).expect(name);
            base.pot_life_min = Some(minutes[0]);
            base.gel_min = Some(minutes[1]);
            base.demold_min = Some(minutes[2]);
        }
        shelf
    }

    fn poured(shelf: &Shelf, base: &str) -> Pour {
        let recipe = Poured {
            base: base.to_owned(),
            base_mass: Grams(100.0),
            mix: "".parse().expect("nothing"),
        };
        let cup = Filled::pour(shelf, &recipe).expect(base);
        let scale = Scale {
            factor: 1.0,
            largest_pot: None,
        };
        pour(&cup, scale, shelf, jiff::civil::date(2026, 3, 10)).expect(base)
    }

    fn planned(shelf: &Shelf, paints: u32, shift: Shift) -> Result<Schedule> {
        let [skin, foam] = ["skin", "foam"].map(|base| poured(shelf, base));
        schedule(&skin, Some(&foam), paints, shift)
    }

    fn spans(schedule: &Schedule) -> Vec<(u32, Step, (f64, f64))> {
        let tasks = schedule.tasks.iter();
        tasks
            .map(|task| (task.person, task.step, task.minutes))
            .collect()
    }

    #[test]
    fn a_day_worked_by_hand() {
        let bench = bench();
        // One mould: skin 0–4; foam when that has gelled, 7–8.5; the skin opens at 60, the foam at 52; then the second piece.
        let two = Shift { pieces: 2, ..SHIFT };
        let one_after_the_other = planned(&bench, 0, two).expect("a day");
        assert_eq!(
            spans(&one_after_the_other),
            [
                (1, Step::Skin, (0.0, 4.0)),
                (1, Step::Foam, (7.0, 8.5)),
                (1, Step::Demould, (60.0, 65.0)),
                (1, Step::Skin, (65.0, 69.0)),
                (1, Step::Foam, (72.0, 73.5)),
                (1, Step::Demould, (125.0, 130.0)),
            ]
        );
        // Two moulds, one person: the second skin waits until the first foam is in.
        let two_moulds = planned(&bench, 0, Shift { moulds: 2, ..two }).expect("a day");
        assert_eq!(
            spans(&two_moulds),
            [
                (1, Step::Skin, (0.0, 4.0)),
                (1, Step::Foam, (7.0, 8.5)),
                (1, Step::Skin, (8.5, 12.5)),
                (1, Step::Foam, (15.5, 17.0)),
                (1, Step::Demould, (60.0, 65.0)),
                (1, Step::Demould, (68.5, 73.5)),
            ]
        );
        // Two people: both at once; painted right after.
        let pair = Shift {
            moulds: 2,
            people: 2,
            ..two
        };
        assert_eq!(planned(&bench, 2, pair).expect("a day").ends_min(), 95.0);
        // A second pour of foam when the first has gelled, at 10 min: open at 55, before the skin.
        let filled = Shift {
            second_foam: true,
            ..SHIFT
        };
        assert_eq!(
            spans(&planned(&bench, 0, filled).expect("a day"))[2],
            (1, Step::SecondFoam, (10.0, 11.5))
        );
        // Ten degrees warmer all is over in half the time, but for the hands' own five minutes.
        let warm = Shift {
            room_c: 33.0,
            ..SHIFT
        };
        assert_eq!(planned(&bench, 0, warm).expect("a day").ends_min(), 35.0);
    }

    #[test]
    fn nothing_overlaps_a_pot_life_and_no_mould_holds_two_pieces() {
        let bench = bench();
        for (pieces, moulds, people) in (1..=5).flat_map(|pieces| {
            (1..=3).flat_map(move |moulds| (1..=3).map(move |people| (pieces, moulds, people)))
        }) {
            let shift = Shift {
                pieces,
                moulds,
                people,
                second_foam: pieces % 2 == 0,
                ..SHIFT
            };
            let day = planned(&bench, 1, shift).expect("a day");
            let apart = |one: (f64, f64), other: (f64, f64)| {
                one.1 <= other.0 + 1e-9 || other.1 <= one.0 + 1e-9
            };
            let step = |piece, step| {
                let mut tasks = day.tasks.iter();
                let found = tasks.find(|task| task.piece == piece && task.step == step);
                *found.expect("each piece has each step")
            };
            for (index, one) in day.tasks.iter().enumerate() {
                for other in &day.tasks[index + 1..] {
                    let is_apart = apart(one.minutes, other.minutes);
                    assert!(one.person != other.person || is_apart, "{one:?} {other:?}");
                }
            }
            for piece in 1..=pieces {
                let [skin, foam, out] =
                    [Step::Skin, Step::Foam, Step::Demould].map(|each| step(piece, each));
                let begun = skin.minutes.0;
                assert!(
                    (7.0..=60.0).contains(&(foam.minutes.0 - begun)),
                    "gelled, not cured"
                );
                assert!(out.minutes.0 >= begun + 60.0 && out.minutes.0 >= foam.minutes.0 + 45.0);
                for other in piece + 1..=pieces {
                    let [next, last] = [Step::Skin, Step::Demould].map(|each| step(other, each));
                    let is_apart = apart((begun, out.minutes.1), (next.minutes.0, last.minutes.1));
                    assert!(skin.mould != next.mould || is_apart, "mould {}", skin.mould);
                }
            }
        }
    }

    #[test]
    fn a_clock_that_cannot_be_met_names_the_step() {
        let bench = bench();
        let refusal = |shelf: &Shelf, shift| {
            let refused = planned(shelf, 0, shift).expect_err("refused");
            refused.to_string()
        };
        let short = Shift {
            pieces: 2,
            within_min: Some(100.0),
            ..SHIFT
        };
        let line = refusal(&bench, short);
        assert!(
            line.contains("the demould of piece 2 ends 130 min"),
            "{line}"
        );
        let mut cured = bench.clone();
        let skin = cured.bases.iter_mut().find(|base| base.name == "skin");
        skin.expect("a skin").demold_min = Some(5.0);
        let line = refusal(&cured, SHIFT);
        assert!(line.contains("the foam of piece 1"), "{line}");
        let mut unknown = bench.clone();
        let skin = unknown.bases.iter_mut().find(|base| base.name == "skin");
        skin.expect("a skin").gel_min = None;
        let line = refusal(&unknown, SHIFT);
        assert!(line.contains("`skin` has no gel_min"), "{line}");
    }
}
