//! JSON documents: one a command, on one line, numbers in full.
//!
//! Keys name units (`_mm`, `_g`, `_min`). What is not known is `null`, or left out where no other program could ask for it.

use serde::Serialize;
use serde_json::{Map, Value};

use crate::colour::Lab;
use crate::materials::{Colorant, Grams};

/// A document on one line, with a line end, so that answers can be read line by line.
///
/// # Panics
/// Never of a document made of numbers, names and lists.
pub(super) fn document(value: &impl Serialize) -> String {
    let mut json = Vec::new();
    write(&mut json, value);
    json.push(b'\n');
    text(json)
}

/// Puts `value` behind the `json` of what stands before it.
///
/// # Panics
/// As [`document`].
pub(super) fn write(json: &mut Vec<u8>, value: &impl Serialize) {
    serde_json::to_writer(json, value).unwrap_or_else(|error| {
        unreachable!("a document of numbers, names and lists always serialises: {error}")
    });
}

/// The `json` that was written, as text.
pub(super) fn text(json: Vec<u8>) -> String {
    String::from_utf8(json).expect("JSON is written in UTF-8")
}

/// `[L*, a*, b*]`, in full: what light and observer they are for, the key or the document around it says.
pub(super) fn triple(lab: Lab) -> [f64; 3] {
    [lab.l, lab.a, lab.b]
}

/// `{"iron oxide red 1:10": 7, …}`: whole drops by the name of what is dropped, in the order of `counted`. A pigment and its
/// let-downs are keys apart, since a drop of each is worth another mass of pigment.
pub(super) fn drops(counted: &[(Colorant, u32)]) -> Map<String, Value> {
    counted
        .iter()
        .map(|(colorant, count)| (colorant.to_string(), Value::from(*count)))
        .collect()
}

/// Grams of each colorant, by its name as a mix has it.
pub(super) fn weighed(weighed: &[(Colorant, Grams)]) -> Map<String, Value> {
    let entry = |(colorant, mass): &(Colorant, Grams)| (colorant.to_string(), mass.0.into());
    weighed.iter().map(entry).collect()
}
