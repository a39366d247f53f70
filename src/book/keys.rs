//! Keys of a book's TOML files: read by kind, with line and column where they are at fault.

use std::ops::Range;
use std::str::FromStr;

use toml_edit::{Array, Document, Item, TableLike, Value};

use super::number::Number;
use crate::error::{Error, Result};
use crate::materials::{check_name, check_seen};

/// The table of a TOML file, or one inside it.
#[derive(Clone, Copy)]
pub(super) struct Keys<'text> {
    text: &'text str,
    table: &'text dyn TableLike,
    /// What the table is called, `recipe.skin`; empty for the whole file.
    name: &'text str,
    /// Where it begins, in bytes.
    start: usize,
}

/// What is wrong with `text`, which is no TOML, with its place.
pub(super) fn syntax(text: &str, error: &toml_edit::TomlError) -> Error {
    let finding: Vec<&str> = error.message().lines().collect();
    let (line, column) = place(text, error.span().unwrap_or(0..0).start);
    Error::input(finding.join("; "))
        .mend("a setting is written name = value; text stands in quotes, a number has a point")
        .at(line, Some(column))
}

/// Line and column, from 1, of the byte `start`.
fn place(text: &str, start: usize) -> (u64, u64) {
    let before = text.get(..start).unwrap_or(text);
    let line_start = before.rfind('\n').map_or(0, |end| end + 1);
    let line = 1 + before.matches('\n').count() as u64;
    (line, 1 + before[line_start..].chars().count() as u64)
}

impl<'text> Keys<'text> {
    /// The keys of a whole file of this `text`.
    pub(super) fn of(text: &'text str, document: &'text Document<&str>) -> Self {
        Self {
            text,
            table: document.as_table(),
            name: "",
            start: 0,
        }
    }

    /// The table at `key`, called `name`, if there is one.
    pub(super) fn table(&self, key: &str, name: &'text str) -> Result<Option<Self>> {
        let Some(item) = self.table.get(key) else {
            return Ok(None);
        };
        let Some(table) = item.as_table_like() else {
            let finding = format!("{key} is {}; expected a table", shown(item));
            return Err(self.fault(key, Error::input(finding).mend(format!("write [{name}]"))));
        };
        Ok(Some(Self {
            table,
            name,
            start: item.span().map_or(self.start, |span| span.start),
            ..*self
        }))
    }

