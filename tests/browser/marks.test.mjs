import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import path from "node:path";
import { test } from "node:test";
import webvtt from "webvtt-parser";
import { folder } from "./browser.mjs";

// webvtt-parser 2.2.0 is the parser behind the validator of the WebVTT community.
test("chapters are valid WebVTT to an outside parser, cues and all", async () => {
  const text = await readFile(path.join(folder, "chapters.vtt"), "utf8");
  const { errors, cues } = new webvtt.WebVTTParser().parse(text, "chapters");
  assert.deepEqual(errors, []);
  const rows = (await readFile(path.join(folder, "marks.csv"), "utf8")).trim().split("\r\n").slice(1);
  assert.equal(cues.length, rows.length);
  cues.forEach((c, i) => {
    const [from, to] = rows[i].split(",").map(Number);
    assert.ok(Math.abs(c.startTime - from) < 0.0015 && Math.abs(c.endTime - to) < 0.0015);
  });
});
