import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { test } from "node:test";
import { open, sizes } from "./browser.mjs";

const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

test("the page asks for nothing and complains of nothing", async () => {
  for (const name of ["full.html", "small.html", "hostile.html"]) {
    const { page, said, close } = await open(name);
    await page.locator(".go").first().click();
    await page.locator("details summary").first().click();
    assert.deepEqual(said.errors, [], name);
    assert.equal(said.asked.length, 1, said.asked.join(" "));
    await close();
  }
});

test("nothing scrolls sideways at any size, with everything open", async () => {
  for (const size of Object.keys(sizes)) {
    for (const name of ["full.html", "hostile.html"]) {
      const { page, close } = await open(name, { size });
      await page.evaluate(() => document.querySelectorAll("details").forEach((d, i) => { d.open = i < 40; }));
      await page.locator(".go").first().click();
      const [content, width] = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
      assert.ok(content <= width, `${name} at ${size}: ${content} > ${width}`);
      // Nothing sticks out of its own column either.
      const out = await page.evaluate(() => {
        const edge = document.querySelector("main").getBoundingClientRect().right + 1;
        return [...document.querySelectorAll("main table, main p, main li, main svg")]
          .filter((e) => !e.closest(".vh") && e.getBoundingClientRect().right > edge && e.getClientRects().length)
          .map((e) => `${e.tagName}.${e.className.baseVal ?? e.className} ${e.getBoundingClientRect().right - edge}`);
      });
      assert.deepEqual(out, [], `${name} at ${size}`);
      await close();
    }
  }
});

// axe-core checks the machine-checkable part of WCAG 2.2 A and AA: names, roles, labels, order of
// headings, contrast of at least 4.5:1 (success criterion 1.4.3).
test("no rule of WCAG that a machine can check is broken, in light and in dark", async () => {
  for (const dark of [false, true]) {
    const { page, close } = await open("small.html", { dark });
    await page.evaluate(() => document.querySelectorAll("details").forEach((d) => { d.open = true; }));
    await page.locator(".go").last().click();
    await page.keyboard.press("]");
    await page.keyboard.press("]");
    await page.evaluate(axe);
    const found = await page.evaluate(async () => {
      const r = await axe.run({ runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] });
      return r.violations.flatMap((v) => v.nodes.map((n) => `${v.id}: ${n.html.slice(0, 160)} ${n.any[0]?.message ?? ""}`));
    });
    assert.deepEqual(found, []);
    await close();
  }
});

test("hostile names stay text", async () => {
  const { page, said, close } = await open("hostile.html", { hash: "#s0p1" });
  assert.equal(await page.locator("img").count(), 0);
  assert.match(await page.locator("main").innerText(), /<\/script><\/style><img src=x onerror=alert\(1\)>/);
  await page.keyboard.press("Escape");
  await page.locator(".go").first().click();
  for (let i = 0; i < 8; i++) await page.keyboard.press("]");
  assert.match(await page.locator("#r-marks").innerText(), /<\/script>/);
  assert.equal(await page.locator("img").count(), 0);
  assert.deepEqual(said.errors, []);
  await close();
});

test("without scripts everything but the replay can be read", async () => {
  const { page, close } = await open("full.html", { javaScriptEnabled: false });
  for (const id of ["summary", "options", "cues", "places", "players", "instead", "drift", "possessions", "data"]) {
    assert.ok(await page.locator(`#${id}`).isVisible(), id);
  }
  assert.ok(await page.getByText("The replay needs scripts").isVisible());
  assert.ok(!(await page.locator(".filters").isVisible()));
  await page.locator("#s1p3 summary").click();
  assert.ok(await page.locator("#s1p3 .evidence").isVisible());
  await close();
});

test("printed, it is the reading matter alone, on paper colours", async () => {
  const { page, close } = await open("full.html", { dark: true });
  await page.emulateMedia({ media: "print", colorScheme: "dark" });
  for (const hidden of ["nav", "#replay", "#theme", ".filters"]) {
    assert.ok(!(await page.locator(hidden).isVisible()), hidden);
  }
  const ink = await page.evaluate(() => getComputedStyle(document.querySelector("main p")).color);
  const [r, g, b] = ink.match(/\d+/g).map(Number);
  assert.ok(r + g + b < 200, `ink is ${ink}`);
  const pdf = await page.pdf({ format: "A4" });
  const pages = pdf.toString("latin1").match(/\/Type\s*\/Page[^s]/g).length;
  assert.ok(pages >= 4 && pages <= 20, `${pages} pages`);
  await close();
});

test("the theme button turns light to dark and back", async () => {
  const { page, close } = await open("small.html");
  const paper = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
  const light = await paper();
  await page.locator("#theme").click();
  assert.notEqual(await paper(), light);
  await page.locator("#theme").click();
  assert.equal(await paper(), light);
  await close();
});

