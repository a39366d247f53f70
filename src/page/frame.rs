//! What stands around every screen.

use maud::{DOCTYPE, Markup, html};

use super::assets::scripts;
use super::words::part_path;
use crate::book::Book;
use crate::colour::Lab;
use crate::report::pieces::hex;

/// Which screen it is, for its place among the others.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Screen {
    Today,
    Tone,
    Pour,
    Compare,
    Why,
}

/// A screen of `book`; of the part called `part`, if it is one's.
pub(super) fn framed(
    book: &Book,
    screen: Screen,
    title: &str,
    part: Option<&str>,
    main: &Markup,
) -> Markup {
    let of_part = [
        (Screen::Pour, "pour", "Pour"),
        (Screen::Compare, "compare", "Compare"),
        (Screen::Why, "why", "Why"),
    ];
    let name = &book.shelf().settings.name;
    document(
        title,
        &html! {
            a.skip href="#main" { "To the screen itself" }
            header.top {
                nav aria-label="Screens" {
                    (way(screen == Screen::Today, "/", "Today"))
                    @match part {
                        Some(part) => {
                            @for (of, path, words) in of_part {
                                (way(screen == of, &part_path(part, path), words))
                            }
                        }
                        None => (way(screen == Screen::Tone, "/tone", "New part")),
                    }
                }
                p.book { (name) @if book.folder().is_none() { " (demo: nothing is kept)" } }
            }
            div #changed .notice role="status" hidden data-revision=(book.revision()) {
                p { "The book was changed since this screen was drawn." }
                a.button href="" { "Draw it again" }
            }
            p #away .notice role="status" hidden {
                "Nobody answers just now: this is what was shown last. Drops are counted and clocks run on; what is sent waits."
            }
            div #clocks .clocks role="region" aria-label="Clocks" {}
            p #said .heard aria-live="polite" {}
            main #main tabindex="-1" { (main) }
        },
    )
}

/// A document that is no screen.
pub(super) fn bare(title: &str, main: &Markup) -> Markup {
    document(title, &html! { main #main { (main) } })
}

fn document(title: &str, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) " – dropwise" }
                link rel="icon" href="/files/drop.svg" type="image/svg+xml";
                link rel="stylesheet" href="/files/page.css";
                // All at once, where one names the next only when it is there.
                @for script in scripts() { link rel="modulepreload" href=(format!("/files/{script}")); }
                script src="/files/page.js" type="module" {}
            }
            body { (body) }
        }
    }
}

fn way(is_here: bool, path: &str, words: &str) -> Markup {
    html! { a href=(path) aria-current=[is_here.then_some("page")] { (words) } }
}

/// A patch of a colour, with what it is below: the nearest sRGB, which a screen only hints at.
///
/// It is drawn, since styles within a document are not let through.
pub(super) fn patch(lab: Lab, what: &str) -> Markup {
    html! {
        figure.patch {
            svg viewBox="0 0 8 5" preserveAspectRatio="none" aria-hidden="true" {
                rect width="8" height="5" fill=(hex(lab)) {}
            }
            figcaption { (what) }
        }
    }
}

/// Two colours that touch, the first to the left; they stay in sight while what is below them is changed.
pub(super) fn touching(left: Lab, right: Lab, what: &str) -> Markup {
    html! {
        svg.touching viewBox="0 0 8 3" preserveAspectRatio="none" role="img" aria-label=(what) {
            rect width="4" height="3" fill=(hex(left)) {}
            rect #reading-patch x="4" width="4" height="3" fill=(hex(right)) {}
        }
    }
}

/// Two colours that touch, the first to the left, as one of several such pairs; what they are is told beside them.
pub(super) fn pair(left: Lab, right: Lab) -> Markup {
    html! {
        svg.touching viewBox="0 0 8 3" preserveAspectRatio="none" aria-hidden="true" {
            rect width="4" height="3" fill=(hex(left)) {}
            rect x="4" width="4" height="3" fill=(hex(right)) {}
        }
    }
}

/// The hidden field by which a form says which state of the book it was filled in on.
pub(super) fn revision_field(book: &Book) -> Markup {
    html! { input type="hidden" name="revision" value=(book.revision()); }
}
