//! Round trips over generated playbooks, and hostile text.
#![allow(clippy::unwrap_used, clippy::panic)]

use proptest::prelude::*;
use setdrift_playbook::{format, load_str, parse, patterns, to_text};

const SPOTS: [&str; 14] = [
    "top",
    "left slot",
    "right slot",
    "left wing",
    "right wing",
    "left corner",
    "right corner",
    "left elbow",
    "right elbow",
    "left block",
    "right block",
    "left short corner",
    "right short corner",
    "high post",
];

/// A playbook that makes sense: everyone goes to a spot nobody has, the ball goes from hand to
/// hand. `dice` decides.
fn book(dice: &[u8]) -> String {
    let mut dice = dice.iter().copied().cycle();
    let mut roll = |n: usize| usize::from(dice.next().unwrap_or(0)) % n.max(1);
    let units = ["m", "ft", "cm"][roll(3)];
    let court = ["fiba", "nba", "ncaa", "nfhs"][roll(4)];
    let mut free: Vec<&str> = SPOTS.to_vec();
    let mut at: Vec<String> = Vec::new();
    for _ in 0..5 {
        let k = roll(free.len());
        at.push(free.remove(k).to_owned());
    }
    let mut s = format!("name = \"Trial\"\ncourt = \"{court}\"\nunits = \"{units}\"\n");
    if roll(2) == 0 {
        s.push_str(&format!("[tolerance]\nmove = 1{}.{}\n", roll(9), roll(9)));
    }
    let k = match units {
        "m" => 1.0,
        "ft" => 3.0,
        _ => 100.0,
    };
    s.push_str(&format!(
        "[spots]\n\"far away\" = [{}, {}]\n[formations.set]\n",
        9.0 * k + 0.1 * roll(7) as f64,
        -0.3 * k * roll(5) as f64
    ));
    for (i, p) in at.iter().enumerate() {
        s.push_str(&format!("{} = \"{p}\"\n", i + 1));
    }
    s.push_str("ball = 1\n");
    let mut before = "set".to_owned();
    let mut ball = 0;
    let options = 1 + roll(4);
    for o in 0..options {
        s.push_str(&format!("[options.o{o}]\nafter = [\"{before}\"]\n"));
        if roll(3) == 0 {
            s.push_str("read = \"when X2 is above 2\"\nseries = \"a \\\"b\\\"\"\n");
        }
        if roll(3) == 0 {
            s.push_str("expect = [\"spacing at least 1 m among 1 2\", \"ball side 0 to 5\"]\n");
        }
        s.push_str("steps = [\n");
        for _ in 0..1 + roll(3) {
            let mut step = Vec::new();
            let mut moved = [false; 5];
            for _ in 0..1 + roll(3) {
                let r = roll(5);
                if moved[r] || free.is_empty() {
                    continue;
                }
                moved[r] = true;
                let k = roll(free.len());
                let to = free.remove(k).to_owned();
                let verb = if r == ball {
                    "dribbles"
                } else {
                    ["cuts", "lifts", "back cuts", "clears", "rolls", "drifts"][roll(6)]
                };
                let tail = ["", " give or take 1 m", " behind the arc", " via far away"][roll(4)];
                step.push(format!("{} {verb} to {to}{tail}", r + 1));
                free.push(Box::leak(at[r].clone().into_boxed_str()));
                at[r] = to;
            }
            if roll(2) == 0 {
                let to = (ball + 1 + roll(4)) % 5;
                let how = ["passes", "skip passes", "lob passes"][roll(3)];
                step.push(format!("{} {how} to {}", ball + 1, to + 1));
                ball = to;
            }
            if step.is_empty() {
                step.push("everyone holds".to_owned());
            }
            s.push_str(&format!("  {step:?},\n"));
        }
        s.push_str("]\n");
        before = format!("o{o}");
        if o + 1 == options {
            s.push_str("returns = \"set\"\n");
        }
    }
    s
}

