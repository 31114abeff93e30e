//! A timeline of the marked stretches for cutting: OpenTimelineIO JSON (`.otio`), schemas
//! `Timeline.1`, `Stack.1`, `Track.1`, `Clip.2`, `Marker.2`, `ExternalReference.1`,
//! `TimeRange.1` and `RationalTime.1` of OpenTimelineIO 0.15 and later.

use super::Mark;
use serde_json::{Value, json};

/// The video that the marks are of.
#[derive(Debug, Clone, PartialEq)]
pub struct Media {
    /// Name of the timeline.
    pub name: String,
    /// File or address of the video as the cutting program is to find it.
    pub url: String,
    /// Frames per second of the video, above 0.
    pub rate: f64,
}

/// One clip per mark, one after another on one video track, each cut from the same file; faults
/// are markers in their clip. Times are whole frames of the video.
#[must_use]
pub fn timeline(marks: &[Mark], media: &Media) -> String {
    let frame = |s: f64| (s * media.rate).round().max(0.0);
    let time =
        |value: f64| json!({"OTIO_SCHEMA": "RationalTime.1", "rate": media.rate, "value": value});
    let range = |from: f64, frames: f64| {
        json!({
            "OTIO_SCHEMA": "TimeRange.1",
            "start_time": time(from),
            "duration": time(frames),
        })
    };
    let clips: Vec<Value> = marks
        .iter()
        .map(|m| {
            let (from, to) = (frame(m.from_s), frame(m.to_s));
            let markers: Vec<Value> = m
                .faults
                .iter()
                .map(|(_, video_s, text)| {
                    json!({
                        "OTIO_SCHEMA": "Marker.2",
                        "name": text,
                        "color": "RED",
                        "comment": "",
                        "marked_range": range(frame(*video_s).clamp(from, to), 0.0),
                        "metadata": {},
                    })
                })
                .collect();
            json!({
                "OTIO_SCHEMA": "Clip.2",
                "name": m.line(),
                "enabled": true,
                "effects": [],
                "markers": markers,
                "source_range": range(from, (to - from).max(1.0)),
                "active_media_reference_key": "DEFAULT_MEDIA",
                "media_references": {
                    "DEFAULT_MEDIA": {
                        "OTIO_SCHEMA": "ExternalReference.1",
                        "name": "",
                        "target_url": media.url,
                        "available_range": null,
                        "available_image_bounds": null,
                        "metadata": {},
                    }
                },
                "metadata": {
                    "setdrift": {
                        "possession": m.possession,
                        "kind": m.kind,
                        "option": m.option,
                        "verdict": m.verdict,
                        "hand": m.hand,
                        "roles": m.roles,
                        "player": m.player,
                        "result": m.result,
                        "points": m.points,
                        "session_from_s": m.session_s.0,
                        "session_to_s": m.session_s.1,
                    }
                },
            })
        })
        .collect();
    let whole = json!({
        "OTIO_SCHEMA": "Timeline.1",
        "name": media.name,
        "global_start_time": null,
        "metadata": {},
        "tracks": {
            "OTIO_SCHEMA": "Stack.1",
            "name": "tracks",
            "enabled": true,
            "source_range": null,
            "effects": [],
            "markers": [],
            "metadata": {},
            "children": [{
                "OTIO_SCHEMA": "Track.1",
                "name": "marks",
                "kind": "Video",
                "enabled": true,
                "source_range": null,
                "effects": [],
                "markers": [],
                "metadata": {},
                "children": clips,
            }],
        },
    });
    format!("{whole:#}\n")
}
