// Opens a page made by `tipstrike report` in a browser and looks at it.
//
//   PAGE=page.html [PICTURES=FOLDER] node --test check.mjs
//
// Checked: valid HTML; no console message; no request but the page itself; axe-core finds nothing serious, by day,
// by night and at phone width; the first sheet gives verdict, reason and picture before anything else and fits one
// sheet; nothing wider than a phone; letters of at least 11 px, none on another; axis numbers that differ; every link
// leads somewhere; no figure cut in print on A4 or Letter, with page numbers and table heads; the table sorts and
// filters, says so on paper, and is about as fast as a plain table; a start opens, reads, zooms and closes; without
// script nothing is missing.
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

const column = (page, label) => page.locator("#all thead th").evaluateAll((heads, text) => heads.findIndex((head) => head.textContent.trim().startsWith(text)), label);

test("the table sorts by number and by word, both ways, and keeps what is empty at the end", async () => {
  const { page, done } = await open();
  // The rows follow from frame to frame.
  const all = await page.locator("#all tbody tr").count();
  const whole = () => page.waitForFunction((count) => document.querySelectorAll("#all tbody tr").length === count, all);
  const values = async (index) => (await whole()) && page.locator("#all tbody tr").evaluateAll((rows, i) => rows.map((row) => row.cells[i].textContent.trim()), index);
  const score = await column(page, "score");
  for (const [way, sign] of [["ascending", 1], ["descending", -1]]) {
    await page.locator("#all thead th").nth(score).locator("button").click();
    assert.equal(await page.locator("#all thead th").nth(score).getAttribute("aria-sort"), way);
    const shown = (await values(score)).map((text) => Number(text.replace("−", "-")));
    const numbers = shown.filter((v) => !Number.isNaN(v));
    assert.ok(numbers.length > 1);
    assert.deepEqual(numbers, numbers.toSorted((a, b) => sign * (a - b)));
    assert.ok(shown.slice(numbers.length).every(Number.isNaN));
  }
  await page.locator("#all thead th").nth(await column(page, "verdict")).locator("button").click();
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
  await page.emulateMedia({ media: "print" });
  assert.equal(await page.locator("#tools").isVisible(), false);
  assert.match(await page.locator("#all caption").innerText(), new RegExp(`Filtered by .*: 0 of ${all} starts`), "paper does not say that it is filtered");
  await done();
});

test("a start opens from its picture and from links, reads, zooms, goes on and closes", async () => {
  const { page, heard, done } = await open();
  const first = page.locator(".contact figure a").first();
  if ((await first.count()) === 0) return done();
  await first.focus();
  await page.keyboard.press("Enter");
  const viewer = page.locator("#viewer");
  assert.ok(await viewer.isVisible());
  const title = () => page.locator("#viewer-title").textContent();
  const worst = await title();
  await page.keyboard.press("ArrowRight");
  const second = await title();
  assert.notEqual(second, worst);
  await page.click("#viewer-before");
  assert.equal(await title(), worst);
  const span = async () => {
    const labels = await page.locator("#viewer-plot .tick").allTextContents();
    const numbers = labels.map((text) => Number(text.replace("−", "-")));
    assert.equal(new Set(labels).size, labels.length, "axis numbers that look alike");
    return numbers.at(-1) - numbers[0];
  };
  await page.click("#zoom-whole");
  const whole = await span();
  await page.click("#zoom-in");
  await page.locator("#viewer-plot").press("+");
  assert.ok((await span()) < 0.6 * whole, "closer is not closer");
  await page.locator("#viewer-plot").hover();
  assert.match(await page.locator("#viewer-readout").textContent(), /ms: .* A/);
  const before = await span();
  await page.mouse.wheel(0, 400);
  assert.ok((await span()) >= before, "the wheel does not widen");
  await page.click("#zoom-whole");
  assert.equal(await span(), whole);
  const points = await page.locator("#viewer-plot polyline").first().getAttribute("points");
  assert.ok(points.split(" ").length > 100 && !points.includes("NaN"));
  await picture(page, "viewer");
  await page.keyboard.press("Escape");
  assert.equal(await viewer.isVisible(), false);
  assert.ok(await first.evaluate((link) => link === document.activeElement), "the focus does not return");
  for (const link of ["#all tbody a", "#screening tbody a"]) {
    const one = page.locator(link).first();
    if ((await one.count()) === 0) continue;
    await one.click();
    assert.ok(await viewer.isVisible(), `${link} does not open`);
    await page.click("#viewer-close");
  }
  assert.deepEqual(heard, []);
  await done();
});

test("the extremes of a column are drawn in the order they came", async () => {
  const { page, done } = await open({ bypassCSP: true });
  if ((await page.locator("#traces").count()) === 0) return done();
  // An arc that ends inside a column: from 80 A to 0 A, in one column of the trace.
  await page.evaluate(() => {
    const words = ["__", "//", "//", "AA", "AA", "AA"].map((w) => (w === "__" ? "//" : w)).join("");
    const trace = { t: [[0, 10, 3]], m: [["first", 0], ["out", 20]], a: [0, 80, words], v: null };
    document.getElementById("traces").textContent = JSON.stringify(Array.from(document.querySelectorAll("#all tbody tr"), () => trace));
  });
  await page.locator(".contact figure a").first().click();
  await page.click("#zoom-whole");
  const points = (await page.locator("#viewer-plot polyline").first().getAttribute("points")).split(" ").map((pair) => Number(pair.split(",")[1]));
  assert.deepEqual(points, points.toSorted((a, b) => a - b), "an arc that ends looks like one that lights again");
  await done();
});

