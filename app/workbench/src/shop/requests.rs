//! Many questions to one machine: one JSON object a line in, one answer a line out.
//! Promise: an answer for every line that is not blank, in order; a line that cannot be understood is answered by an
//! error and stops nothing. Answers go out in large pieces, and at once when the asker waits.

use std::io::{self, BufRead, BufReader, Read, Write};

use serde_json::{Map, Value};

use super::answer::Refused;
use super::refusal::{Place, Reason, Refusal, did_you_mean, listed};
use super::stand::{Ask, Leads, Request, Stand};

const FIELDS: [&str; 8] = ["state", "faults", "set", "open", "bridge", "read", "air", "nulled"];
const READ_FIELDS: [&str; 4] = ["mode", "red", "black", "in"];

/// Answers every line; what a line leaves out is taken from `usual`.
///
/// # Errors
/// When reading or writing breaks off.
pub fn answer<R: Read>(
    stand: &mut Stand,
    usual: &Request,
    mut questions: BufReader<R>,
    answers: &mut impl Write,
) -> io::Result<()> {
    let mut line = Vec::new();
    loop {
        // Nothing more is at hand: whoever asks may be waiting for the answers so far.
        if !questions.buffer().contains(&b'\n') {
            answers.flush()?;
        }
        line.clear();
        if questions.read_until(b'\n', &mut line)? == 0 {
            return answers.flush();
        }
        if line.trim_ascii().is_empty() {
            continue;
        }
        let solved =
            parse(&line, usual).and_then(|request| Ok(serde_json::to_writer(&mut *answers, &stand.solve(&request)?)));
        match solved {
            Ok(written) => written?,
            Err(refusal) => serde_json::to_writer(&mut *answers, &Refused::new(&refusal))?,
        }
        answers.write_all(b"\n")?;
    }
}

