//! JSON documents: one a command, on one line, numbers in full.

use serde::Serialize;
use serde_json::{Map, Value};

use crate::colour::Lab;
use crate::materials::Colorant;

/// A document on one line, with a line end.
pub(super) fn document(value: &impl Serialize) -> String {
    let text = serde_json::to_string(value).unwrap_or_else(|error| {
        unreachable!("a document of numbers, names and lists always serialises: {error}")
    });
    text + "\n"
}

pub(super) fn triple(lab: Lab) -> Value {
    Value::from(vec![lab.l, lab.a, lab.b])
}

pub(super) fn drops(counted: &[(Colorant, u32)]) -> Map<String, Value> {
    counted
        .iter()
        .map(|(colorant, count)| (colorant.to_string(), Value::from(*count)))
        .collect()
}