/// 150 of each, or what `PROPTEST_CASES` says: `.ci/run` asks for many more.
fn config() -> ProptestConfig {
    let more = std::env::var_os("PROPTEST_CASES").is_some();
    ProptestConfig {
        cases: if more {
            ProptestConfig::default().cases
        } else {
            150
        },
        // Books whose players would meet are refused, so some are passed over.
        max_global_rejects: u32::MAX,
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(config())]

    /// Graph to text to graph is the identity.
    #[test]
    fn text_of_a_graph_gives_the_graph(dice in prop::collection::vec(any::<u8>(), 40..120)) {
        let source = book(&dice);
        // Movers may still meet somewhere; those books are refused, and few.
        let compiled = load_str(&source, "trial.toml");
        prop_assume!(compiled.is_ok());
        let g = compiled.unwrap().graph;
        let text = to_text(&g).unwrap();
        let again = load_str(&text, "trial.toml").map_err(|d| TestCaseError::fail(d.to_string()))?;
        prop_assert!(again.graph == g, "{text}");
        prop_assert_eq!(to_text(&again.graph).unwrap(), text);
    }

    /// Formatting keeps what is meant, and formatting again changes nothing.
    #[test]
    fn formatting_keeps_the_graph(dice in prop::collection::vec(any::<u8>(), 40..120)) {
        let source = book(&dice);
        let once = format(&source, "t").unwrap();
        prop_assert_eq!(format(&once, "t").unwrap(), once.clone());
        if let Ok(c) = load_str(&source, "t") {
            prop_assert!(load_str(&once, "t").unwrap().graph == c.graph);
        }
    }

    /// Any text at all is read or refused, with places inside it.
    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,300}") {
        check_places(&text);
    }

    /// So is anything made of the language's own words.
    #[test]
    fn words_in_any_order_are_read_or_refused(picks in prop::collection::vec(any::<u16>(), 1..14)) {
        let vocabulary = words();
        let sentence: Vec<&str> = picks
            .iter()
            .map(|p| vocabulary[usize::from(*p) % vocabulary.len()].as_str())
            .collect();
        let sentence = sentence.join(" ");
        check_places(&format!(
            "name = \"t\"\n[formations.f]\n1 = \"top\"\n2 = \"nail\"\n3 = \"left wing\"\nball = 1\n\
             [options.a]\nafter = [\"f\"]\nsteps = [[{sentence:?}], [\"1 {sentence}\"]]\n\
             expect = [{sentence:?}]\nread = \"when X1 {sentence}\"\n"
        ));
    }

    /// And a good playbook with pieces cut out, doubled or changed.
    #[test]
    fn a_damaged_playbook_is_read_or_refused(
        hits in prop::collection::vec((any::<u32>(), 0u8..4, any::<u8>()), 1..6)
    ) {
        let mut bytes = lantern().into_bytes();
        for (at, how, with) in hits {
            let i = at as usize % bytes.len();
            match how {
                0 => { bytes.remove(i); }
                1 => bytes.insert(i, with),
                2 => bytes[i] = with,
                _ => {
                    let j = (i + usize::from(with)).min(bytes.len());
                    let piece = bytes[i..j].to_vec();
                    bytes.splice(i..i, piece);
                }
            }
        }
        check_places(&String::from_utf8_lossy(&bytes));
    }
}

fn lantern() -> String {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../sample-tracks/lantern.toml"
    );
    std::fs::read_to_string(path).unwrap()
}

fn words() -> Vec<String> {
    let mut all: Vec<String> = patterns()
        .into_iter()
        .flat_map(|(_, rows)| rows)
        .flat_map(|p| {
            format!("{} {}", p.pattern, p.example)
                .split(' ')
                .map(str::to_owned)
                .collect::<Vec<_>>()
        })
        .collect();
    all.extend(
        [
            "1", "2", "3", "99999", "-1", "NaN", "1e309", "ft", "é", "X9", "the",
        ]
        .map(str::to_owned),
    );
    all.sort();
    all.dedup();
    all
}

fn check_places(text: &str) {
    let _ = format(text, "t");
    let found = match parse(text, "t") {
        Ok(b) => match b.compile() {
            Ok(_) => return,
            Err(d) => d,
        },
        Err(d) => d,
    };
    assert!(found.has_errors());
    for d in &found.list {
        assert!(d.line >= 1 && d.column >= 1);
        assert!(d.span.start <= d.span.end && d.span.end <= text.len());
        assert!(text.is_char_boundary(d.span.start) && text.is_char_boundary(d.span.end));
        assert!(!d.message.is_empty());
    }
}

/// Text built to cost time or memory is cut short: too large a file, lists in lists, thousands of
/// mistakes, loops that never come back to one arrangement, waits without end.
#[test]
fn hostile_text_is_cut_short() {
    assert_eq!(
        parse(&"#".repeat(300_000), "t").unwrap_err().list[0].code,
        "too-large"
    );
    assert!(parse(&format!("a = {}", "[".repeat(100_000)), "t").is_err());
    assert!(parse(&format!("a{} = 1", ".a".repeat(50_000)), "t").is_err());

    let head = "name = \"t\"\n[formations.f]\n1 = \"top\"\n2 = \"nail\"\n3 = \"left wing\"\n";
    let wrong = format!(
        "{head}[options.a]\nafter = [\"f\"]\nsteps = [{}]",
        "[\"lft wng\"],".repeat(20)
    );
    assert!(parse(&wrong, "t").unwrap_err().list.len() <= 201);
    let keys: String = (0..9000).map(|i| format!("kez{i} = 1\n")).collect();
    assert!(parse(&format!("{keys}{head}"), "t").unwrap_err().list.len() <= 210);

    let drift = format!(
        "{head}[options.a]\nafter = [\"f\", \"a\"]\n\
         steps = [[\"1 cuts to 40 cm above 1\", \"2 cuts to 35 cm left of 2\"]]\n"
    );
    let found = load_str(&drift, "t").unwrap_err();
    assert!(
        found.list.iter().any(|d| d.code == "grows-too-large"),
        "{found}"
    );

    let waits = format!(
        "{head}[options.a]\nafter = [\"f\"]\nsteps = [[{}]]\n",
        "\"1 waits 30 s\",".repeat(19)
    );
    let found = load_str(&waits, "t").unwrap_err();
    assert!(found.list.iter().any(|d| d.code == "step-too-long"));
}

/// The round trip above is about something: most generated books compile.
#[test]
fn most_generated_books_compile() {
    let good = (0..60u8)
        .filter(|i| {
            let dice: Vec<u8> = (0..97u8)
                .map(|k| k.wrapping_mul(37).wrapping_add(i.wrapping_mul(k | 1)) >> 1)
                .collect();
            load_str(&book(&dice), "t").is_ok()
        })
        .count();
    assert!(good >= 30, "{good} of 60");
}
