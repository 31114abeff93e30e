// One Chromium for a test file, and pages opened from the folder of generated pages.
import path from "node:path";
import { pathToFileURL } from "node:url";
import { after } from "node:test";
import { chromium } from "playwright-core";

export const folder = process.env.SETDRIFT_PAGES ?? path.join(import.meta.dirname, "out");
export const sizes = { projector: [1920, 1080], laptop: [1280, 800], tablet: [820, 1180], phone: [390, 844] };

let browser;
after(() => browser?.close());

// Opens a page and keeps what it asked for and complained of.
export const open = async (name, { size = "laptop", dark = false, hash = "", ...more } = {}) => {
  browser ??= await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] });
  const [width, height] = sizes[size];
  const context = await browser.newContext({
    viewport: { width, height }, colorScheme: dark ? "dark" : "light", reducedMotion: "reduce", ...more,
  });
  const page = await context.newPage();
  const said = { asked: [], errors: [] };
  page.on("request", (r) => said.asked.push(r.url()));
  page.on("console", (m) => { if (m.type() === "error" || m.type() === "warning") said.errors.push(m.text()); });
  page.on("pageerror", (e) => said.errors.push(e.message));
  page.on("dialog", (d) => { said.errors.push("dialog: " + d.message()); d.dismiss(); });
  await page.goto(pathToFileURL(path.join(folder, name)).href + hash);
  return { page, said, close: () => context.close() };
};
