//! The page as text: what it says, what it must never hold.

mod support;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use setdrift_recognise::model::What;
use setdrift_report::{PageOptions, page};
use setdrift_season::results::Results;
use setdrift_tracks::Meeting;
use sha2::{Digest, Sha256};
use support::{Shape, results};

fn small() -> Results {
    results(Shape::SMALL)
}

fn write(r: &Results) -> String {
    page(r, &PageOptions::default())
}

/// The text between two marks, the first time they occur.
fn between<'a>(text: &'a str, open: &str, close: &str) -> &'a str {
    let from = text.find(open).expect(open) + open.len();
    let to = text[from..].find(close).expect(close);
    &text[from..from + to]
}

#[test]
fn the_same_results_give_the_same_bytes() {
    assert_eq!(write(&small()), write(&small()));
}

#[test]
fn nothing_is_loaded_from_anywhere() {
    let html = write(&small());
    for forbidden in [
        "src=",
        "@import",
        "href=\"http",
        "href=\"//",
        "<link",
        "<iframe",
        "<img",
        "fetch(",
        "XMLHttpRequest",
        "WebSocket",
        "sendBeacon",
        "import(",
    ] {
        assert!(!html.contains(forbidden), "{forbidden}");
    }
    // The only address is the SVG namespace, a name that is never fetched.
    for (at, _) in html.match_indices("http") {
        let rest = &html[at..];
        assert!(
            rest.starts_with("http-equiv") || rest.starts_with("http://www.w3.org/2000/svg\""),
            "{}",
            &rest[..60]
        );
    }
    for (at, _) in html.match_indices("url(") {
        assert!(html[at..].starts_with("url(#"));
    }
}

/// W3C Content Security Policy Level 3: a hash source allows the one inline element whose text
/// has that SHA-256 digest; everything else, `style` attributes and event handlers included, is
/// refused.
#[test]
fn the_policy_allows_this_style_and_this_script_alone() {
    let html = write(&small());
    let policy = between(&html, "Content-Security-Policy\" content=\"", "\"");
    assert!(policy.starts_with("default-src 'none';"), "{policy}");
    assert!(!policy.contains("unsafe"), "{policy}");
    for (directive, open, close) in [
        ("style-src", "<style>", "</style>"),
        ("script-src", "<script>", "</script>"),
    ] {
        let digest = STANDARD.encode(Sha256::digest(between(&html, open, close).as_bytes()));
        assert!(policy.contains(&format!("{directive} 'sha256-{digest}'")));
    }
    assert!(
        !html.contains(" style=\""),
        "a style attribute would be refused"
    );
    assert!(
        !html.contains(" onclick="),
        "a handler attribute would be refused"
    );
}

#[test]
fn hostile_names_stay_text() {
    let r = support::hostile();
    let bad = support::HOSTILE;
    let html = page(
        &r,
        &PageOptions {
            title: Some(bad.into()),
            note: Some(bad.into()),
        },
    );
    assert!(!html.contains("<img"));
    assert!(!html.contains("<!--"));
    assert_eq!(html.matches("</script>").count(), 2);
    assert_eq!(html.matches("</style>").count(), 1);
    assert!(html.contains("&lt;/script&gt;&lt;/style&gt;&lt;img src=x"));
}

#[test]
fn the_summary_counts_what_is_there() {
    let r = results(Shape::FULL);
    let html = write(&r);
    let possessions: usize = r.sessions.iter().map(|s| s.possessions.len()).sum();
    assert!(html.contains(&format!("{possessions} possessions in 4 sessions")));
    let runs = |option: usize| {
        r.sessions
            .iter()
            .flat_map(|s| &s.readings)
            .flat_map(|x| &x.segments)
            .filter(|s| matches!(&s.what, What::Option(run) if run.option == option))
            .count()
    };
    assert!(html.contains(&format!("<b>Zipper entry</b> {} times", runs(0))));
    assert!(html.contains("Never seen: <b>Hand-back</b>."));
    assert_eq!(html.matches("<li id=\"s").count(), possessions);
}

#[test]
fn nothing_at_all_is_said_and_not_a_panic() {
    let mut r = small();
    for s in &mut r.sessions {
        s.possessions.clear();
        s.readings.clear();
        s.audit = Default::default();
        s.story = Default::default();
    }
    r.stretches.clear();
    r.grouping.groups.clear();
    r.grouping.noise.clear();
    r.drift.clear();
    r.lags.clear();
    let html = write(&r);
    assert!(html.contains("No possession was found in the tracks."));
    r.sessions.clear();
    let html = write(&r);
    assert!(html.contains("No declared option was recognised."));
}

#[test]
fn a_page_of_three_games_and_a_practice_stays_small() {
    let html = write(&results(Shape::FULL));
    assert!(html.len() < 6_000_000, "{} bytes", html.len());
}

