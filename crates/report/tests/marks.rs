//! Marks for video: the four formats say the same and keep their standards.

mod support;

use setdrift_report::marks::{
    Alignment, Around, Choice, Mark, Media, Moment, StretchVerdict, chapters, cut_list, marks,
    table, timeline,
};
use setdrift_season::reviewed::{Reviewed, ReviewedSession};
use setdrift_timing::model::{Kept, When};
use support::{Shape, results};

fn game() -> ReviewedSession {
    let reviewed = Reviewed::of(&results(Shape::SMALL)).expect("results make tables");
    reviewed.sessions[1].clone()
}

fn at(session_s: f64, video_s: f64) -> Alignment {
    Alignment::new(&[Moment { session_s, video_s }]).expect("one moment aligns")
}

fn some() -> Vec<Mark> {
    marks(
        &game(),
        &Choice::default(),
        &at(0.0, 61.5),
        Around::default(),
    )
}

#[test]
fn every_segment_has_its_mark_in_video_time() {
    let r = results(Shape::SMALL);
    let marks = some();
    let segments: Vec<_> = r.sessions[1]
        .readings
        .iter()
        .flat_map(|x| &x.segments)
        .collect();
    assert_eq!(marks.len(), segments.len());
    for (m, s) in marks.iter().zip(segments) {
        // Tables hold thousandths of a second.
        assert!((m.from_s - s.from_s - 61.5).abs() < 6e-4);
        assert!((m.to_s - s.to_s - 61.5).abs() < 6e-4);
    }
    assert!(
        marks
            .iter()
            .any(|m| m.kind == "option" && m.roles.len() == 5)
    );
}

#[test]
fn what_lies_before_the_video_is_left_out_or_cut_short() {
    let m = marks(
        &game(),
        &Choice::default(),
        &at(3.0, 0.0),
        Around::default(),
    );
    assert_eq!(m[0].from_s, 0.0);
    assert!(m[0].session_s.1 > 3.0);
}

#[test]
fn what_is_chosen_is_marked_and_nothing_else() {
    let reviewed = Reviewed::of(&results(Shape::FULL)).unwrap();
    let game = &reviewed.sessions[1];
    let of = |choice: Choice| marks(game, &choice, &at(0.0, 10.0), Around::default());
    let missed = of(Choice {
        cues: vec![When::Early, When::Late, When::Never],
        ..Choice::default()
    });
    let expected = game
        .cues
        .iter()
        .filter(|c| ["early", "late", "never"].contains(&c.verdict.as_str()))
        .count();
    assert!(expected > 0 && expected < game.cues.len());
    assert_eq!(missed.len(), expected);
    assert!(
        missed
            .iter()
            .all(|m| m.kind == "cue" && m.faults.len() == 1)
    );
    // A cue's mark holds both the cue and the start.
    for m in &missed {
        let c = game
            .cues
            .iter()
            .find(|c| c.possession == m.possession && c.text == m.title);
        let c = c.unwrap();
        let times = [c.cue_s, c.onset_s];
        assert!(
            times
                .iter()
                .flatten()
                .all(|t| m.session_s.0 <= *t && *t <= m.session_s.1)
        );
    }

    let broken = of(Choice {
        stretches: vec![StretchVerdict::Broken],
        ..Choice::default()
    });
    let rows: Vec<_> = game
        .stretches
        .iter()
        .filter(|s| s.verdict.starts_with("broken off"))
        .collect();
    assert_eq!(broken.len(), rows.len());

    let flare = of(Choice {
        options: vec!["flare".into()],
        ..Choice::default()
    });
    assert!(!flare.is_empty() && flare.iter().all(|m| m.option == "flare"));

    let places = of(Choice {
        places: vec![Kept::No],
        players: vec!["herons-23".into()],
        ..Choice::default()
    });
    assert!(!places.is_empty());
    assert!(
        places
            .iter()
            .all(|m| m.kind == "place" && m.player == "23 Tamsin")
    );
    assert!(
        of(Choice {
            players: vec!["otters-3".into()],
            ..Choice::default()
        })
        .is_empty()
    );
}

#[test]
fn time_around_is_added_and_stops_at_the_videos_beginning() {
    let around = Around {
        before_s: 2.0,
        after_s: 1.5,
    };
    let plain = some();
    let wide = marks(&game(), &Choice::default(), &at(0.0, 61.5), around);
    assert_eq!(plain.len(), wide.len());
    for (p, w) in plain.iter().zip(&wide) {
        assert!((p.from_s - 2.0 - w.from_s).abs() < 1e-9 && (p.to_s + 1.5 - w.to_s).abs() < 1e-9);
        assert_eq!(p.session_s, w.session_s);
    }
    let early = marks(&game(), &Choice::default(), &at(0.0, 0.5), around);
    assert_eq!(early[0].from_s, 0.0);
}

