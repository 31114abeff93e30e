import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import path from "node:path";
import { test } from "node:test";
import webvtt from "webvtt-parser";
import { folder } from "./browser.mjs";

// webvtt-parser 2.2.0 is the parser behind the validator of the WebVTT community.
const parsed = async (...where) => {
  const text = await readFile(path.join(folder, ...where, "chapters.vtt"), "utf8");
  const { errors, cues } = new webvtt.WebVTTParser().parse(text, "chapters");
  assert.deepEqual(errors, []);
  const rows = (await readFile(path.join(folder, ...where, "marks.csv"), "utf8")).trim().split("\r\n").slice(1);
  return { cues, times: rows.map((r) => r.split(",").slice(0, 2).map(Number)) };
};

test("chapters are valid WebVTT to an outside parser, cues and all", async () => {
  const { cues, times } = await parsed();
  assert.equal(cues.length, times.length);
  cues.forEach((c, i) => {
    const [from, to] = times[i];
    assert.ok(Math.abs(c.startTime - from) < 0.0015 && Math.abs(c.endTime - to) < 0.0015);
  });
});

test("so are those the command makes, also of moments that overlap", async () => {
  for (const where of [["sample", "practice"], ["sample", "moments", "practice"]]) {
    const { cues, times } = await parsed(...where);
    assert.ok(cues.length > 10 && cues.length <= times.length);
    const starts = new Set(times.map(([from]) => from.toFixed(3)));
    cues.forEach((c, i) => {
      assert.ok(starts.has(c.startTime.toFixed(3)), `${where}: ${c.startTime}`);
      if (i) assert.ok(c.startTime >= cues[i - 1].endTime - 1e-9, `${where}: chapter ${i + 1} overlaps`);
    });
  }
});
