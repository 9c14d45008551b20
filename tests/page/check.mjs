// Opens a page made by `tipstrike report` in a browser and looks at it.
//
//   PAGE=page.html [PICTURES=FOLDER] node --test check.mjs
//
// Checked: valid HTML; no console message; no request but the page itself; axe-core finds nothing serious, by day,
// by night and at phone width; nothing wider than a phone; no figure cut in print on A4 or Letter; the table sorts
// and filters; a trace opens and zooms; without script nothing is missing.
// The browser is the one named by CHROMIUM, else `chromium` of the system.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { resolve } from "node:path";
import test, { after, before } from "node:test";
import { pathToFileURL } from "node:url";
import { HtmlValidate } from "html-validate";
import { chromium } from "playwright-core";

const file = resolve(process.env.PAGE ?? "page.html");
const pictures = process.env.PICTURES;
const url = pathToFileURL(file).href;
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const desktop = { width: 1280, height: 900 };
const phone = { width: 360, height: 740 };
let browser;

before(async () => {
  browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu"],
  });
});
after(() => browser.close());

// A page opened with a watch on what it says and asks for.
const open = async (options = {}) => {
  const context = await browser.newContext({ viewport: desktop, ...options });
  const page = await context.newPage();
  const heard = [];
  page.on("console", (message) => heard.push(`console: ${message.text()}`));
  page.on("pageerror", (error) => heard.push(`error: ${error}`));
  page.on("request", (request) => request.url() === url || heard.push(`request: ${request.url()}`));
  await page.goto(url);
  return { page, heard, done: () => context.close() };
};

const picture = async (page, name) => {
  if (pictures) await page.screenshot({ path: `${pictures}/${name}.png`, fullPage: true });
};

test("the page is valid HTML", async () => {
  const validator = new HtmlValidate({ extends: ["html-validate:standard"] });
  const report = await validator.validateString(readFileSync(file, "utf8"), file);
  const said = report.results.flatMap((result) => result.messages).map((m) => `line ${m.line}: ${m.ruleId}: ${m.message}`);
  assert.deepEqual([...new Set(said)].slice(0, 20), []);
});

test("opening and using the page says nothing and asks for nothing", async () => {
  const { page, heard, done } = await open();
  await page.locator("#all thead button").first().click();
  await page.evaluate(() => fetch("https://example.invalid/").catch(() => {}));
  const blocked = heard.filter((text) => text.includes("Content Security Policy"));
  assert.ok(blocked.length > 0, "the policy does not forbid fetching");
  assert.deepEqual(heard.filter((text) => !/Content Security Policy|example\.invalid/.test(text)), []);
  await done();
});

for (const [name, options] of [
  ["by day", {}],
  ["by night", { colorScheme: "dark" }],
  ["on a phone", { viewport: phone }],
]) {
  test(`axe-core finds nothing ${name}`, async () => {
    const { page, done } = await open({ ...options, bypassCSP: true });
    await page.evaluate(axe);
    const { violations } = await page.evaluate(() => globalThis.axe.run(document, {
      runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    }));
    assert.deepEqual(violations.map((v) => `${v.impact}: ${v.id}: ${v.nodes[0].html.slice(0, 120)}`), []);
    await picture(page, name.replaceAll(" ", "-"));
    await done();
  });
}

test("nothing is wider than a phone but what scrolls by itself", async () => {
  const { page, done } = await open({ viewport: phone });
  const wide = await page.evaluate(() => document.documentElement.scrollWidth);
  assert.ok(wide <= phone.width, `the page is ${wide} px wide`);
  await done();
});

