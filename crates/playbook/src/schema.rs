//! The JSON Schema of a playbook, for editors, made from the tables the parser reads.

use crate::book::TOLERANCES;
use crate::grammar::patterns;
use crate::read_book::{COURT_KEYS, MAX_SENTENCES, MAX_STEPS};
use serde_json::{Map, Value, json};
use setdrift_court::{Court, spot_names};

/// The schema (JSON Schema 2020-12) of a playbook file. It tells an editor the keys, their kinds
/// and what sentences look like; whether a sentence is understood, only `parse` can tell.
#[must_use]
pub fn json_schema() -> Value {
    let examples = |chapter: &str| -> Vec<&'static str> {
        patterns()
            .into_iter()
            .filter(|(c, _)| *c == chapter)
            .flat_map(|(_, rows)| rows.into_iter().map(|p| p.example))
            .collect()
    };
    let forms = |chapter: &str| -> String {
        let all: Vec<String> = patterns()
            .into_iter()
            .filter(|(c, _)| *c == chapter)
            .flat_map(|(_, rows)| rows.into_iter().map(|p| p.pattern))
            .collect();
        all.join("; ")
    };
    let number = json!({ "type": "number" });
    let words = json!({ "type": "string", "minLength": 1 });
    let one_or_many = |item: &str, what: String| {
        json!({
            "description": what,
            "oneOf": [
                { "$ref": format!("#/$defs/{item}") },
                { "type": "array", "items": { "$ref": format!("#/$defs/{item}") } }
            ]
        })
    };
    let court_measures: Map<String, Value> = COURT_KEYS
        .iter()
        .map(|k| ((*k).to_owned(), number.clone()))
        .collect();
    let tolerances: Map<String, Value> = TOLERANCES
        .iter()
        .map(|(k, _)| {
            (
                (*k).to_owned(),
                json!({ "type": "number", "exclusiveMinimum": 0 }),
            )
        })
        .collect();
    let names: Vec<&str> = spot_names().collect();
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "setdrift playbook",
        "type": "object",
        "required": ["name", "formations", "options"],
        "additionalProperties": false,
        "properties": {
            "name": { "type": "string", "minLength": 1, "description": "The offence's name." },
            "court": {
                "description": "A rule book's floor by name, or one's own measures in `units`.",
                "oneOf": [
                    { "enum": Court::NAMES },
                    {
                        "type": "object",
                        "additionalProperties": false,
                        "properties": court_measures
                    }
                ]
            },
            "units": {
                "description": "Unit of numbers without one.",
                "enum": ["m", "metre", "metres", "meter", "meters", "ft", "foot", "feet",
                         "cm", "centimetre", "centimetres", "centimeter", "centimeters"]
            },
            "tolerance": {
                "description": "How far from the drawn path still counts as running it, in `units`.",
                "type": "object",
                "additionalProperties": false,
                "properties": tolerances
            },
            "spots": {
                "description": format!(
                    "Spots beside the built-in ones ({}): distance from the end line, distance \
                     to the right of the middle as one faces the basket.",
                    names.join(", ")
                ),
                "type": "object",
                "additionalProperties": {
                    "type": "array", "items": number, "minItems": 2, "maxItems": 2
                }
            },
            "formations": {
                "description": "Starting arrangements: a place per role, and who has the ball.",
                "type": "object",
                "minProperties": 1,
                "additionalProperties": {
                    "type": "object",
                    "minProperties": 2,
                    "properties": { "ball": { "$ref": "#/$defs/role" } },
                    "additionalProperties": words
                }
            },
            "options": {
                "type": "object",
                "minProperties": 1,
                "additionalProperties": { "$ref": "#/$defs/option" }
            }
        },
        "$defs": {
            "role": { "type": ["string", "integer"], "description": "A role's name." },
            "words": words,
            "sentence": {
                "type": "string",
                "minLength": 1,
                "description": format!("{}. Then: {}", forms("Actions"),
                                       forms("What may follow an action")),
                "examples": examples("Actions")
            },
            "expectation": {
                "type": "string",
                "minLength": 1,
                "description": forms("Expectations"),
                "examples": examples("Expectations")
            },
            "read": {
                "type": "string",
                "minLength": 1,
                "description": forms("Reads"),
                "examples": examples("Reads")
            },
            "option": {
                "type": "object",
                "required": ["after", "steps"],
                "additionalProperties": false,
                "properties": {
                    "title": { "type": "string", "minLength": 1 },
                    "series": { "type": "string", "minLength": 1 },
                    "after": one_or_many("words",
                        "Formations or options it may follow; `flare step 1` for a step.".into()),
                    "steps": {
                        "type": "array",
                        "minItems": 1,
                        "maxItems": MAX_STEPS,
                        "items": {
                            "oneOf": [
                                { "$ref": "#/$defs/sentence" },
                                {
                                    "type": "array",
                                    "minItems": 1,
                                    "maxItems": MAX_SENTENCES,
                                    "items": { "$ref": "#/$defs/sentence" }
                                }
                            ]
                        }
                    },
                    "expect": one_or_many("expectation",
                        "What is expected over the whole option.".into()),
                    "returns": {
                        "type": "string",
                        "minLength": 1,
                        "description": "The formation everyone fills when it ends."
                    },
                    "refill": {
                        "type": "object",
                        "description": "Who fills which role then: new role = old role. The \
                                        others fill the nearest place left.",
                        "additionalProperties": { "$ref": "#/$defs/role" }
                    },
                    "read": one_or_many("read",
                        "What the defence must be doing for it to be the right choice.".into())
                }
            }
        }
    })
}
