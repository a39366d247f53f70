//! Photographs that are sent along: how one is asked for, with what is drawn on it, and how it is read: from a folder of its own that
//! is gone afterwards.

use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::path::{Path, PathBuf};

use axum::body::Bytes;
use axum::extract::multipart::MultipartError;
use axum::extract::{self, Multipart, State};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, html};

use super::answer::{Fault, refused, status_of};
use super::fields::Fields;
use super::state::Shared;
use super::words::naming;
use crate::book::read_chart_values;
use crate::error::{Error, Result};
use crate::optics::Specular;
use crate::tone::{Chart, ChartValues, Corners};

/// What is drawn on a photograph with a finger.
pub(super) struct Drawn {
    /// The field that holds it.
    pub(super) field: &'static str,
    /// What it lies over, as in `the skin`.
    pub(super) over: &'static str,
    /// Whether it is four corners, which are touched one by one; else a box, which is dragged.
    pub(super) is_corners: bool,
    /// What it means where it is left empty.
    pub(super) empty: &'static str,
}

/// The chart beside what is read.
pub(super) const CHART: Drawn = Drawn {
    field: "chart",
    over: "the chart",
    is_corners: true,
    empty: "empty: the chart is looked for",
};

/// A form for a photograph that goes to `path`: what is asked `before`, what is `drawn` on it, what is asked `after`, the `button`.
pub(super) fn photo_form(
    (path, hint): (&str, &str),
    before: &Markup,
    drawn: &[Drawn],
    after: &Markup,
    button: &str,
) -> Markup {
    let shape = |drawn: &Drawn| match drawn.is_corners {
        true => "corners",
        false => "box",
    };
    html! {
        form #photo-form method="post" action=(path) enctype="multipart/form-data" data-waits="Reading the photograph: some seconds" {
            label { "Photograph"
                small { "JPEG, PNG, TIFF or WebP. " (hint) }
                input #photo-file type="file" name="photo" accept="image/jpeg,image/png,image/tiff,image/webp" required;
            }
            (before)
            div #photo-boxes hidden {
                fieldset {
                    legend { "Show with a finger" }
                    div.choices {
                        @for (index, each) in drawn.iter().enumerate() {
                            label.(format!("draws-{}", each.field)) {
                                input type="radio" name="draws" value=(each.field) data-shape=(shape(each)) checked[index == 0]; (each.over)
                            }
                        }
                    }
                    p #photo-how .quiet {}
                }
                div.photo {
                    canvas #photo-canvas role="application" tabindex="0" aria-label="The photograph: show with a finger or the arrow keys and Enter what lies where, or type it below" {}
                    canvas #photo-loupe width="180" height="180" aria-hidden="true" hidden {}
                }
                p.quiet.keys { "Keys: arrows move, with Shift by single pixels; Enter begins a box and ends it, or sets a corner." }
            }
            details #photo-typed {
                summary { "Type where it lies" }
                @for each in drawn {
                    label { (if each.is_corners { "Corners of " } else { "Box over " }) (each.over)
                        small {
                            @if each.is_corners { "x,y of the top left corner, then clockwise, in pixels; " }
                            @else { "left, top, width, height in pixels; " }
                            (each.empty)
                        }
                        input name=(each.field) inputmode="numeric" autocomplete="off"; }
                }
            }
            (after)
            button.first { (button) }
        }
    }
}

/// What the patches of the chart are, and how they were read.
pub(super) fn chart_fields() -> Markup {
    const READ: [(&str, &str); 3] = [
        ("45/0", "45/0"),
        ("included", "shine included"),
        ("excluded", "shine excluded"),
    ];
    html! {
        details.chart-values {
            summary { "Which chart it is" }
            label { "The file that came with the chart"
                small { "CGATS, or a CSV with row, column, L, a and b; empty: the 24 patches that were published in 1976" }
                input type="file" name="chart_values"; }
            fieldset {
                legend { "Its patches were read" }
                div.choices {
                    @for (value, words) in READ {
                        label { input type="radio" name="specular" value=(value) checked[value == "45/0"]; (words) }
                    }
                }
            }
        }
    }
}

