"""Reads a timeline with OpenTimelineIO and compares it with the table beside it: check.py FOLDER VIDEO."""

import csv
import pathlib
import sys

import opentimelineio as otio

folder = pathlib.Path(sys.argv[1])
timeline = otio.adapters.read_from_file(str(folder / "marks.otio"))
with open(folder / "marks.csv", newline="") as f:
    rows = list(csv.DictReader(f))
(track,) = timeline.video_tracks()
clips = list(track.find_clips())
assert len(clips) == len(rows) > 0, (len(clips), len(rows))
for clip, row in zip(clips, rows):
    start = clip.source_range.start_time.to_seconds()
    end = clip.source_range.end_time_exclusive().to_seconds()
    assert abs(start - float(row["video_from_s"])) <= 0.021, (clip.name, start)
    assert abs(end - float(row["video_to_s"])) <= 0.021, (clip.name, end)
    assert clip.media_reference.target_url == sys.argv[2]
    for marker in clip.markers:
        assert marker.name in row["faults"]
        assert clip.source_range.contains(marker.marked_range.start_time), marker.name
total = sum(c.duration().to_seconds() for c in clips)
assert abs(track.duration().to_seconds() - total) < 1e-6
print(f"{len(clips)} clips read by OpenTimelineIO {otio.__version__}")
