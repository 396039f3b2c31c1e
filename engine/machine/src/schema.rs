//! The sheet's language as a JSON Schema (draft 7), so that an editor completes and explains a sheet while it is
//! written. Built from the catalogue of kinds: words, units, defaults and descriptions are those that the reader uses.
//! Promise: every kind and field is in it, and it refuses no sheet that the reader accepts.
//! Limit: it checks forms, not references, units or sizes; `sheet::read` does.

use quantity::Dimension;
use serde_json::{Map, Value, json};

use crate::kind::CATALOGUE;
use crate::kind::spec::{Fallback, Field, Kind, Terminals, Want};

/// The schema of a sheet.
pub fn schema() -> Value {
    let mut definitions = Map::new();
    for kind in CATALOGUE {
        definitions.insert(format!("kind-{}", kind.name), part_of(kind));
    }
    let kinds: Vec<Value> =
        CATALOGUE.iter().map(|kind| json!({ "$ref": format!("#/definitions/kind-{}", kind.name) })).collect();
    json!({
        "$schema": "http://json-schema.org/draft-07/schema#",
        "title": "probewright machine sheet",
        "description": "The wiring and mechanics of a machine's starting system.",
        "type": "object",
        "required": ["sheet", "machine", "part"],
        "additionalProperties": false,
        "properties": {
            "sheet": { "const": 1, "description": "Edition of the sheet's language." },
            "machine": machine(),
            "place": named("A place that must be opened once.", &place()),
            "control": named("A key, button or lever; its first position is the one at rest.", &control()),
            "part": named("A part of the machine.", &json!({ "oneOf": kinds })),
            "state": named("An operating state: rest, on, held, running, dead, or one of your own.", &state()),
            "fault": named("A fault that only this sheet's author knows.", &fault()),
            "odds": {
                "type": "object",
                "description": "Factors on the odds of catalogue faults: \"part:mode\" = 2.5.",
                "propertyNames": { "pattern": "^[^:]+:[^:]+$" },
                "additionalProperties": { "type": ["number", "string"], "minimum": 0 }
            },
            "meter": named("An instrument that the workshop has.", &meter()),
            "guess": {
                "type": "object",
                "description": "Values that nobody has read off the machine: \"part.field\" = [\"low\", \"high\"].",
                "propertyNames": { "pattern": "^[^.]+[.][^.]+$" },
                "additionalProperties": { "type": "array", "minItems": 2, "maxItems": 2,
                    "items": { "type": ["string", "number"] } }
            },
            "question": named("A question to a person at the machine; a sheet with questions is a pattern.", &question())
        },
        "definitions": definitions
    })
}

/// Tables `[section.NAME]` of one form.
fn named(description: &str, form: &Value) -> Value {
    json!({
        "type": "object",
        "description": description,
        "propertyNames": { "pattern": "^[^ .:,/@~=]+$" },
        "additionalProperties": form
    })
}

fn table(required: &[&str], properties: Value) -> Value {
    json!({ "type": "object", "required": required, "additionalProperties": false, "properties": properties })
}

fn text(description: &str) -> Value {
    json!({ "type": "string", "minLength": 1, "description": description })
}

fn texts(description: &str) -> Value {
    json!({ "description": description, "anyOf": [
        { "type": "string", "minLength": 1 },
        { "type": "array", "items": { "type": "string", "minLength": 1 } }
    ] })
}

fn quantity(dimension: Dimension, description: &str) -> Value {
    json!({
        "type": "string",
        "description": format!("{description} Written in {}.", dimension.allowed()),
        "examples": [dimension.example()]
    })
}

fn machine() -> Value {
    table(
        &["id"],
        json!({
            "id": text("Short name: letters, digits, - and _."),
            "title": text("In the technician's words."),
            "reference": text("The node that voltages are given against; the battery's minus when not given."),
            "ground": text("The node that is the frame; the node where most parts meet when not given.")
        }),
    )
}