/// The picture called `name` of what was read, as long as it is kept.
pub(super) async fn picture(
    State(shared): State<Shared>,
    extract::Path(name): extract::Path<String>,
) -> Response {
    match shared.pictures.find(&name) {
        Some(png) => ([(CONTENT_TYPE, "image/png")], png).into_response(),
        None => refused(
            StatusCode::NOT_FOUND,
            "This picture is not kept any more: read the photograph again.",
        ),
    }
}

/// A form that was sent with files.
pub(super) struct Sent {
    pub(super) fields: Fields,
    /// Each with the field that it came in and what it is called.
    files: Vec<(String, String, Bytes)>,
}

/// What was sent, where it lies for as long as it is read.
pub(super) struct Laid<'a> {
    pub(super) fields: &'a Fields,
    /// The photograph.
    pub(super) photo: PathBuf,
    /// The same folder for all; a file in a folder of its field's name.
    files: Vec<(&'a str, PathBuf)>,
}

impl Sent {
    /// Takes a `form` apart.
    ///
    /// # Errors
    /// What is no form.
    pub(super) async fn read(mut form: Multipart) -> std::result::Result<Self, Fault> {
        let broken = |cause: MultipartError| {
            let words = format!("This form can't be read: {cause}.");
            Fault::new(StatusCode::BAD_REQUEST, words)
        };
        let (mut fields, mut files) = (Fields::default(), Vec::new());
        while let Some(field) = form.next_field().await.map_err(broken)? {
            let name = field.name().unwrap_or_default().to_owned();
            let called = field.file_name().map(plain_name);
            match called {
                Some(called) => {
                    let bytes = field.bytes().await.map_err(broken)?;
                    let called = telling_name(called, &bytes);
                    // A browser sends an empty one where none was chosen.
                    if !bytes.is_empty() {
                        files.push((name, called, bytes));
                    }
                }
                None => fields.set(&name, field.text().await.map_err(broken)?),
            }
        }
        Ok(Self { fields, files })
    }

    /// What the photograph is called.
    pub(super) fn called(&self) -> &str {
        let mut files = self.files.iter();
        files
            .find(|(field, ..)| field == "photo")
            .map_or("", |(_, called, _)| called)
    }

    /// Lays out what was sent and does `job` with it; where it lies for a moment is nobody's business, and stands in no error.
    ///
    /// # Errors
    /// No photograph; those of the job; the machine's.
    pub(super) fn laid_out<T>(
        &self,
        job: impl FnOnce(&Laid<'_>) -> Result<T>,
    ) -> std::result::Result<T, Fault> {
        let machine = |cause| Error::machine("keep", Path::new("what was sent"), cause);
        let folder = tempfile::tempdir().map_err(machine)?;
        let mut files = Vec::new();
        for (index, (field, called, bytes)) in self.files.iter().enumerate() {
            let own = folder.path().join(index.to_string());
            std::fs::create_dir(&own).map_err(machine)?;
            let path = own.join(called);
            std::fs::write(&path, bytes).map_err(machine)?;
            files.push((field.as_str(), path));
        }
        let photo = files.iter().find(|(field, _)| *field == "photo");
        let Some((_, photo)) = photo.cloned() else {
            let error = Error::input("no photograph came along").mend("choose one first");
            return Err(error.into());
        };
        let laid = Laid {
            fields: &self.fields,
            photo,
            files,
        };
        job(&laid).map_err(|error| {
            let words = without_folder(&error.worded(naming), folder.path());
            Fault::new(status_of(&error), words)
        })
    }
}

impl Laid<'_> {
    /// The file that came in `field`.
    pub(super) fn file(&self, field: &str) -> Option<&Path> {
        let mut files = self.files.iter();
        files
            .find(|(of, _)| *of == field)
            .map(|(_, path)| path.as_path())
    }

