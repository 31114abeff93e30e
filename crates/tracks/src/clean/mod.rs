//! From raw tracks to a session: uniform frames, impossible movement cut out, short gaps filled,
//! long ones left unknown.

mod crowd;
mod fill;
mod filter;
mod grid;
mod jumps;
mod noise;
mod onset;
mod settings;
mod smooth;
mod swaps;

pub use settings::Cleaning;
pub use smooth::{SavitzkyGolay, Smoothing};
pub(crate) use swaps::{exchange_samples, moment};

use crate::error::Problem;
use crate::limits;
use crate::quality::{ObjectQuality, Quality};
use crate::raw::{RawTracks, Samples};
use crate::session::{Known, Session, SessionParts, Track};
use rayon::prelude::*;

/// Clean raw tracks into a session.
///
/// `resample` is the rate to bring the session to, frames per second; `None` keeps the sensor's.
///
/// # Errors
/// [`Problem::TooMany`] for more players of a side than rules allow, [`Problem::Rate`] where no
/// frame rate is said or found, [`Problem::Limit`], or a bad setting.
pub fn clean(
    raw: &RawTracks,
    settings: &Cleaning,
    resample: Option<f64>,
) -> Result<(Session, Quality), Problem> {
    settings.check()?;
    let (start, end) = raw.span().ok_or(Problem::NoPlayers)?;
    let found = grid::find_rate(raw)?;
    let source_hz = found.rate_hz;
    let rate_hz = resample.unwrap_or(source_hz);
    let frames = ((end - start) * rate_hz).round() + 1.0;
    let objects = raw.samples.len() + usize::from(raw.ball.is_some());
    if frames * objects as f64 > limits::SAMPLES {
        return Err(Problem::Limit {
            what: "frames times objects",
            found: format!("{:.0}", frames * objects as f64),
            limit: format!("{:.0}", limits::SAMPLES),
        });
    }
    let frames = frames as usize;
    let axis = grid::Axis {
        start,
        rate_hz,
        source_hz,
        frames,
    };
    let smoothing = Smoothing::for_rate(settings, rate_hz);
    let m = raw.court.measures();
    let floor = (m.length / 2.0, m.width / 2.0);
    let placed = |s: &Samples| place(s, Object::Player, settings, axis, floor);
    let (mut tracks, mut sheets): (Vec<Track>, Vec<ObjectQuality>) =
        raw.samples.par_iter().map(placed).unzip();
    let (mut swaps, meetings) = if settings.mend_swaps {
        swaps::mend(raw, settings, axis, &mut tracks, &mut sheets, &placed)
    } else {
        (Vec::new(), Vec::new())
    };
    swaps::add_said(raw, axis, &tracks, &mut sheets, &mut swaps);
    tracks
        .par_iter_mut()
        .zip(&mut sheets)
        .for_each(|(track, sheet)| {
            sheet.error_m = noise::wandering(track, axis.rate_hz, sheet.noise_m);
            finish(track, Object::Player, settings, axis, &smoothing);
        });
    let ball = raw.ball.as_ref().map(|s| {
        let (mut track, sheet) = place(s, Object::Ball, settings, axis, floor);
        finish(&mut track, Object::Ball, settings, axis, &smoothing);
        (track, sheet)
    });
    for (sheet, p) in sheets.iter_mut().zip(&raw.players) {
        sheet.id.clone_from(&p.id);
        sheet.team = Some(raw.teams[p.team].id.clone());
    }
    crowd::check(raw, &mut tracks, &mut sheets, axis)?;
    let (ball, ball_sheet) = ball.unzip();
    let ball_sheet = ball_sheet.map(|mut s: ObjectQuality| {
        "ball".clone_into(&mut s.id);
        s
    });
    sheets
        .par_iter_mut()
        .zip(&tracks)
        .for_each(|(sheet, track)| sheet.describe(track, rate_hz));
    let ball_sheet = ball_sheet.map(|mut s| {
        if let Some(track) = &ball {
            s.describe(track, rate_hz);
        }
        s
    });
    let session = Session::new(SessionParts {
        id: raw.id.clone(),
        date: raw.date.clone(),
        kind: raw.kind,
        opponent: raw.opponent.clone(),
        court: raw.court.clone(),
        rate_hz,
        start_s: start,
        teams: raw.teams.clone(),
        players: raw.players.clone(),
        tracks,
        ball,
        ends: raw.ends.clone(),
    })?;
    let quality = Quality::new(
        &session,
        source_hz,
        found.jitter_s,
        (settings, smoothing),
        sheets,
        ball_sheet,
        (swaps, meetings),
    );
    Ok((session, quality))
}