test("filters leave what fits, say how many, and can be taken back", async () => {
  const { page, close } = await open("full.html");
  const shown = () => page.locator(".possessions > li:visible").count();
  const all = await page.locator(".possessions > li").count();
  const broken = await page.locator(".possessions > li:has(.chip .s-broken)").count();
  assert.ok(broken > 0 && broken < all);
  await page.selectOption("select[name=verdict]", "broken");
  assert.equal(await shown(), broken);
  assert.equal(await page.locator(".shown").innerText(), `${broken} of ${all} possessions`);
  await page.selectOption("select[name=session]", "2");
  const both = await page.locator(".possessions > li[id^=s2p]:has(.chip .s-broken)").count();
  assert.equal(await shown(), both);
  // An option and a verdict must be those of one and the same segment.
  await page.selectOption("select[name=option]", { label: "Flare" });
  assert.equal(await shown(), 0);
  await page.getByRole("button", { name: "Show all" }).click();
  await page.waitForFunction((n) => document.querySelectorAll(".possessions > li:not([hidden])").length === n, all);
  await page.locator("a.filter", { hasText: "Flare" }).click();
  assert.ok((await shown()) < all && (await shown()) > 0);
  await page.selectOption("select[name=order]", "faults");
  // What is off the screen is not laid out, and then has no inner text.
  const first = await page.locator(".possessions > li:visible").first().textContent();
  assert.match(first, /ran with faults/);
  await close();
});

test("who needs it most comes first, and a button of a sheet opens its moment by keyboard", async () => {
  const { page, close } = await open("full.html");
  const sheets = page.locator("#players article");
  assert.ok((await sheets.count()) >= 2);
  assert.ok((await page.locator("#players .fix > li").count()) > 0);
  // Never more than three things, open and folded together.
  for (const n of await sheets.evaluateAll((all) => all.map((a) => a.querySelectorAll(".fix > li").length))) {
    assert.ok(n <= 3, `${n} things`);
  }
  const button = page.locator("#players .moment").first();
  const [where, time] = await button.evaluate((a) => [a.getAttribute("href"), Number(a.dataset.t)]);
  await button.focus();
  await page.keyboard.press("Enter");
  const [session, possession] = where.match(/\d+/g).map(Number);
  assert.match(await page.locator("#replay").innerText(), new RegExp(`possession ${possession}\\b`));
  assert.ok(await page.locator(`#s${session}p${possession}.now`).count());
  const clock = await page.locator("#r-now, #replay output, #replay .now").first().innerText();
  const [m, s] = clock.match(/(\d+):(\d+\.\d)/).slice(1).map(Number);
  assert.ok(Math.abs(m * 60 + s - time) < 0.11, `${clock} for ${time}`);
  await close();
});

test("what cost stands as missed beside met, with counts that add up and no cause", async () => {
  const { page, close } = await open("full.html");
  const cues = page.locator("#cues .costly tbody");
  const n = await cues.count();
  assert.ok(n >= 1 && n <= 3);
  for (let i = 0; i < n; i++) {
    const [missed, met] = await cues.nth(i).locator("tr").evaluateAll((rows) =>
      rows.map((r) => [...r.querySelectorAll("td.n")].map((td) => td.textContent)));
    assert.ok(Number(missed[0]) >= 3 && Number(missed[1]) <= Number(missed[0]), missed.join(" "));
    assert.ok(Number(met[1]) <= Number(met[0]), met.join(" "));
    const links = await cues.nth(i).locator(".moment").count();
    assert.equal(links, Number(missed[0]), "every missed cue can be looked at");
  }
  assert.match(await page.locator("#cues").innerText(), /Counts, not causes/);
  await close();
});

test("marks of the lag plots are large enough to hit and to see, on a telephone too", async () => {
  for (const size of ["laptop", "phone"]) {
    const { page, close } = await open("full.html", { size });
    const seen = await page.evaluate(() => {
      const dot = document.querySelector("#cues .lags a.dot :not(.hit):not(title)").getBoundingClientRect();
      const text = document.querySelector("#cues .lags.axis text").getBoundingClientRect();
      const caption = document.querySelector("#cues table.cue caption").getBoundingClientRect();
      return { dot: Math.max(dot.width, dot.height), text: text.height, caption: caption.width };
    });
    assert.ok(seen.dot >= 6, `${size}: mark of ${seen.dot} px`);
    assert.ok(seen.text >= 11, `${size}: text of ${seen.text} px`);
    assert.ok(seen.caption >= 200, `${size}: caption of ${seen.caption} px`);
    await close();
  }
});