/// One request; what it leaves out is taken from `usual`.
///
/// # Errors
/// When the line is not a JSON object of the form that is wanted.
pub fn parse(line: &[u8], usual: &Request) -> Result<Request, Refusal> {
    let text = String::from_utf8_lossy(line);
    let text = text.trim();
    let value: Value = serde_json::from_slice(line.trim_ascii()).map_err(|error| {
        let message = format!("not a JSON object: {error}");
        Refusal::new(Reason::Form, Place::Request, message, text, "one JSON object a line")
            .with_hint(r#"write it as in {"state":"held","faults":["starter-relay:coil-open"]}"#)
    })?;
    let Value::Object(fields) = value else {
        let message = format!("{} is not a JSON object", kind(&value));
        return Err(Refusal::new(Reason::Form, Place::Request, message, text, "one JSON object a line"));
    };
    let mut request = usual.clone();
    for (name, value) in &fields {
        if value.is_null() {
            continue;
        }
        match name.as_str() {
            "state" => request.state = Some(one_text(value, Place::State)?),
            "faults" => request.changes.faults = texts(value, Place::Fault)?,
            "set" => request.changes.set = pairs(value)?,
            "open" => request.changes.open = texts(value, Place::Open)?,
            "bridge" => request.changes.bridge = bridges(value)?,
            "air" => request.changes.air = Some(one_text(value, Place::Air)?),
            "nulled" => request.nulled = Some(one_text(value, Place::Nulled)?),
            "read" => request.read = list(value, Place::Read)?.iter().map(ask).collect::<Result<_, _>>()?,
            _ => return Err(unknown_field(name, &FIELDS, Place::Request)),
        }
    }
    Ok(request)
}

fn ask(value: &Value) -> Result<Ask, Refusal> {
    const FORM: &str = r#"{"mode":"volts"|"low-z"|"ohms"|"diode"|"lamp","red":NODE,"black":NODE} or {"mode":"amps"|"clamp"|"lamp","in":PART}"#;
    let malformed = |message: String, found: String| Refusal::new(Reason::Form, Place::Read, message, &found, FORM);
    let Value::Object(fields) = value else {
        return Err(malformed(format!("{} is not an object", kind(value)), value.to_string()));
    };
    if let Some(name) = fields.keys().find(|name| !READ_FIELDS.contains(&name.as_str())) {
        return Err(unknown_field(name, &READ_FIELDS, Place::Read));
    }
    let mode = field(fields, "mode")?.ok_or_else(|| malformed("`mode` is missing".to_owned(), value.to_string()))?;
    let leads = match (field(fields, "red")?, field(fields, "black")?, field(fields, "in")?) {
        (Some(red), Some(black), None) => Leads::Between { red, black },
        (None, None, Some(part)) => Leads::In(part),
        (None, None, None) => {
            return Err(malformed("neither `red` and `black` nor `in` is given".to_owned(), value.to_string()));
        }
        (Some(_), None, None) => return Err(malformed("`black` is missing".to_owned(), value.to_string())),
        (None, Some(_), None) => return Err(malformed("`red` is missing".to_owned(), value.to_string())),
        _ => return Err(malformed("`in` and `red` or `black` exclude each other".to_owned(), value.to_string())),
    };
    Ok(Ask { mode, leads })
}

fn field(fields: &Map<String, Value>, name: &str) -> Result<Option<String>, Refusal> {
    match fields.get(name) {
        None | Some(Value::Null) => Ok(None),
        Some(value) => one_text(value, Place::Read).map(Some),
    }
}

fn one_text(value: &Value, place: Place) -> Result<String, Refusal> {
    match value {
        Value::String(text) => Ok(text.clone()),
        other => {
            let message = format!("{} stands where text is due", kind(other));
            Err(Refusal::new(Reason::Form, place, message, &other.to_string(), "text in quotes"))
        }
    }
}

fn list(value: &Value, place: Place) -> Result<&[Value], Refusal> {
    match value {
        Value::Array(values) => Ok(values),
        other => {
            let message = format!("{} stands where a list is due", kind(other));
            Err(Refusal::new(Reason::Form, place, message, &other.to_string(), "a list, empty or not")
                .with_hint(format!("write [{other}]")))
        }
    }
}

fn texts(value: &Value, place: Place) -> Result<Vec<String>, Refusal> {
    list(value, place)?.iter().map(|value| one_text(value, place)).collect()
}

/// `{"part.field": "value"}`; ratios and flags may be bare, as in a sheet.
fn pairs(value: &Value) -> Result<Vec<(String, String)>, Refusal> {
    let Value::Object(fields) = value else {
        let message = format!("{} stands where an object is due", kind(value));
        let allowed = r#"{"part.field":"value with its unit"}"#;
        return Err(Refusal::new(Reason::Form, Place::Set, message, &value.to_string(), allowed));
    };
    let text = |value: &Value| match value {
        Value::Number(number) => Ok(number.to_string()),
        Value::Bool(flag) => Ok(flag.to_string()),
        other => one_text(other, Place::Set),
    };
    fields.iter().map(|(path, value)| Ok((path.clone(), text(value)?))).collect()
}

/// `"NODE,NODE=0.05ohm"`, or `["NODE", "NODE", "0.05 ohm"]`.
fn bridges(value: &Value) -> Result<Vec<String>, Refusal> {
    let one = |value: &Value| match value {
        Value::Array(parts) => match parts.as_slice() {
            [Value::String(from), Value::String(to), Value::String(ohms)] => Ok(format!("{from},{to}={ohms}")),
            _ => {
                let message = format!("{value} is not two nodes and a resistance");
                Err(Refusal::new(Reason::Form, Place::Bridge, message, &value.to_string(), "\"NODE,NODE=0.05ohm\""))
            }
        },
        other => one_text(other, Place::Bridge),
    };
    list(value, Place::Bridge)?.iter().map(one).collect()
}

fn unknown_field(name: &str, known: &[&str], place: Place) -> Refusal {
    let begins =
        |field: &&&str| field.get(..2) == name.get(..2) || name.trim_end_matches('s') == field.trim_end_matches('s');
    let near: Vec<String> = known.iter().filter(begins).map(|field| (*field).to_owned()).collect();
    let refusal = Refusal::new(
        Reason::Field,
        place,
        format!("`{name}` is not a field here"),
        name,
        listed(known.iter().copied()),
    );
    Refusal { hint: did_you_mean(&near).or_else(|| Some("leave it out".to_owned())), ..refusal }
}

fn kind(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "true or false",
        Value::Number(_) => "a number",
        Value::String(_) => "text",
        Value::Array(_) => "a list",
        Value::Object(_) => "an object",
    }
}