    /// The tables at `key`, each called `name`: as `[[name]]`, or tables in a list.
    pub(super) fn tables(&self, key: &str, name: &'text str) -> Result<Vec<Self>> {
        let keys = |table: &'text dyn TableLike, span: Option<Range<usize>>| Self {
            table,
            name,
            start: span.map_or(self.start, |span| span.start),
            ..*self
        };
        match self.table.get(key) {
            None => Ok(Vec::new()),
            Some(Item::ArrayOfTables(tables)) => Ok(tables
                .iter()
                .map(|table| keys(table, table.span()))
                .collect()),
            Some(item) => {
                let tables = item.as_array().map(|list| {
                    let tables = list.iter().map(|value| {
                        let table = value.as_inline_table()?;
                        Some(keys(table, table.span()))
                    });
                    tables.collect::<Option<Vec<_>>>()
                });
                tables.flatten().ok_or_else(|| {
                    let finding = format!("{key} is {}; expected tables", shown(item));
                    self.fault(key, Error::input(finding).mend(format!("write [[{name}]]")))
                })
            }
        }
    }

    /// Refuses a key that is all but one of `known`, which would be left at its default without a word; keys of the user's own
    /// are left alone.
    pub(super) fn check_spelling(&self, known: &[&str]) -> Result<()> {
        for (key, _) in self.table.iter().filter(|(key, _)| !known.contains(key)) {
            // Of a short key nearly any other is near.
            let slip = if key.chars().count() > 4 { 2 } else { 1 };
            let is_near =
                |known: &&str| known.len() > 2 && strsim::damerau_levenshtein(key, known) <= slip;
            if known.iter().any(is_near) {
                let error = Error::unknown_name("setting", key, known.iter().copied());
                return Err(self.fault(key, error));
            }
        }
        Ok(())
    }

    /// What stands at `key`.
    pub(super) fn item(&self, key: &str) -> Option<&'text Item> {
        self.table.get(key)
    }

    /// The text at `key`, or else `otherwise`.
    pub(super) fn word<'a>(&self, key: &str, otherwise: &'a str) -> Result<&'a str>
    where
        'text: 'a,
    {
        Ok(self.optional_word(key)?.unwrap_or(otherwise))
    }

    /// The text at `key`, if there is any.
    pub(super) fn optional_word(&self, key: &str) -> Result<Option<&'text str>> {
        let Some(item) = self.table.get(key) else {
            return Ok(None);
        };
        let Some(word) = item.as_str() else {
            let found = shown(item);
            let finding = format!("{key} is {found}; expected text in quotes");
            let mend = format!("write {key} = \"{}\"", found.trim_matches(['"', '\'']));
            return Err(self.fault(key, Error::input(finding).mend(mend)));
        };
        let seen = match key {
            "name" | "title" => check_name(key, word),
            _ => check_seen(key, word),
        };
        seen.map_err(|error| self.fault(key, error))?;
        Ok(Some(word))
    }

    /// The text at `key` as what `parse` makes of it, if there is any.
    pub(super) fn parsed<T: FromStr<Err = Error>>(&self, key: &str) -> Result<Option<T>> {
        let word = self.optional_word(key)?;
        let value = word.map(str::parse).transpose();
        value.map_err(|error| self.fault(key, error))
    }

    /// The text at `key`, as one of the words that its type knows.
    pub(super) fn choice<T: FromStr<Err = Error>>(&self, key: &str, otherwise: T) -> Result<T> {
        Ok(self.parsed(key)?.unwrap_or(otherwise))
    }

    /// The number at the key of that name, or else `otherwise`.
    pub(super) fn number(&self, key: &Number, otherwise: f64) -> Result<f64> {
        Ok(self.optional_number(key)?.unwrap_or(otherwise))
    }

    /// The number at the key of that name, if there is one.
    pub(super) fn optional_number(&self, key: &Number) -> Result<Option<f64>> {
        let Some(item) = self.table.get(key.name) else {
            return Ok(None);
        };
        let outcome = match item.as_value().and_then(number) {
            Some(value) => key.within(value, value),
            None => Err(Error::input(format!(
                "{} is {}; expected {} with a point and no quotes",
                key.name,
                shown(item),
                key.expected()
            ))
            .mend(format!("write {} = {}", key.name, key.example))),
        };
        outcome
            .map(Some)
            .map_err(|error| self.fault(key.name, error))
    }

    /// The number at the key of that name, which must be there.
    pub(super) fn needed_number(&self, key: &Number) -> Result<f64> {
        let value = self.optional_number(key)?;
        value.ok_or_else(|| self.lacks(key.name, key.example))
    }

    /// `true` or `false` at `key`; `false` where nothing stands there.
    pub(super) fn flag(&self, key: &str) -> Result<bool> {
        let Some(item) = self.table.get(key) else {
            return Ok(false);
        };
        item.as_bool().ok_or_else(|| {
            let finding = format!("{key} is {}; expected true or false", shown(item));
            self.fault(
                key,
                Error::input(finding).mend(format!("write {key} = true")),
            )
        })
    }

    /// The list at `key`, each of its values as `read` takes it; `None` where there is no list.
    pub(super) fn list<T>(
        &self,
        key: &str,
        example: &str,
        read: impl Fn(&'text Value) -> Option<Result<T>>,
    ) -> Result<Option<Vec<T>>> {
        let Some(item) = self.table.get(key) else {
            return Ok(None);
        };
        let unlike = |found: String| {
            let error = Error::input(format!("{key} holds {found}; expected {example}"));
            error.mend(format!("write {key} = [{example}]"))
        };
        let list: &Array = (item.as_array()).ok_or_else(|| self.fault(key, unlike(shown(item))))?;
        let values = list.iter().map(|value| {
            let read = read(value).unwrap_or_else(|| Err(unlike(value.to_string().trim().into())));
            read.map_err(|error| match value.span() {
                Some(span) => self.at(span.start, error),
                None => self.fault(key, error),
            })
        });
        values.collect::<Result<_>>().map(Some)
    }

    /// The texts in the list at `key`, each parsed; `None` where there is no list.
    pub(super) fn words<T: FromStr<Err = Error>>(
        &self,
        key: &str,
        example: &str,
    ) -> Result<Option<Vec<T>>> {
        let example = format!("\"{example}\"");
        self.list(key, &example, |value| Some(value.as_str()?.parse()))
    }

    /// That `key`, such as `example`, is missing.
    pub(super) fn lacks(&self, key: &str, example: &str) -> Error {
        let finding = match self.name {
            "" => format!("{key} is missing"),
            name => format!("[{name}] lacks {key}"),
        };
        self.here(Error::input(finding).mend(format!("write {key} = {example}")))
    }

    /// `error` with the place of this table.
    pub(super) fn here(&self, error: Error) -> Error {
        self.at(self.start, error)
    }

    /// `error` with the place of what stands at `key`.
    pub(super) fn fault(&self, key: &str, error: Error) -> Error {
        match self.table.get(key).and_then(Item::span) {
            Some(span) => self.at(span.start, error),
            None => error,
        }
    }

    fn at(&self, start: usize, error: Error) -> Error {
        let (line, column) = place(self.text, start);
        error.at(line, Some(column))
    }
}

/// The number that `value` is. An integer that a float cannot hold lies outside every range here.
pub(super) fn number(value: &Value) -> Option<f64> {
    value
        .as_float()
        .or_else(|| value.as_integer().map(|whole| whole as f64))
}

/// What stands there, as it is written.
pub(super) fn shown(item: &Item) -> String {
    match item {
        Item::Value(value) => value.to_string().trim().to_owned(),
        _ => "a table".to_owned(),
    }
}