/// The structure that the WebVTT standard (W3C) asks of a file of chapters: signature,
/// blank line, then blocks of identifier, timings and one line of text; timings
/// `hh:mm:ss.ttt --> hh:mm:ss.ttt`, each ending after it begins, starts in order, none
/// overlapping another.
#[test]
fn chapters_are_webvtt() {
    let mut all = some();
    all[1].title = "</v> & --> \n\nNOTE".into();
    let vtt = chapters(&all);
    let mut blocks = vtt
        .strip_prefix("WEBVTT\n\n")
        .unwrap()
        .trim_end()
        .split("\n\n");
    let ms = |t: &str| -> u64 {
        let (clock, fraction) = t.split_once('.').unwrap();
        assert_eq!(fraction.len(), 3);
        let n: Vec<u64> = clock.split(':').map(|x| x.parse().unwrap()).collect();
        assert!(n.len() == 3 && n[1] < 60 && n[2] < 60);
        (n[0] * 3600 + n[1] * 60 + n[2]) * 1000 + fraction.parse::<u64>().unwrap()
    };
    let mut last = 0;
    for i in 1..=all.len() {
        let block = blocks.next().unwrap();
        let lines: Vec<&str> = block.lines().collect();
        assert_eq!(lines.len(), 3, "{block}");
        assert_eq!(lines[0], i.to_string());
        let (from, to) = lines[1].split_once(" --> ").unwrap();
        assert!(ms(from) >= last && ms(to) > ms(from), "{block}");
        last = ms(to);
        assert!(!lines[2].contains(['<', '>']) && !lines[2].is_empty());
    }
    assert!(blocks.next().is_none());
}

#[test]
fn the_table_has_as_many_cells_in_every_row() {
    let mut all = some();
    all[0].title = "a, \"b\"".into();
    let csv = table(&all);
    let rows: Vec<&str> = csv.split_terminator("\r\n").collect();
    assert_eq!(rows.len(), all.len() + 1);
    let cells = |row: &str| {
        let mut quoted = false;
        row.chars()
            .filter(|c| {
                quoted ^= *c == '"';
                *c == ',' && !quoted
            })
            .count()
    };
    assert!(rows.iter().all(|r| cells(r) == 14), "{csv}");
    assert!(rows[1].contains("\"a, \"\"b\"\"\""));
}

#[test]
fn the_timeline_cuts_whole_frames_from_the_video() {
    let all = some();
    let media = Media {
        name: "Game 1".into(),
        url: "game-1.mp4".into(),
        rate: 25.0,
    };
    let otio: serde_json::Value = serde_json::from_str(&timeline(&all, &media)).unwrap();
    assert_eq!(otio["OTIO_SCHEMA"], "Timeline.1");
    let clips = otio["tracks"]["children"][0]["children"]
        .as_array()
        .unwrap();
    assert_eq!(clips.len(), all.len());
    for (c, m) in clips.iter().zip(&all) {
        assert_eq!(c["OTIO_SCHEMA"], "Clip.2");
        let start = c["source_range"]["start_time"]["value"].as_f64().unwrap();
        let duration = c["source_range"]["duration"]["value"].as_f64().unwrap();
        assert!((start / 25.0 - m.from_s).abs() <= 0.5 / 25.0 + 1e-9);
        assert!(((start + duration) / 25.0 - m.to_s).abs() <= 0.5 / 25.0 + 1e-9);
        assert_eq!(start.fract() + duration.fract(), 0.0);
    }
}

#[test]
fn the_cut_list_is_one_command_a_mark_and_runs_nothing_from_data() {
    let mut all = some();
    all[0].title = "x'; touch pwned; echo '$(touch pwned)".into();
    let sh = cut_list(&all, true);
    let lines: Vec<&str> = sh.lines().filter(|l| l.starts_with("cut ")).collect();
    assert_eq!(lines.len(), all.len());
    for l in lines {
        assert!(
            l.chars()
                .all(|c| c.is_ascii_alphanumeric() || " .-".contains(c)),
            "{l}"
        );
    }
    // A shell reads it without complaint.
    let mut child = std::process::Command::new("sh")
        .arg("-n")
        .stdin(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    std::io::Write::write_all(&mut child.stdin.take().unwrap(), sh.as_bytes()).unwrap();
    assert!(child.wait().unwrap().success());
}
