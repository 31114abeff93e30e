//! The playbook to start from, and the schema for editors.
#![allow(clippy::unwrap_used, clippy::panic)]

use setdrift_playbook::{format, json_schema, load_str, scaffold};

#[test]
fn the_start_compiles_cleanly_under_any_name() {
    for name in ["Harbour", "\"quoted\" \\ é", "NAME"] {
        let s = scaffold(name);
        let c = load_str(&s, "new.toml").unwrap_or_else(|d| panic!("{d}"));
        assert!(c.warnings.list.is_empty(), "{}", c.warnings);
        assert_eq!(c.graph.name, name);
        assert_eq!(format(&s, "new.toml").unwrap(), s);
    }
}

/// The keys the schema allows are those the parser does: each is tried on the parser.
#[test]
fn the_schema_knows_the_keys_the_parser_knows() {
    let schema = json_schema();
    let keys = |at: &str| -> Vec<String> {
        schema
            .pointer(at)
            .unwrap()
            .as_object()
            .unwrap()
            .keys()
            .cloned()
            .collect()
    };
    let unknown = |text: &str| -> Vec<String> {
        setdrift_playbook::parse(text, "t")
            .err()
            .map_or_else(Vec::new, |d| {
                d.list
                    .iter()
                    .filter(|x| x.code == "unknown-key")
                    .map(|x| x.expected.clone())
                    .collect()
            })
    };
    for (at, text) in [
        ("/properties", "zz = 1"),
        (
            "/$defs/option/properties",
            "[formations.f]\n1='top'\n2='nail'\n[options.a]\nzz = 1",
        ),
        ("/properties/tolerance/properties", "[tolerance]\nzz = 1"),
        ("/properties/court/oneOf/1/properties", "[court]\nzz = 1"),
    ] {
        let said = unknown(text);
        assert_eq!(said.len(), 1, "{at}");
        let mut by_parser: Vec<String> = said[0]
            .trim_start_matches("one of: ")
            .split(", ")
            .map(str::to_owned)
            .collect();
        by_parser.sort();
        let mut by_schema = keys(at);
        by_schema.sort();
        assert_eq!(by_parser, by_schema, "{at}");
    }
}