#[test]
fn where_two_may_have_been_exchanged_is_a_link_into_the_replay() {
    let mut r = small();
    let at = r
        .sessions
        .iter()
        .position(|s| s.possessions.iter().any(|p| p.defenders.len() > 1))
        .unwrap();
    let guarded = r.sessions[at]
        .possessions
        .iter()
        .find(|p| p.defenders.len() > 1);
    let p = guarded.unwrap().clone();
    let (a, b, c) = (p.attackers[0], p.attackers[1], p.attackers[2]);
    let (d, e) = (p.defenders[0], p.defenders[1]);
    let meeting = |players, from_s, odds_log10| Meeting {
        players,
        from_s,
        to_s: from_s + 0.4,
        odds_log10,
    };
    let nobody = r.sessions[at].session.players.len();
    r.sessions[at].quality.meetings = vec![
        meeting((a, b), p.from_s + 3.0, -2.0),
        meeting((b, c), p.from_s + 4.0, 1.0),
        // Not in any possession: told, without a link.
        meeting((a, b), -100.0, 2.0),
        meeting((a, nobody), p.from_s + 3.0, 2.0),
        meeting((d, e), p.from_s + 3.0, 2.0),
    ];
    let html = write(&r);
    let who = between(&html, "<ul class=\"who\">", "</ul><h3>");
    assert!(
        who.contains(
            "1 moment worth a look; 1 less likely; 3 outside possessions or between two opponents."
        ),
        "{who}"
    );
    let link = |t: f64| format!("href=\"#s{at}p{}\" data-t=\"{t:.2}\">", p.number);
    let (likely, other) = (
        who.find(&link(p.from_s + 3.0)).unwrap(),
        who.find(&link(p.from_s + 2.0)).unwrap(),
    );
    assert!(likely < other, "the likeliest first");
    let label = |i: usize| r.sessions[at].session.players[i].label();
    assert!(who[likely..].contains(&format!("{} and {}", label(b), label(c))));
    let html = write(&small());
    assert!(html.contains("nothing that needs a look."));
}

/// Reads the packed tracks with a reader of its own: seven bits a byte, zigzag, centimetres.
#[test]
fn replay_tracks_are_the_tracks_to_a_centimetre() {
    struct Bytes(std::vec::IntoIter<u8>);
    impl Bytes {
        fn unsigned(&mut self) -> u32 {
            let (mut v, mut shift) = (0, 0);
            loop {
                let b = self.0.next().unwrap();
                v |= u32::from(b & 0x7f) << shift;
                shift += 7;
                if b < 0x80 {
                    return v;
                }
            }
        }
        fn signed(&mut self) -> i32 {
            let z = self.unsigned();
            (z >> 1) as i32 ^ -((z & 1) as i32)
        }
    }
    let r = small();
    let html = write(&r);
    let json: serde_json::Value = serde_json::from_str(between(
        &html,
        "<script type=\"application/json\" id=\"payload\">",
        "</script>",
    ))
    .unwrap();
    let mut checked = 0;
    for p in json["possessions"].as_array().unwrap() {
        let s = &r.sessions[p["s"].as_u64().unwrap() as usize];
        let possession = &s.possessions[p["n"].as_u64().unwrap() as usize - 1];
        let raw = STANDARD.decode(p["tracks"].as_str().unwrap()).unwrap();
        let mut bytes = Bytes(raw.into_iter());
        let frames = p["frames"].as_u64().unwrap() as usize;
        let t0 = p["t0"].as_f64().unwrap();
        let players = possession.attackers.iter().chain(&possession.defenders);
        let tracks = players
            .map(|i| &s.session.tracks[*i])
            .chain(s.session.ball.as_ref());
        for track in tracks {
            let runs = bytes.unsigned();
            let mut known = Vec::new();
            for _ in 0..runs {
                let v = bytes.unsigned();
                known.extend(std::iter::repeat_n(v % 3, (v / 3) as usize));
            }
            assert_eq!(known.len(), frames);
            let (mut x, mut y) = (0, 0);
            for (f, k) in known.iter().enumerate() {
                if *k == 2 {
                    continue;
                }
                x += bytes.signed();
                y += bytes.signed();
                // A practice at 10 Hz has a frame at every replay frame.
                if s.session.rate_hz == 10.0 {
                    let frame = s.session.frame_at(t0 + f as f64 / 10.0);
                    let want = track
                        .at(frame)
                        .unwrap()
                        .to_attack(&s.session.court, possession.end);
                    assert!((f64::from(x) / 100.0 - want.x).abs() < 0.006);
                    assert!((f64::from(y) / 100.0 - want.y).abs() < 0.006);
                    checked += 1;
                }
            }
        }
        assert!(bytes.0.next().is_none(), "bytes left over");
    }
    assert!(checked > 500, "{checked}");
}