    /// The chart that lies beside what is read.
    ///
    /// # Errors
    /// Corners that are none; values that can't be read.
    pub(super) fn chart(&self) -> Result<Chart> {
        let values = self.file("chart_values");
        let values = values.map_or(ChartValues::PUBLISHED.into(), Path::to_string_lossy);
        Ok(Chart {
            corners: self.corners("chart", "the chart's corners")?,
            values: read_chart_values(&values)?,
        })
    }

    /// The corners in `field`, known as `what`; `None` where they are to be looked for.
    ///
    /// # Errors
    /// What are no corners.
    pub(super) fn corners(&self, field: &str, what: &str) -> Result<Option<Corners>> {
        self.fields.read(field, what)
    }

    /// How the chart's patches were read: 45/0 where nobody says.
    ///
    /// # Errors
    /// No such way.
    pub(super) fn specular(&self) -> Result<Specular> {
        let said = self.fields.given("specular");
        said.map_or(Ok(Specular::FortyFive), str::parse)
    }

    /// `words` without where the files lie for the moment.
    pub(super) fn scrubbed(&self, words: &str) -> String {
        let folder = self.photo.parent().and_then(Path::parent);
        folder.map_or_else(|| words.to_owned(), |folder| without_folder(words, folder))
    }
}

/// `words` in which files that lie in folders of `folder` stand by their own names.
fn without_folder(words: &str, folder: &Path) -> String {
    let within = format!("{}/", folder.display());
    let mut parts = words.split(within.as_str());
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |words, part| {
        let own = part.trim_start_matches(|sign: char| sign.is_ascii_digit());
        words + own.strip_prefix('/').unwrap_or(own)
    })
}

/// The last step of a file's path, in signs that no message trips over.
fn plain_name(given: &str) -> String {
    let last = given.rsplit(['/', '\\']).next().unwrap_or_default();
    let plain: String = (last.chars())
        .filter(|sign| sign.is_alphanumeric() || " .-_()".contains(*sign))
        .take(60)
        .collect();
    match plain.trim_matches(['.', ' ']) {
        "" => "photograph".to_owned(),
        plain => plain.to_owned(),
    }
}

/// `called`; where that is what a telephone calls every picture that it takes, with a word of its own `bytes`: the log tells
/// photographs apart by their names, and one chart serves all chips of a photograph.
fn telling_name(called: String, bytes: &[u8]) -> String {
    // Common practice, no source.
    const OF_ALL: [&str; 5] = ["image", "photo", "photograph", "picture", "blob"];
    let (stem, end) = called.rsplit_once('.').unwrap_or((&called, ""));
    if !OF_ALL.contains(&stem.to_lowercase().as_str()) {
        return called;
    }
    let mut hasher = DefaultHasher::new();
    bytes.hash(&mut hasher);
    let own = format!("{stem}-{:08x}", hasher.finish() >> 32);
    match end {
        "" => own,
        end => format!("{own}.{end}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pictures_that_a_telephone_calls_alike_are_told_apart() {
        let named = |called: &str, bytes: &[u8]| telling_name(called.to_owned(), bytes);
        let [one, again, other] = [b"a", b"a", b"b"].map(|bytes| named("image.jpg", bytes));
        assert_eq!(one, again, "the same picture");
        assert!(one != other && other.ends_with(".jpg"), "{one}, {other}");
        assert_eq!(named("IMG_0412.jpg", b"a"), "IMG_0412.jpg", "its own name");
    }

    #[test]
    fn no_message_tells_where_a_photograph_lay() {
        let folder = Path::new("/tmp/.tmpAbc");
        let words = "/tmp/.tmpAbc/0/arm 2.jpg: this is no picture (see /tmp/.tmpAbc/1/chart.csv:3)";
        let told = without_folder(words, folder);
        assert_eq!(
            told, "arm 2.jpg: this is no picture (see chart.csv:3)",
            "names alone"
        );
    }

    #[test]
    fn a_name_is_one_plain_step() {
        assert_eq!(plain_name("C:\\a\\arm \"2\".jpg"), "arm 2.jpg", "a path");
        assert_eq!(plain_name("../.."), "photograph", "no name at all");
    }
}
