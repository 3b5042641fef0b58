//! Calls from a file: JSON, JSON Lines of proposals, CSV.

use super::call::{FingerCall, TenFingers};
use super::finger::Finger;
use super::ncic;
use super::text::finger_call;
use crate::error::Error;
use crate::proposal::{Proposal, SCHEMA};
use serde_json::Value;

impl TenFingers {
    /// Reads calls from JSON text: `{"1": "PI", "2": "09", ...}`, `["PI", "09", ...]`, `{"fingers": [{"finger": 1, "call":
    /// "PI"}, ...]}`, `{"ncic": "..."}`, or ten proposals, as an array or one a line. Calls are written as in
    /// [`TenFingers::from_text`]. `input` names the text in errors.
    ///
    /// ```
    /// use recurve::formula::TenFingers;
    /// let json = r#"["PI", "09", "CI", "12", "14", "62", "AA", "PM", "dM", "TT"]"#;
    /// assert_eq!(TenFingers::from_json("calls.json", json)?.iter().count(), 10);
    /// # Ok::<(), recurve::Error>(())
    /// ```
    ///
    /// # Errors
    /// Naming the input, or the finger and the reason.
    pub fn from_json(input: &str, text: &str) -> Result<Self, Error> {
        let values: Result<Vec<Value>, _> = serde_json::Deserializer::from_str(text).into_iter().collect();
        let values = values.map_err(|error| Error::bad_value(input, format!("not readable as JSON: {error}")))?;
        match values.as_slice() {
            [] => Err(Error::bad_value(input, "empty; ten calls are needed")),
            [Value::Array(list)] => from_list(input, list),
            [Value::Object(_)] => from_object(input, &values[0]),
            lines => from_list(input, lines),
        }
    }

    /// Reads calls from CSV text with a head line: columns `finger` and `call`, the latter as in [`TenFingers::from_text`].
    /// `input` names the text in errors.
    ///
    /// # Errors
    /// Naming the input and line, or the finger and the reason.
    pub fn from_csv(input: &str, text: &str) -> Result<Self, Error> {
        let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
        let unreadable = |error: csv::Error| Error::bad_value(input, format!("not readable as CSV: {error}"));
        let heads = reader.headers().map_err(unreadable)?.clone();
        let column = |name: &str| {
            let place = heads.iter().position(|head| head.eq_ignore_ascii_case(name));
            place.ok_or_else(|| Error::bad_value(input, format!("no column `{name}`; the head line is finger,call")))
        };
        let (finger, call) = (column("finger")?, column("call")?);
        let mut calls = Vec::new();
        for row in reader.records() {
            let row = row.map_err(unreadable)?;
            let cell = |place: usize| row.get(place).unwrap_or_default();
            calls.push(finger_call(numbered(input, cell(finger))?, cell(call))?);
        }
        Self::new(calls)
    }
}

fn numbered(input: &str, text: &str) -> Result<Finger, Error> {
    let number =
        text.parse().map_err(|_| Error::bad_value(input, format!("`{text}` is no finger number from 1 to 10")))?;
    Finger::new(number)
}

fn is_proposal(value: &Value) -> bool {
    value.get("schema").and_then(Value::as_str) == Some(SCHEMA)
}

/// Ten calls in card order, ten proposals, or ten objects with finger and call.
fn from_list(input: &str, list: &[Value]) -> Result<TenFingers, Error> {
    if list.iter().any(is_proposal) {
        let proposals: Result<Vec<Proposal>, _> =
            list.iter().map(|value| serde_json::from_value(value.clone())).collect();
        let proposals = proposals.map_err(|error| Error::bad_value(input, format!("not a proposal: {error}")))?;
        return TenFingers::from_proposals(&proposals);
    }
    if list.iter().all(Value::is_string) {
        if list.len() != Finger::ALL.len() {
            return Err(Error::bad_value(input, format!("{} calls; a card has ten", list.len())));
        }
        let calls: Result<Vec<_>, _> = Finger::ALL
            .into_iter()
            .zip(list)
            .map(|(finger, call)| finger_call(finger, call.as_str().unwrap_or_default()))
            .collect();
        return TenFingers::new(calls?);
    }
    let calls: Result<Vec<_>, _> = list.iter().map(|value| from_entry(input, value)).collect();
    TenFingers::new(calls?)
}

/// One object with finger and call.
fn from_entry(input: &str, value: &Value) -> Result<FingerCall, Error> {
    let wanted = || Error::bad_value(input, "each entry is {\"finger\": 1 to 10, \"call\": \"...\"}");
    let number = value.get("finger").and_then(Value::as_u64).ok_or_else(wanted)?;
    let call = value.get("call").and_then(Value::as_str).ok_or_else(wanted)?;
    let finger = Finger::new(u8::try_from(number).unwrap_or(u8::MAX))?;
    finger_call(finger, call)
}

fn from_object(input: &str, value: &Value) -> Result<TenFingers, Error> {
    if is_proposal(value) {
        return from_list(input, std::slice::from_ref(value));
    }
    if let Some(Value::Array(list)) = value.get("fingers") {
        return from_list(input, list);
    }
    if let Some(Value::String(code)) = value.get("ncic") {
        return ncic::decode(code);
    }
    let Value::Object(map) = value else {
        return Err(Error::bad_value(input, "calls are an object or a list"));
    };
    let calls: Result<Vec<_>, Error> = map
        .iter()
        .map(|(number, call)| {
            let finger = numbered(input, number)?;
            let call = call
                .as_str()
                .ok_or_else(|| Error::bad_value(finger.to_string(), "the call is a text, as in \"09\""))?;
            finger_call(finger, call)
        })
        .collect();
    TenFingers::new(calls?)
}
