//! The quality sheet.

use super::{indented, table, text};
use setdrift_season::results::{Results, SessionResults};
use setdrift_tracks::{Level, ObjectQuality, Player, Quality};

/// Every session's sheet: what holds for all of it, what it supports, and player by player.
pub fn sheet(results: &Results) -> String {
    results.sessions.iter().map(session).collect()
}

/// What is supported with caution or not at all, a line for each reason.
pub fn doubts(quality: &Quality) -> Vec<String> {
    let mut found: Vec<(Level, &str, Vec<&str>)> = Vec::new();
    for s in quality.supports.iter().filter(|s| s.level != Level::Yes) {
        let same = |f: &&mut (Level, &str, Vec<&str>)| f.0 == s.level && f.1 == s.reason;
        match found.iter_mut().find(same) {
            Some(f) => f.2.push(s.kind.words()),
            None => found.push((s.level, &s.reason, vec![s.kind.words()])),
        }
    }
    found.sort_by_key(|f| std::cmp::Reverse(f.0));
    found
        .into_iter()
        .map(|(level, reason, kinds)| {
            let level = match level {
                Level::No => "not supported",
                Level::Yes | Level::Caution => "with caution",
            };
            format!("{level}: {} ({reason})", kinds.join(", "))
        })
        .collect()
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

fn session(s: &SessionResults) -> String {
    let q = &s.quality;
    let mut out = format!("  {}\n", s.session.id);
    let mut known: Vec<String> = q
        .sides
        .iter()
        .filter(|side| side.on_floor > 0)
        .map(|side| {
            format!(
                "{} of {} on the floor known {} of the time",
                side.on_floor,
                side.team,
                percent(side.coverage)
            )
        })
        .collect();
    known.push(q.ball.as_ref().map_or_else(
        || "no ball".to_owned(),
        |b| {
            let height = if q.ball_height < 0.5 {
                ", no height"
            } else {
                ""
            };
            format!("ball known {}{height}", percent(b.measured + b.filled))
        },
    ));
    let smoothing = if q.smoothing.window == 0 {
        "not smoothed".to_owned()
    } else {
        format!(
            "smoothed over {} frames, beginnings moved by {:.0} ms at most",
            q.smoothing.window,
            (1000.0 * q.smoothing.onset_bound_s).max(1.0)
        )
    };
    out += &indented([
        known.join("; "),
        format!(
            "{:.1} samples a second, {}; position error {}; {smoothing}",
            q.source_hz,
            if q.jitter_s < 5e-5 {
                "evenly spaced".to_owned()
            } else {
                format!("uneven by {:.1} ms", 1000.0 * q.jitter_s)
            },
            if q.error_m().is_finite() {
                format!("{:.2} m", q.error_m())
            } else {
                "not known".to_owned()
            }
        ),
    ]);
    if !q.switched_off.is_empty() {
        out += &indented([format!(
            "cleaning steps switched off: {}",
            q.switched_off.join(", ")
        )]);
    }
    let named = |i: usize| {
        s.session
            .players
            .get(i)
            .map_or_else(String::new, Player::label)
    };
    out += &indented(q.swaps.iter().map(|w| {
        format!(
            "{} and {} exchanged at {}: {}",
            named(w.players.0),
            named(w.players.1),
            setdrift_season::words::clock(w.time_s),
            match (w.mended, w.by_hand) {
                (true, false) => "undone".to_owned(),
                (true, true) => "undone by hand".to_owned(),
                (false, true) => "not so, said by hand".to_owned(),
                (false, false) => format!("in doubt, both unknown for {:.0} s", w.unknown_s),
            }
        )
    }));
    if !q.meetings.is_empty() {
        let n = q.meetings.len();
        out += &indented([format!(
            "{n} meeting{} so close that an exchange of the two would not show (table meetings)",
            if n == 1 { "" } else { "s" }
        )]);
    }
    let mut t = table(&["supported", "verdict", "why"], 0..0);
    for x in &q.supports {
        // Why yes is said above the table.
        let why = if x.level == Level::Yes {
            String::new()
        } else {
            x.reason.clone()
        };
        t.add_row([x.level.to_string(), x.kind.words().to_owned(), why]);
    }
    out += &text(&t);
    let mut t = table(
        &[
            "player",
            "seen",
            "gaps",
            "longest",
            "error",
            "cut",
            "exchanged",
        ],
        1..7,
    );
    let labels = (0..q.players.len()).map(named).chain(["ball".to_owned()]);
    for (p, label) in q.players.iter().chain(&q.ball).zip(labels) {
        if p.measured + p.filled > 0.0 {
            t.add_row(row(p, label, q.length_s));
        }
    }
    out + &text(&t)
}

fn row(p: &ObjectQuality, label: String, length_s: f64) -> [String; 7] {
    let error = if p.error_m.is_finite() {
        p.error_m
    } else {
        p.noise_m
    };
    let some = |yes: bool, text: String| if yes { text } else { "–".to_owned() };
    [
        label,
        format!("{:.1} min", (p.measured + p.filled) * length_s / 60.0),
        p.gaps.to_string(),
        some(p.gaps > 0, format!("{:.1} s", p.longest_gap_s)),
        some(error.is_finite(), format!("{error:.2} m")),
        (p.jumps_cut + p.spikes_cut).to_string(),
        some(
            p.swaps_mended + p.swaps_doubtful > 0,
            format!("{}", p.swaps_mended + p.swaps_doubtful),
        ),
    ]
}