test("the first sheet gives the verdict, the reason and the picture before anything else", async () => {
  const { page, done } = await open();
  const order = await page.evaluate(() => [...document.querySelectorAll("#answer h2, #answer .reason, #answer figure, #answer .tally, main > nav")].map((element) => element.tagName));
  assert.deepEqual(order, ["H2", "P", "FIGURE", "UL", "NAV"]);
  const { weight, size } = await page.locator("#answer h2").evaluate((element) => {
    const { fontWeight, fontSize } = getComputedStyle(element);
    return { weight: Number(fontWeight), size: parseFloat(fontSize) };
  });
  assert.ok(weight >= 700 && size >= 24, `the verdict is ${size} px, weight ${weight}`);
  assert.ok((await page.locator("#answer .reason").innerText()).length > 10);
  const foot = await page.locator("#answer figure svg").first().evaluate((element) => element.getBoundingClientRect().bottom);
  assert.ok(foot < desktop.height, "the picture is not on the first screen");
  await picture(page, "first");
  await done();
});

for (const [paper, width, height] of [["A4", 210, 297], ["Letter", 215.9, 279.4]]) {
  test(`the first sheet fits one sheet of ${paper}`, async () => {
    const { page, done } = await open();
    const mm = 96 / 25.4;
    await page.emulateMedia({ media: "print" });
    await page.setViewportSize({ width: Math.round((width - 28) * mm), height: 900 });
    const foot = await page.locator("#answer").evaluate((element) => element.getBoundingClientRect().bottom);
    assert.ok(foot <= (height - 32) * mm, `${foot} px of ${(height - 32) * mm}`);
    assert.equal(await page.locator("#answer").evaluate((element) => getComputedStyle(element).breakAfter), "page");
    assert.ok(await page.locator(".sign").isVisible());
    await done();
  });
}

test("every sheet has its number and its head, and every table its heads", async () => {
  const { page, done } = await open({ bypassCSP: true });
  await page.emulateMedia({ media: "print" });
  const rules = await page.evaluate(() => [...document.styleSheets].flatMap((sheet) => [...sheet.cssRules]).filter((rule) => rule instanceof CSSPageRule).map((rule) => rule.cssText).join("") || document.querySelector("style").textContent.match(/@page\{.*?\}\}/s)[0]);
  assert.match(rules, /@top-left/);
  const style = await page.evaluate(() => document.querySelector("style").textContent);
  assert.match(style, /@bottom-right\{content:"Page " counter\(page\) " of " counter\(pages\)/);
  const heads = await page.locator("thead").evaluateAll((all) => all.map((head) => getComputedStyle(head).display));
  assert.ok(heads.length > 0 && heads.every((display) => display === "table-header-group"));
  await done();
});

test("every link leads somewhere", async () => {
  const { page, done } = await open();
  const lost = await page.evaluate(() => [...document.querySelectorAll("a[href]")].map((link) => link.getAttribute("href")).filter((href) => !href.startsWith("#") || !document.getElementById(href.slice(1))));
  assert.deepEqual(lost, []);
  await done();
});

for (const width of [390, 820, 1280]) {
  test(`letters are 11 px or more and none lies on another at ${width} px`, async () => {
    const { page, done } = await open({ viewport: { width, height: 900 } });
    const said = await page.evaluate(() => {
      const found = [];
      const shown = (element) => element.checkVisibility() && element.textContent.trim();
      for (const text of document.querySelectorAll("svg:not(.shared) text")) {
        if (!shown(text)) continue;
        const px = parseFloat(getComputedStyle(text).fontSize) * text.getScreenCTM().a;
        if (px < 10.95) found.push(`${px.toFixed(1)} px: ${text.textContent.trim()}`);
      }
      for (const element of document.querySelectorAll("p, li, td, th, dd, dt, figcaption, caption, a, button, small")) {
        const px = parseFloat(getComputedStyle(element).fontSize);
        if (shown(element) && px < 10.95) found.push(`${px.toFixed(1)} px: ${element.textContent.trim().slice(0, 40)}`);
      }
      for (const svg of document.querySelectorAll("svg:not(.shared)")) {
        const boxes = [...svg.querySelectorAll("text")].filter(shown).map((text) => [text.textContent.trim(), text.getBoundingClientRect()]);
        boxes.forEach(([word, a], k) => {
          for (const [other, b] of boxes.slice(k + 1)) {
            const [across, down] = [Math.min(a.right, b.right) - Math.max(a.left, b.left), Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top)];
            if (across > 2 && down > 4) found.push(`"${word}" on "${other}"`);
          }
        });
      }
      return found;
    });
    assert.deepEqual([...new Set(said)].slice(0, 12), []);
    await done();
  });
}

