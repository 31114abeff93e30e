import assert from "node:assert/strict";
import { test } from "node:test";
import { open } from "./browser.mjs";

const time = async (page) => {
  const text = await page.locator("#r-now").innerText();
  const [, m, s] = /^(\d+):([\d.]+)/.exec(text);
  return Number(m) * 60 + Number(s);
};
const circles = (page, selector) => page.locator(selector).evaluateAll((list) =>
  list.map((c) => [Number(c.getAttribute("cx")), Number(c.getAttribute("cy"))]));
const near = (a, b, by, what) => assert.ok(Math.hypot(a[0] - b[0], a[1] - b[1]) <= by, `${what}: ${a} is not near ${b}`);

test("a mark opens its moment by keyboard, and Escape leads back to it", async () => {
  const { page, close } = await open("full.html");
  const plots = page.locator("svg.lags[role=group]");
  // One stop for the Tab key in each plot.
  assert.equal(await plots.first().locator("a.dot[tabindex='0']").count(), 1);
  await plots.first().locator("a.dot[tabindex='0']").focus();
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("ArrowRight");
  const dot = await page.evaluate(() => {
    const d = document.activeElement;
    return { label: d.getAttribute("aria-label"), t: Number(d.dataset.t), href: d.getAttribute("href") };
  });
  await page.keyboard.press("Enter");
  const [, session, number] = /^#s(\d+)p(\d+)$/.exec(dot.href);
  const name = ["Practice", "Game 1", "Game 2", "Game 3"][session];
  assert.equal(await page.locator("#r-title").innerText(), `${name}, possession ${number}`);
  assert.ok(dot.label.startsWith(`${name}, possession ${number}`));
  assert.ok(Math.abs((await time(page)) - dot.t) <= 0.051);
  assert.equal(await page.evaluate(() => document.activeElement.id), "r-play");
  await page.keyboard.press("Escape");
  assert.equal(await page.evaluate(() => document.activeElement.getAttribute("aria-label")), dot.label);
  await close();
});

test("keys step, jump, play and turn the pages", async () => {
  const { page, close } = await open("full.html");
  await page.locator("#s1p3 ~ li .go, .go").nth(2).click();
  const from = await time(page);
  await page.keyboard.press("ArrowRight");
  assert.ok(Math.abs((await time(page)) - from - 0.1) < 0.051);
  await page.keyboard.press("Shift+ArrowRight");
  assert.ok(Math.abs((await time(page)) - from - 1.1) < 0.051);
  await page.keyboard.press("Home");
  const start = await time(page);
  assert.ok(start < from);
  await page.keyboard.press("]");
  const mark = await page.locator("#r-marks [aria-current]").innerText();
  const [, m, s] = /(\d+):([\d.]+)/.exec(mark);
  assert.ok(Math.abs((await time(page)) - (m * 60 + Number(s))) <= 0.1);
  const title = await page.locator("#r-title").innerText();
  await page.keyboard.press("n");
  assert.notEqual(await page.locator("#r-title").innerText(), title);
  await page.keyboard.press("p");
  assert.equal(await page.locator("#r-title").innerText(), title);
  await page.keyboard.press("Home");
  await page.locator("#r-scrub").focus();
  await page.keyboard.press("Space");
  await page.waitForFunction(() => Number(document.getElementById("r-scrub").value) > 3);
  assert.equal(await page.locator("#r-play").innerText(), "Pause");
  await page.keyboard.press("Space");
  assert.equal(await page.locator("#r-play").innerText(), "Play");
  const scrub = page.locator("#r-scrub");
  assert.match(await scrub.getAttribute("aria-valuetext"), /^\d+:\d\d\.\d, /);
  await close();
});

// Worked out from FIBA's measures: the top is half a metre behind the arc, 1.575 + 6.75 + 0.5 m
// from the end line, in the middle; the fixture puts its players within 0.3 m of their spots.
test("players are where the tracks have them, the basket at the top, right to the right", async () => {
  const { page, close } = await open("full.html", { hash: "#s0p1" });
  const p = await circles(page, "circle.me");
  assert.equal(p.length, 5);
  near(p[0], [0, 8.825], 0.3, "the player with the ball stands at the top");
  assert.ok(p[2][0] > 4 && p[3][0] > 6, "wing and corner are on the right");
  assert.ok(p[4][0] < 0 && Math.abs(p[4][1] - 5.8) < 0.4, "the big stands at the left elbow");
  await close();
});

test("an option run to the left shows its declared places mirrored", async () => {
  for (const [hash, sign] of [["#s0p1", -1], ["#s0p3", 1]]) {
    const { page, close } = await open("full.html", { hash });
    // To the end of the first step: the dribbler has reached his wing.
    const at = await page.evaluate((h) => {
      const p = JSON.parse(document.getElementById("payload").textContent).possessions.find((q) => `#s${q.s}p${q.n}` === h);
      const step = p.segments.find((s) => s.run).run.steps[0];
      return step.to - 0.15;
    }, hash);
    await page.evaluate(([h, t]) => { location.hash = `${h}@${t}`; }, [hash, at]);
    await page.waitForSelector("circle.ghost");
    const ghosts = await circles(page, "circle.ghost");
    const people = await circles(page, "circle.me");
    assert.equal(ghosts.length, 5);
    assert.ok(ghosts[0][0] * sign > 5, `${hash}: ${ghosts[0]}`);
    near(people[0], ghosts[0], 0.6, "the dribbler is where he should be");
    const row = await page.locator("#r-off tbody tr").first().innerText();
    assert.match(row, /^1\s+4 Odell\s+\d\.\d ft\s+of 3\.9 ft$/);
    await close();
  }
});

test("what is not known is not drawn", async () => {
  const { page, close } = await open("full.html", { hash: "#s1p10" });
  await page.locator("#r-play").focus();
  await page.keyboard.press("End");
  for (let i = 0; i < 15; i++) await page.keyboard.press("ArrowLeft");
  assert.match(await page.locator("#r-now").innerText(), /not enough data/);
  assert.equal(await page.locator("circle.me, circle.ball").count(), 0);
  await close();
});

test("on a tablet the replay is a sheet that can be closed", async () => {
  const { page, close } = await open("full.html", { size: "tablet" });
  assert.ok(!(await page.locator("#replay").isVisible()));
  await page.locator(".go").first().click();
  assert.ok(await page.locator("#r-court").isVisible());
  const box = await page.locator("#replay").boundingBox();
  assert.ok(box.height <= 1180 * 0.7);
  await page.locator("#r-close").click();
  assert.ok(!(await page.locator("#replay").isVisible()));
  await close();
});
