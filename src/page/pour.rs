//! Pour: the answer on one screen, then one dose at a time.

use axum::extract::{Path, Query, State};
use maud::{Markup, html};

use super::answer::{Answer, Fault, screen};
use super::frame::{Screen, framed, patch};
use super::how::How;
use super::jars;
use super::state::Shared;
use super::steps::{bench, list, steps};
use super::words::{naming, part_path, today};
use crate::book::Book;
use crate::jobs::matching::{FilledCup, Layer, Matched, Note};
use crate::jobs::parts::{self, Pots};
use crate::jobs::verdict::Verdict;
use crate::report::pieces::{
    capital, care_in_a_line, first_help, in_plain_words, missed, put_on, says,
};
use crate::report::{NextCommands, PartReport, cautions};

pub(super) async fn show(
    State(shared): State<Shared>,
    Path(name): Path<String>,
    Query(how): Query<How>,
) -> Answer {
    let page = shared.with_book(move |book| {
        let size = how.size()?;
        let pots = Pots {
            pot_by_pot: how.is_pot_by_pot(),
            ..Pots::default()
        };
        let (part, matched) = parts::to_pour(book, &name, size, pots, today())?;
        Ok::<_, Fault>(page(book, &part.title, Some((&part.name, &how)), &matched))
    });
    screen(page.await?)
}

/// The answer `matched` and its steps; of the part that is `kept` under a name, if it is, with how it is poured.
pub(super) fn page(
    book: &Book,
    title: &str,
    kept: Option<(&str, &How)>,
    matched: &Matched,
) -> Markup {
    let name = kept.map(|(name, _)| name);
    let report = report(title, matched);
    let steps = steps(matched);
    let key = name.unwrap_or("(not kept)");
    let main = html! {
        div #pour data-part=(key) data-title=(title) data-kept=[name.map(|_| "yes")] {
            h1 { (title) }
            (standing(&report))
            @if name.is_none() {
                p.notice { "The demo book keeps nothing: this answer is gone with this screen. Begin a book of your own with "
                    code { "dropwise new DIR" } "." }
            }
            (care(matched))
            p.doors { button type="button" #begin .first hidden { "One step at a time" } }
            @if let Some((_, how)) = kept { (pots(matched, how)) }
            h2 { "What goes in, in this order" }
            ul.cups { @for cup in matched.cups() { li { (cup_line(matched, cup)) } } }
            (list(&steps))
            @if let Some((name, how)) = kept {
                (jars::form(book, name, matched, how))
                (afterwards(name, how))
            }
            (bench())
        }
    };
    framed(book, Screen::Pour, title, name, &main)
}

/// `matched` as the page reports it.
pub(super) fn report<'a>(title: &'a str, matched: &'a Matched) -> PartReport<'a> {
    PartReport {
        title,
        matched,
        commands: NextCommands::default(),
        naming,
        keeping: None,
    }
}

/// The tone beside what comes out, how it stands, and what would help first.
pub(super) fn standing(report: &PartReport<'_>) -> Markup {
    let matched = report.matched;
    let made = matched.skin.recipe.best().prediction.lab;
    let aim = matched.skin.recipe.aim;
    let help = match matched.verdict() {
        Verdict::Lands | Verdict::NotKnown => None,
        Verdict::Near | Verdict::OutOfReach => first_help(report),
    };
    let told = matched.notes.iter().filter(|note| {
        matches!(
            note,
            Note::NoPaint
                | Note::PassedOver(_)
                | Note::NoTimeToLearn
                | Note::Unread(_)
                | Note::MadeBefore { .. }
                | Note::StockShort(_)
                | Note::LeftPartB(_)
        )
    });
    html! {
        div.standing {
            div.patches {
                (patch(matched.target.lab, &format!("tone: {}", in_plain_words(matched.target.lab))))
                (patch(made, &format!("comes out: {}", in_plain_words(made))))
                @if aim != matched.target.lab { (patch(aim, "aim")) }
            }
            p.verdict { (says(matched)) (help.unwrap_or_default()) }
        }
        @for note in told { p.note { (capital(&report.worded(note))) "." } }
    }
}

/// The cautions: their names at once, and in full where they are opened.
pub(super) fn care(matched: &Matched) -> Markup {
    let pours = || matched.cups().map(|cup| &cup.pour);
    html! {
        details.care {
            summary { (care_in_a_line(pours())) }
            dl { @for caution in cautions(pours()) { dt { (capital(caution.danger)) } dd { (caution.usual) } } }
        }
    }
}

/// The choice of how several pots are tinted, which the script remembers for the part; nothing where every cup is one pot.
fn pots(matched: &Matched, how: &How) -> Markup {
    let most = matched.cups().map(|cup| cup.pour.pots).max().unwrap_or(1);
    let is_pot_by_pot = how.is_pot_by_pot();
    let choices = [
        (How::AT_ONCE, !is_pot_by_pot, "All pots at once"),
        (How::EACH, is_pot_by_pot, "Each pot by itself"),
    ];
    html! {
        @if most > 1 {
            h2 { "How the pots are tinted" }
            form #pots .choices method="get" {
                input type="hidden" name="skin_g" value=(how.skin_g);
                @for (value, is_chosen, words) in choices {
                    label { input type="radio" name="pots" value=(value) checked[is_chosen]; (words) }
                }
                button.plain { "Show these steps" }
            }
            p.besides {
                @if is_pot_by_pot { "Each pot takes its own drops, in whole drops. Count them in every one." }
                @else { "Part B of all pots is tinted together, with no clock running: one colour, and nothing to count again." }
            }
        }
    }
}

fn cup_line(matched: &Matched, cup: &FilledCup) -> Markup {
    let is_missed = !matched.is_reached(cup) && cup.layer != Layer::Skin;
    html! {
        b { (capital(&cup.layer.to_string())) } " " (cup.pour.base) ", " (put_on(cup))
        @if let Some(unlike) = &cup.unlike {
            ", " (unlike.pots.len()) " pots, not all of one size, at most ΔE00 " (format!("{:.1}", unlike.apart)) " apart"
        } @else if cup.pour.pots > 1 { ", " (cup.pour.pots) " pots one after the other" }
        @if is_missed { " – " (missed(cup)) }
    }
}

/// What else is done with a part that is kept.
fn afterwards(name: &str, how: &How) -> Markup {
    html! {
        h2 { "Out of the mould" }
        p { "Lay it beside the reference in the light where it will be seen, read it, and log it: what was measured teaches the next cup." }
        p.doors { a.button href=(part_path(name, "compare")) { "Compare and log" } }
        details {
            summary { "Another size" }
            form method="get" action=(part_path(name, "pour")) {
                input type="hidden" name="pots" value=(how.pots());
                label { "Skin in all, g" input name="skin_g" inputmode="decimal" autocomplete="off" required; }
                button { "Work out these cups" }
            }
        }
    }
}