for (const [paper, width, height] of [["A4", 210, 297], ["Letter", 215.9, 279.4]]) {
  test(`no figure is cut in print on ${paper}`, async () => {
    const { page, done } = await open();
    const [margin, mm] = [14, 96 / 25.4];
    await page.emulateMedia({ media: "print" });
    await page.setViewportSize({ width: Math.round((width - 2 * margin) * mm), height: Math.round((height - 2 * margin) * mm) });
    const boxes = await page.evaluate(() => [...document.querySelectorAll("figure, .prep, svg")].map((element) => {
      const { left, right, height } = element.getBoundingClientRect();
      return { left, right, height, avoids: element.tagName === "svg" || getComputedStyle(element).breakInside === "avoid" };
    }));
    assert.ok(boxes.length > 0);
    for (const box of boxes) {
      assert.ok(box.left >= 0 && box.right <= (width - 2 * margin) * mm + 1, `reaches from ${box.left} to ${box.right} px`);
      assert.ok(box.height <= (height - 2 * margin) * mm, `is ${box.height} px high`);
      assert.ok(box.avoids, "may be broken across pages");
    }
    const pdf = await page.pdf({ format: paper, preferCSSPageSize: false, printBackground: true });
    assert.equal(pdf.subarray(0, 5).toString(), "%PDF-");
    await done();
  });
}

test("the table sorts by number and by word, both ways, and keeps what is empty at the end", async () => {
  const { page, done } = await open();
  const column = (label) => page.locator("#all thead th").evaluateAll((heads, text) => heads.findIndex((head) => head.textContent.trim().startsWith(text)), label);
  const values = async (index) => page.locator("#all tbody tr").evaluateAll((rows, i) => rows.map((row) => row.cells[i].dataset.v), index);
  const score = await column("score");
  for (const [way, sign] of [["ascending", 1], ["descending", -1]]) {
    await page.locator("#all thead th").nth(score).locator("button").click();
    assert.equal(await page.locator("#all thead th").nth(score).getAttribute("aria-sort"), way);
    const shown = await values(score);
    const numbers = shown.filter((v) => v !== undefined).map(Number);
    assert.ok(numbers.length > 1);
    assert.deepEqual(numbers, numbers.toSorted((a, b) => sign * (a - b)));
    assert.ok(shown.slice(numbers.length).every((v) => v === undefined));
  }
  await page.locator("#all thead th").nth(await column("verdict")).locator("button").click();
  const words = await page.locator("#all tbody tr .v").allTextContents();
  assert.deepEqual(words, words.toSorted());
  await done();
});

test("the table filters by prep, verdict and words", async () => {
  const { page, done } = await open();
  const shown = () => page.locator("#all tbody tr:not([hidden])").count();
  const all = await shown();
  const preps = await page.locator("#by-prep option").evaluateAll((options) => options.map((option) => option.value).filter(Boolean));
  let sum = 0;
  for (const prep of preps) {
    await page.selectOption("#by-prep", prep);
    sum += await shown();
  }
  assert.equal(sum, all);
  await page.selectOption("#by-prep", "");
  await page.fill("#by-words", "there is no such word");
  assert.equal(await shown(), 0);
  assert.equal(await page.locator("#count").textContent(), `0 of ${all} starts`);
  await done();
});

test("a trace opens, zooms by button, wheel and key, and goes back", async () => {
  const { page, heard, done } = await open();
  const first = page.locator("#all tbody td button").first();
  if ((await first.count()) === 0) return done();
  await first.click();
  const span = async () => {
    const labels = await page.locator("#viewer-plot text[text-anchor=middle]").allTextContents();
    const numbers = labels.map(Number).filter(Number.isFinite);
    return numbers.at(-1) - numbers[0];
  };
  await page.click("#zoom-whole");
  const whole = await span();
  await page.click("#zoom-in");
  await page.locator("#viewer-plot").press("+");
  assert.ok((await span()) < 0.5 * whole, "closer is not closer");
  await page.locator("#viewer-plot").hover();
  const before = await span();
  await page.mouse.wheel(0, 400);
  assert.ok((await span()) >= before, "the wheel does not widen");
  await page.click("#zoom-whole");
  assert.equal(await span(), whole);
  const points = await page.locator("#viewer-plot polyline").first().getAttribute("points");
  assert.ok(points.split(" ").length > 100 && !points.includes("NaN"));
  assert.deepEqual(heard, []);
  await picture(page, "zoomed");
  await done();
});

test("without script every start and every section is there", async () => {
  const { page, done } = await open({ javaScriptEnabled: false });
  for (const id of ["answer", "tested", "starts", "limits", "method", "cautions"]) {
    assert.ok(await page.locator(`#${id}`).isVisible(), id);
  }
  assert.ok((await page.locator("#all tbody tr").count()) > 0);
  assert.equal(await page.locator("#tools").isVisible(), false);
  await done();
});