fn place() -> Value {
    table(
        &[],
        json!({
            "title": text("In the technician's words: under the seat."),
            "access": quantity(Dimension::Time, "Time to open it, paid once a job."),
            "caution": text("What to mind there.")
        }),
    )
}

fn control() -> Value {
    table(
        &["positions"],
        json!({
            "title": text("In the technician's words."),
            "positions": {
                "description": "The words for its positions, the one at rest first.",
                "anyOf": [
                    { "type": "string", "minLength": 1 },
                    { "type": "array", "items": { "type": "string" }, "minItems": 1, "uniqueItems": true }
                ]
            }
        }),
    )
}

fn state() -> Value {
    table(
        &[],
        json!({
            "title": text("In the technician's words."),
            "controls": {
                "type": "object",
                "description": "Where the controls stand; one that is not named is at its first position.",
                "additionalProperties": { "type": "string" }
            },
            "rotor": { "enum": ["blocked", "free"], "description": "Whether the rotor is held still." },
            "must": { "enum": ["refuse"], "description": "A start that has to be refused here." },
            "open": texts("Joints lifted and connectors unplugged: part or part.branch."),
            "running": { "type": "boolean", "description": "Whether the engine runs; the state `running` does." },
            "caution": text("What to mind in this state.")
        }),
    )
}

fn fault() -> Value {
    let scalar = json!({ "type": ["string", "number", "boolean"] });
    let resistance = json!({ "type": "string", "examples": [Dimension::Resistance.example()] });
    let list = json!({ "type": "array", "items": { "type": "string" }, "minItems": 3, "maxItems": 3 });
    let tabular = json!({
        "type": "object",
        "required": ["from", "to", "resistance"],
        "additionalProperties": false,
        "properties": { "from": { "type": "string" }, "to": { "type": "string" }, "resistance": resistance }
    });
    let mut form = table(
        &[],
        json!({
            "title": text("In the technician's words, a whole clause."),
            "odds": { "type": ["number", "string"], "minimum": 0, "maximum": 100, "default": 1,
                "description": "Weight, in percent of jobs." },
            "set": { "type": "object", "description": "Values that change: \"part.field\" = \"value\".",
                "additionalProperties": { "anyOf": [
                    scalar, { "type": "object", "additionalProperties": scalar }
                ] } },
            "open": texts("Paths that conduct no more: part or part.branch."),
            "bridge": { "description": "Two nodes and the resistance between them.",
                "anyOf": [list, tabular, { "type": "array", "items": { "anyOf": [list, tabular] } }] },
            "remedy": text("What mends it."),
            "minutes": { "type": ["number", "string"], "minimum": 0, "description": "Attended minutes of work, or a time." },
            "elapsed": { "type": ["number", "string"], "minimum": 0,
                "description": "Minutes until it is done, waiting included, or a time; as `minutes` when left out." }
        }),
    );
    form["anyOf"] = json!([{ "required": ["set"] }, { "required": ["open"] }, { "required": ["bridge"] }]);
    form
}

fn question() -> Value {
    let settings = json!({ "type": "object", "minProperties": 1,
        "additionalProperties": { "type": ["string", "number", "boolean", "object"] } });
    let mut form = table(
        &["asks"],
        json!({
            "asks": text("The question as it is put."),
            "hint": text("Where the answer is found."),
            "sets": texts("The part.field that takes the answer."),
            "answers": { "type": "object", "minProperties": 1, "additionalProperties": settings,
                "description": "Words to choose from, each with what it sets." }
        }),
    );
    form["oneOf"] = json!([{ "required": ["sets"] }, { "required": ["answers"] }]);
    form
}

fn meter() -> Value {
    table(
        &["sort"],
        json!({
            "title": text("In the technician's words."),
            "sort": { "enum": crate::sheet::METER_SORTS, "description": "What kind of instrument." },
            "counts": { "type": ["number", "string"], "minimum": 100, "default": 6000,
                "description": "Largest count of the display." },
            "accuracy": { "type": "string", "default": "0.5 % + 2",
                "description": "Percent of the reading + counts." },
            "leads": quantity(Dimension::Resistance, "Resistance of both leads.")
        }),
    )
}

