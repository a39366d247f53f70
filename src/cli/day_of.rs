//! The day on which something is done.

use jiff::civil::Date;

use crate::error::{Error, Result};

/// A day.
pub(super) fn day(text: &str) -> Result<Date> {
    text.parse().map_err(|_| {
        Error::input("no such day").mend("write year, month and day, as in 2026-03-14")
    })
}

/// The day of what is done, beside other arguments.
#[derive(Debug, clap::Args)]
pub(super) struct DayOf {
    /// The day on which it is done, by which let-downs of the book are judged [default: today]
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    date: Option<Date>,
}

impl DayOf {
    /// That day.
    pub(super) fn day(&self) -> Date {
        self.date.unwrap_or_else(today)
    }
}

/// This day, where the program runs.
pub(super) fn today() -> Date {
    jiff::Zoned::now().date()
}