test("the numbers of an axis differ", async () => {
  const { page, done } = await open();
  const alike = await page.evaluate(() => [...document.querySelectorAll("svg")].flatMap((svg) => {
    const axes = {};
    for (const text of svg.querySelectorAll("text")) {
      const anchor = text.getAttribute("text-anchor");
      const word = text.textContent.trim();
      if (!/^[−\d.]+$/.test(word)) continue;
      const place = anchor === "end" ? `x${text.getAttribute("x")}` : anchor === "middle" ? `y${text.getAttribute("y")}` : null;
      if (place) (axes[place] ??= []).push([Number(text.getAttribute(anchor === "end" ? "y" : "x")), word]);
    }
    // Panels beside each other share a line of numbers; within one the numbers are equally far apart.
    return Object.values(axes).flatMap((numbers) => numbers.filter(([at, word], k) => {
      if (k === 0 || numbers[k - 1][1] !== word) return false;
      const gap = at - numbers[k - 1][0];
      const beside = [numbers[k - 1][0] - numbers[k - 2]?.[0], numbers[k + 1]?.[0] - at];
      return beside.some((other) => Math.abs(other - gap) <= 2);
    }).map(([, word]) => word));
  }));
  assert.deepEqual(alike, []);
  await done();
});

// A table of the same words without style or script, as a measure of what the browser itself takes.
const plain = async (page) => {
  const rows = await page.locator("#all tr").evaluateAll((all) => all.map((row) => [...row.cells].map((cell) => cell.textContent.trim())));
  const escape = (text) => text.replaceAll("&", "&amp;").replaceAll("<", "&lt;");
  const body = rows.map((row) => `<tr>${row.map((text) => `<td>${escape(text)}</td>`).join("")}</tr>`).join("");
  return `<!doctype html><title>plain</title><table><tbody>${body}</tbody></table>`;
};
const timed = async (page, act) => {
  const times = [];
  for (let k = 0; k < 5; k++) times.push(await act());
  return times.sort((a, b) => a - b)[2];
};

test("it opens and sorts in times of a plain table's order", async (t) => {
  const { page, done } = await open();
  const context = await browser.newContext({ viewport: desktop });
  const other = await context.newPage();
  await other.setContent(await plain(page));
  const resort = (target) => target.evaluate(async () => {
    const body = document.querySelector("#all tbody") ?? document.querySelector("tbody");
    const button = document.querySelector("#all thead th:nth-child(3) button");
    const from = performance.now();
    if (button) button.click();
    else {
      const rows = [...body.rows].map((row) => [row.cells[2].textContent, row]).sort(([a], [b]) => (a < b ? -1 : 1));
      body.replaceChildren(...rows.map(([, row]) => row));
    }
    body.getBoundingClientRect();
    return performance.now() - from;
  });
  await page.waitForFunction(() => document.querySelector("#all.frozen"));
  await page.evaluate(() => new Promise((shown) => requestAnimationFrame(() => requestAnimationFrame(shown))));
  const first = await resort(page);
  const [own, bare] = [await timed(page, () => resort(page)), await timed(other, () => resort(other))];
  t.diagnostic(`sorts in ${first.toFixed(0)} ms at first, then in ${own.toFixed(0)} ms, a plain table in ${bare.toFixed(0)} ms`);
  for (const took of [first, own]) assert.ok(took <= 6 * bare + 30, `sorts in ${took} ms, a plain table in ${bare} ms`);
  const load = async () => {
    await page.reload({ waitUntil: "load" });
    return page.evaluate(() => performance.getEntriesByType("navigation")[0].loadEventEnd);
  };
  const loads = await timed(page, load);
  t.diagnostic(`opens in ${loads.toFixed(0)} ms`);
  const html = await plain(page);
  const bareLoad = await timed(other, async () => {
    const from = performance.now();
    await other.setContent(html);
    await other.evaluate(() => document.body.getBoundingClientRect());
    return performance.now() - from;
  });
  assert.ok(loads <= 8 * bareLoad + 300, `opens in ${loads} ms, a plain table in ${bareLoad} ms`);
  await context.close();
  await done();
});

test("without script every start and every section is there", async () => {
  const { page, done } = await open({ javaScriptEnabled: false });
  for (const id of ["answer", "tested", "starts", "limits", "method", "record", "cautions"]) {
    assert.ok(await page.locator(`#${id}`).isVisible(), id);
  }
  assert.ok((await page.locator("#all tbody tr").count()) > 0);
  const drawn = await page.locator(".contact figure").count();
  if (drawn > 0) {
    assert.equal(drawn, await page.locator("#all tbody a").count(), "a start without its picture");
    // The worst start may be a flat line, which has no height to be seen by.
    const [svg, path] = [".contact figure svg", ".contact figure path:not(.s)"].map((what) => page.locator(what));
    assert.ok((await svg.first().isVisible()) && (await path.count()) >= drawn);
  }
  assert.equal(await page.locator("#tools").isVisible(), false);
  await done();
});