/// A part of one kind.
fn part_of(kind: &Kind) -> Value {
    let mut required = vec!["kind"];
    let mut properties = Map::new();
    let mut add = |name: &str, form: Value| properties.insert(name.to_owned(), form);
    add("kind", json!({ "const": kind.name, "description": kind.summary }));
    add("title", text("In the technician's words."));
    add("at", text("The place where it sits."));
    add("color", text("Wire color in IEC 60757 letters; a hint, never evidence."));
    add("cavity", text("Connector cavity or terminal mark (30, 85); a hint, never evidence."));
    add("loom", text("What a wire can chafe against: the wires of the same loom."));
    match kind.terminals {
        Terminals::Ends { .. } => {
            for end in ["from", "to"] {
                required.push(end);
                add(end, text("part.terminal, or a splice's name."));
            }
        }
        Terminals::Named(names) => {
            for name in names {
                add(name, text("The part.terminal or splice that this terminal shares a node with."));
            }
        }
        Terminals::Ways => {
            required.push("ways");
            add("ways", texts("Names of its ways; way N has the terminals N-in and N-out."));
        }
        Terminals::None => {}
    }
    for field in kind.fields {
        if let Fallback::Required = field.fallback {
            required.push(field.name);
        }
        add(field.name, of_field(field));
    }
    let mut form = table(&required, Value::Object(properties));
    form["description"] = json!(kind.summary);
    if let Terminals::Ways = kind.terminals {
        form["patternProperties"] = json!({ "-(in|out)$": text("The part.terminal or splice at this end.") });
    }
    let alternatives = alternatives(kind);
    if !alternatives.is_empty() {
        form["allOf"] = Value::Array(alternatives);
    }
    form
}

/// Fields of which one, or else all of a set of others, must be given.
fn alternatives(kind: &Kind) -> Vec<Value> {
    let either = |field: &Field| {
        let Fallback::Or(sets) = field.fallback else { return None };
        let own = std::iter::once(json!({ "required": [field.name] }));
        let any: Vec<Value> = own.chain(sets.iter().map(|set| json!({ "required": set }))).collect();
        Some(json!({ "anyOf": any }))
    };
    kind.fields.iter().filter_map(either).collect()
}

fn of_field(field: &Field) -> Value {
    let mut form = match field.want {
        Want::Quantity(dimension) => quantity(dimension, field.doc),
        Want::Ratio { low, high } => {
            let mut form = json!({ "type": ["number", "string"], "description": field.doc });
            for (key, limit) in [("minimum", low), ("maximum", high)] {
                if limit.is_finite() {
                    form[key] = json!(limit);
                }
            }
            form
        }
        Want::Choice(words) => json!({ "enum": words, "description": field.doc }),
        Want::Flag => json!({ "type": "boolean", "description": field.doc }),
        Want::Controls => json!({
            "type": "object",
            "minProperties": 1,
            "description": field.doc,
            "additionalProperties": texts("Positions of this control.")
        }),
        Want::Part(kinds) => {
            json!({ "type": "string", "description": format!("{} A part of kind {}.", field.doc, kinds.join(" or ")) })
        }
    };
    if let Fallback::Text(text) = field.fallback {
        let number = text.parse::<f64>().ok().filter(|_| matches!(field.want, Want::Ratio { .. }));
        form["default"] = number.map_or_else(|| json!(text), |number| json!(number));
    }
    form
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_and_field_is_described() {
        let schema = schema();
        for kind in CATALOGUE {
            let form = &schema["definitions"][format!("kind-{}", kind.name)];
            assert_eq!(form["properties"]["kind"]["const"], kind.name);
            for field in kind.fields {
                let described = form["properties"][field.name]["description"].as_str();
                assert!(described.is_some_and(|text| !text.is_empty()), "{} {}", kind.name, field.name);
            }
        }
    }
}