/// Noise per axis from frame to frame, and with what wanders over about half a second, of a track
/// that came on frames, metres. NaN where the track is too short.
#[must_use]
pub fn noise_of(track: &Track, rate_hz: f64) -> (f64, f64) {
    let seen: Vec<usize> = (0..track.len())
        .filter(|f| track.known[*f] == Known::Measured)
        .collect();
    let samples = Samples {
        t: seen.iter().map(|f| *f as f64 / rate_hz).collect(),
        x: seen.iter().map(|f| track.x[*f]).collect(),
        y: seen.iter().map(|f| track.y[*f]).collect(),
        z: None,
    };
    let white = noise::white(&samples);
    (white, noise::wandering(track, rate_hz, white))
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Object {
    Player,
    Ball,
}

/// Cut what is impossible, put on frames, leave the floor.
fn place(
    samples: &Samples,
    object: Object,
    settings: &Cleaning,
    axis: grid::Axis,
    floor: (f64, f64),
) -> (Track, ObjectQuality) {
    let mut sheet = ObjectQuality {
        noise_m: noise::white(samples),
        error_m: f64::NAN,
        ..ObjectQuality::default()
    };
    let kept = if settings.cut_jumps {
        let limit = match object {
            Object::Player => settings.max_speed,
            Object::Ball => settings.max_ball_speed,
        };
        let acceleration = (object == Object::Player).then_some(settings.max_acceleration);
        let (kept, cut) = jumps::cut(samples, limit, acceleration, sheet.noise_m);
        sheet.jumps_cut = cut.jumps;
        sheet.spikes_cut = cut.spikes;
        kept
    } else {
        vec![true; samples.len()]
    };
    let mut track = grid::to_frames(samples, &kept, axis);
    if object == Object::Player && settings.leave_floor {
        sheet.off_floor_s = off_floor(&mut track, floor, settings.margin, axis.rate_hz);
    }
    (track, sheet)
}

/// Smooth, then fill short gaps.
fn finish(
    track: &mut Track,
    object: Object,
    settings: &Cleaning,
    axis: grid::Axis,
    smoothing: &Smoothing,
) {
    if object == Object::Player
        && let Some(filter) = smoothing.filter()
    {
        filter.apply(track);
    }
    if settings.fill_gaps {
        let longest = match object {
            Object::Player => settings.max_gap,
            Object::Ball => settings.max_ball_gap,
        };
        fill::short_gaps(
            track,
            axis.rate_hz,
            longest,
            object == Object::Player,
            settings,
        );
    }
}

/// Make unknown the stretches of at least two seconds spent beyond the lines by more than
/// `margin`: a player there is on the bench. Returns their length in seconds.
fn off_floor(track: &mut Track, (half, side): (f64, f64), margin: f64, rate_hz: f64) -> f64 {
    /// Shorter visits beyond the lines are throw-ins, falls and chases.
    const AT_LEAST_S: f64 = 2.0;
    let outside = |t: &Track, i: usize| {
        t.known[i] != Known::Unknown
            && (t.x[i].abs() > half + margin || t.y[i].abs() > side + margin)
    };
    let mut total = 0;
    let mut i = 0;
    while i < track.len() {
        if !outside(track, i) {
            i += 1;
            continue;
        }
        let from = i;
        let mut last = i;
        while i < track.len() && (outside(track, i) || track.known[i] == Known::Unknown) {
            if track.known[i] != Known::Unknown {
                last = i;
            }
            i += 1;
        }
        if (last + 1 - from) as f64 / rate_hz >= AT_LEAST_S {
            for k in from..=last {
                forget(track, k);
            }
            total += last + 1 - from;
        }
    }
    total as f64 / rate_hz
}

/// Make one frame unknown.
fn forget(track: &mut Track, frame: usize) {
    track.known[frame] = Known::Unknown;
    track.x[frame] = 0.0;
    track.y[frame] = 0.0;
    if let Some(z) = &mut track.z {
        z[frame] = f64::NAN;
    }
}
