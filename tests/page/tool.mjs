// Drives docs/tipstrike.html in a browser, from its file and without a network, and holds it against the program.
//
//   TIPSTRIKE=target/debug/tipstrike [PAGE=docs/tipstrike.html] [PICTURES=FOLDER] node --test tool.mjs
//
// Checked: the samples, an AC job, a table in millivolts and a long recording give the program's figures, words and page to the
// byte; a job goes from the page to the program and back; a broken recording is told in the program's words; a run can be
// cancelled; hostile names and texts stay text; nothing is asked of a network; axe-core finds nothing, by day, by night, on a phone.

import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, openSync, readFileSync, rmSync, writeFileSync, writeSync, closeSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import test, { after, before } from "node:test";
import { fileURLToPath, pathToFileURL } from "node:url";
import { HtmlValidate } from "html-validate";
import { chromium } from "playwright-core";

const top = join(dirname(fileURLToPath(import.meta.url)), "../..");
const file = resolve(process.env.PAGE ?? join(top, "docs/tipstrike.html"));
const tipstrike = resolve(process.env.TIPSTRIKE ?? join(top, "target/debug/tipstrike"));
const pictures = process.env.PICTURES;
const url = pathToFileURL(file).href;
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const patience = 120_000;
const work = mkdtempSync(join(tmpdir(), "tipstrike-page-"));
let browser;

before(async () => {
  browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu"],
  });
});
after(async () => {
  await browser.close();
  rmSync(work, { recursive: true, force: true });
});

// The page, opened without a network, with a watch on what it says and asks for.
const open = async (options = {}) => {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, offline: true, acceptDownloads: true, ...options });
  const page = await context.newPage();
  page.setDefaultTimeout(patience);
  const heard = [];
  page.on("console", (message) => heard.push(`console: ${message.text()}`));
  page.on("pageerror", (error) => heard.push(`error: ${error}`));
  page.on("dialog", (dialog) => (heard.push(`dialog: ${dialog.message()}`), dialog.dismiss()));
  page.on("request", (request) => request.url() === url || /^(blob|data):/.test(request.url()) || heard.push(`request: ${request.url()}`));
  await page.goto(url);
  await page.locator("html[data-ready]").waitFor({ state: "attached" });
  return { page, heard, done: () => context.close() };
};

const idle = (page) => page.locator("main:not([aria-busy=true])").waitFor();

const give = async (page, what, files) => {
  await page.setInputFiles(what, files);
  await page.waitForTimeout(50);
  await idle(page);
};

// What the page offers to save under this name.
const saved = async (page, name) => {
  const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: `Save ${name}`, exact: true }).click()]);
  return readFileSync(await download.path(), "utf8");
};

// The same on this machine: a folder that is called as the page calls it.
const folder = (name, fill) => {
  const home = join(work, name);
  mkdirSync(join(home, "job"), { recursive: true });
  fill(join(home, "job"));
  const env = { ...process.env };
  const run = (...args) => {
    const { status, stdout, stderr } = spawnSync(tipstrike, args, { cwd: home, env, encoding: "utf8", maxBuffer: 1 << 28 });
    return { code: status, out: stdout, said: stderr };
  };
  return { home, job: join(home, "job"), run, env };
};

// Equal to the last digit; a difference is told by its line, not by both texts.
const alike = (there, here, what) => {
  const [a, b] = [there.split("\n"), here.split("\n")];
  const k = Math.max(a.findIndex((line, k) => line !== b[k]), a.length < b.length ? a.length : -1);
  assert.ok(k < 0, `${what}, line ${k + 1}: the page has\n${a[k]?.slice(0, 600)}\nthe program\n${b[k]?.slice(0, 600)}`);
};

const same = async (page, { run }, job = "job") => {
  const measured = run("measure", job, "--csv", "-", "--anew");
  alike(await saved(page, "starts.csv"), measured.out, "starts.csv");
  alike(await saved(page, "starts.jsonl"), run("measure", job, "--jsonl", "-", "--anew", "--quiet").out, "starts.jsonl");
  const compared = run("compare", job, "--quiet", "--anew");
  alike(await page.locator("#compared").textContent(), compared.code === 0 ? compared.out : compared.said, "compare");
  const [there, here] = [await page.evaluate((job) => program.run("compare", job, "--json", "-", "--quiet"), job), run("compare", job, "--json", "-", "--quiet", "--anew")];
  alike(there.out, here.out, "compare --json");
};

const sample = (name) => join(top, "samples", name);
const lids = ["lid-1-A1", "lid-1-A2", "lid-1-B1", "lid-1-B2", "lid-1-B3", "lid-2-A3", "lid-2-A4", "lid-2-A5", "lid-2-B4", "lid-2-B5"].map((name) => `${name}.wav`);

test("the page is one valid file under 4 MB that may reach nothing", async () => {
  const html = readFileSync(file, "utf8");
  assert.ok(html.length < 4e6, `${html.length} bytes`);
  const policy = html.match(/Content-Security-Policy" content="([^"]*)"/)[1];
  assert.match(policy, /^default-src 'none';/);
  assert.doesNotMatch(policy, /https?:|\*|connect-src/);
  const validator = new HtmlValidate({ extends: ["html-validate:standard"] });
  const report = await validator.validateString(html.replace(/(<script type="text\/plain" id="program">)[^<]*/, "$1"), file);
  assert.deepEqual([...new Set(report.results.flatMap((result) => result.messages).map((m) => `line ${m.line}: ${m.ruleId}: ${m.message}`))], []);
});

test("the sample job gives the program's verdict, tables, JSON and page, and a start set aside goes both ways", async () => {
  const here = folder("lids", (job) => [...lids, "job.toml", "runs.csv"].forEach((name) => cpSync(sample(name), join(job, name))));
  const { page, heard, done } = await open();
  await give(page, "#folder", here.job);
  await same(page, here);
  // The program makes its page at the same moment, and then to the same byte.
  const there = await saved(page, "page.html");
  const [, day, hour] = there.match(/(\d{4}-\d\d-\d\d) (\d\d:\d\d) UTC/);
  here.env.SOURCE_DATE_EPOCH = String(Date.parse(`${day}T${hour}Z`) / 1000);
  here.run("report", "job", "-o", "job/page.html", "--quiet", "--anew");
  const native = readFileSync(join(here.job, "page.html"), "utf8");
  alike(there, native, "page.html");
  assert.equal(await page.locator("#verdict").textContent(), native.match(/<h2 id="answer-head"[^>]*>(.*?)<\/h2>/)[1].replace(/<\/?bdi>/g, ""));
  assert.equal(await page.locator("#starts > li").count(), 40);
  await page.frameLocator("#page").locator("#answer h2").waitFor();
  if (pictures) await page.screenshot({ path: `${pictures}/tool-lids.png`, fullPage: true });
  await page.getByRole("button", { name: /^Larger: traces of start 7/ }).click();
  assert.ok(await page.locator("#large img").isVisible());
  await page.keyboard.press("Escape");
  assert.equal(await page.locator("#large").isVisible(), false);
  // A start set aside on the page is one for the program.
  const form = page.locator("#starts form").nth(6);
  await form.locator("input").fill("fumbled");
  await form.locator("button").click();
  await idle(page);
  assert.equal(await page.locator("#starts .aside").count(), 1);
  writeFileSync(join(here.job, "runs.csv"), await saved(page, "runs.csv"));
  await same(page, here);
  // And one that the program sets aside is one for the page.
  assert.equal(here.run("aside", "job", "9", "--because", "draught").code, 0);
  rmSync(join(here.job, "page.html"));
  await give(page, "#folder", here.job);
  assert.equal(await page.locator("#starts .aside").count(), 2);
  await same(page, here);
  assert.deepEqual(heard, []);
  await done();
});

test("the samples are one button away, and are those of the program", async () => {
  const { page, heard, done } = await open();
  await page.getByRole("button", { name: "Try the samples" }).click();
  await page.locator("#starts > li").first().waitFor();
  await idle(page);
  const held = await page.evaluate(() => {
    const text = (bytes) => Array.from({ length: Math.ceil(bytes.length / 8192) }, (_, k) => String.fromCharCode(...bytes.subarray(8192 * k, 8192 * (k + 1)))).join("");
    return [...program.held].map(([path, bytes]) => [path, btoa(text(bytes))]);
  });
  for (const name of [...lids, "job.toml", "runs.csv"]) {
    const [, bytes] = held.find(([path]) => path === `job/${name}`);
    assert.ok(Buffer.from(bytes, "base64").equals(readFileSync(sample(name))), name);
  }
  assert.deepEqual(heard, []);
  await done();
});

test("files that are dropped are taken as those that are chosen", async () => {
  const { page, heard, done } = await open();
  const bytes = readFileSync(sample("lid-1-A1.wav")).toString("base64");
  await page.evaluate((bytes) => {
    const dropped = new DataTransfer();
    dropped.items.add(new File([Uint8Array.from(atob(bytes), (letter) => letter.charCodeAt(0))], "lid-1-A1.wav"));
    document.getElementById("drop").dispatchEvent(new DragEvent("drop", { dataTransfer: dropped, bubbles: true, cancelable: true }));
  }, bytes);
  await page.locator("#recordings summary").waitFor();
  await idle(page);
  assert.match(await page.locator("#recordings summary").textContent(), /lid-1-A1\.wav · 227 kB · WAV, 16 bits, 2 channels, 10000 Hz, 5\.669 s/);
  assert.ok(await page.locator("#wiring").isVisible());
  assert.deepEqual(heard, []);
  await done();
});

test("an AC job gives the program's figures", async () => {
  const here = folder("skiffs", (job) => ["rib-1.csv", "job.toml", "runs.csv"].forEach((name) => cpSync(sample(`skiffs/${name}`), join(job, name))));
  const { page, heard, done } = await open();
  await give(page, "#folder", here.job);
  await same(page, here);
  assert.deepEqual(heard, []);
  await done();
});

// A table whose current is the millivolts of a 200 A / 60 mV shunt, made of a sample.
const inMillivolts = (wav, to) => {
  const bytes = readFileSync(wav);
  const data = bytes.indexOf("data") + 8;
  const lines = ["time (s),shunt (mV),arc (V)"];
  for (let k = 0; data + 4 * k + 3 < bytes.length; k += 1) {
    const [amps, volts] = [(bytes.readInt16LE(data + 4 * k) / 32768) * 200, (bytes.readInt16LE(data + 4 * k + 2) / 32768) * 120];
    lines.push(`${(k / 10000).toFixed(4)},${((amps * 60) / 200).toFixed(5)},${volts.toFixed(4)}`);
  }
  writeFileSync(to, lines.join("\n"));
};

test("recordings become a job: roles and scale confirmed, preps told, a broken one told in the program's words", async () => {
  const here = folder("millivolts", (job) => {
    inMillivolts(sample("lid-1-A1.wav"), join(job, "lid-A1.csv"));
    inMillivolts(sample("lid-1-B1.wav"), join(job, "lid-B1.csv"));
    writeFileSync(join(job, "broken.wav"), readFileSync(sample("lid-1-A1.wav")).subarray(0, 20));
  });
  const { page, heard, done } = await open();
  await give(page, "#files", ["lid-A1.csv", "lid-B1.csv", "broken.wav"].map((name) => join(here.job, name)));
  await idle(page);
  const told = here.run("inspect", "job/broken.wav").said.trim();
  assert.ok((await page.locator("#recordings .bad").textContent()).includes(told), told);
  assert.match(await page.locator("#current option:checked").textContent(), /mV/);
  assert.match(await page.locator("#voltage option:checked").textContent(), /arc/);
  // Without the plate the program says what is missing.
  await page.getByRole("button", { name: /how it is wired/ }).click();
  await idle(page);
  assert.match(await page.locator("#errors").textContent(), /200 A \/ 60 mV/);
  await page.fill("#plate-a", "200");
  await page.fill("#plate-mv", "60");
  await page.fill("#title", 'Shunt "plate", mV');
  await page.getByRole("button", { name: /how it is wired/ }).click();
  await idle(page);
  assert.equal(await page.locator("#errors").textContent(), "");
  assert.match(await page.locator("#recordings summary").nth(0).textContent(), /4 starts/);
  assert.equal(await page.locator("#recordings line.start").count(), 4, "the starts are not marked on the trace");
  await page.getByLabel("Electrode class").first().fill("WLa20");
  await page.getByLabel("Taper").first().fill("30");
  if (pictures) await page.screenshot({ path: `${pictures}/tool-wiring.png`, fullPage: true });
  await page.getByRole("button", { name: "Measure", exact: true }).click();
  await idle(page);
  for (const name of ["job.toml", "runs.csv"]) writeFileSync(join(here.job, name), await saved(page, name));
  assert.match(readFileSync(join(here.job, "job.toml"), "utf8"), /class = "WLa20"\ntaper_deg = 30/);
  rmSync(join(here.job, "broken.wav"));
  await same(page, here);
  assert.deepEqual(heard, []);
  await done();
});

test("a load marked on the trace gives the scale, as it does by the program", async () => {
  const here = folder("known", (job) => cpSync(sample("lid-1-A1.wav"), join(job, "lid-1-A1.wav")));
  const { page, done } = await open();
  await give(page, "#files", join(here.job, "lid-1-A1.wav"));
  await idle(page);
  await page.selectOption("#way", "known");
  const over = page.locator("#recordings .trace svg");
  const box = await over.boundingBox();
  await page.mouse.move(box.x + 0.17 * box.width, box.y + 0.4 * box.height);
  await page.mouse.down();
  await page.mouse.move(box.x + 0.22 * box.width, box.y + 0.4 * box.height, { steps: 4 });
  await page.mouse.up();
  const [amps, from, to] = [0, 1, 2].map((k) => page.locator("#known input").nth(k));
  const marked = [Number(await from.inputValue()), Number(await to.inputValue())];
  assert.ok(marked[0] > 0 && marked[1] - marked[0] > 0.1 && marked[1] < 5.7, `marked ${marked}`);
  // The first arc of this recording holds 80 A from 0.3 s to 1.2 s (samples/truth.json).
  await from.fill("0.5");
  await to.fill("1.1");
  await amps.fill("80");
  await page.fill("#full-v", "120");
  await page.getByRole("button", { name: /how it is wired/ }).click();
  await idle(page);
  const text = await page.locator("#job-text").inputValue();
  here.run("begin", "job", "--known", "80 A from 0.5 s to 1.1 s", "--volts-at-full-scale", "120", "--preps", "A,B");
  assert.equal(text, readFileSync(join(here.job, "job.toml"), "utf8"));
  await done();
});

// A long recording: rest, with the starts of a sample now and then, as 16-bit stereo.
const long = (to, bytes) => {
  const sampled = readFileSync(sample("lid-1-A1.wav"));
  const data = sampled.subarray(sampled.indexOf("data") + 8);
  const rest = data.subarray(0, 8000);
  const piece = Buffer.concat([data.subarray(0, data.length - (data.length % 4)), ...Array(2400).fill(rest)]);
  const count = Math.round(bytes / piece.length);
  const head = Buffer.from(sampled.subarray(0, sampled.indexOf("data") + 8));
  head.writeUInt32LE(count * piece.length, head.length - 4);
  head.writeUInt32LE(head.length - 8 + count * piece.length, 4);
  const out = openSync(to, "w");
  writeSync(out, head);
  for (let k = 0; k < count; k += 1) writeSync(out, piece);
  closeSync(out);
};

test("a long recording is read in pieces, tells how far it is, can be cancelled, and gives the program's figures", async () => {
  const bytes = Number(process.env.LONG_MB ?? 200) * 1e6;
  const here = folder("long", (job) => {
    long(join(job, "shift.wav"), bytes);
    cpSync(sample("job.toml"), join(job, "job.toml"));
    writeFileSync(join(job, "runs.csv"), "file,prep,tip_id\nshift.wav,A,A1\n");
  });
  const { page, heard, done } = await open();
  await page.setInputFiles("#folder", here.job);
  await page.locator("#progress[value]").waitFor();
  await page.getByRole("button", { name: "Cancel" }).click();
  await idle(page);
  assert.match(await page.locator("#status").textContent(), /Cancelled/);
  const from = Date.now();
  await page.getByRole("button", { name: "Measure", exact: true }).click();
  await idle(page);
  console.log(`# ${bytes / 1e6} MB measured twice and reported in ${((Date.now() - from) / 1000).toFixed(1)} s`);
  await same(page, here);
  assert.deepEqual(heard, []);
  await done();
});

test("sheets and preps are written as they were read", async () => {
  const { page, done } = await open();
  const sheets = ['file,prep,note\na.wav,A,"one, ""two""\nthree"\n', "\ufefffile;prep;note\r\na.wav;B;1,5 mm\r\n;;\r\n", "file\tprep\na.wav\tA"];
  const read = await page.evaluate((sheets) => sheets.map((text) => [readSheet(text), readSheet(writeSheet(readSheet(text)))]), sheets);
  assert.deepEqual(read[0][0], { header: ["file", "prep", "note"], rows: [["a.wav", "A", 'one, "two"\nthree']] });
  assert.deepEqual(read[1][0], { header: ["file", "prep", "note"], rows: [["a.wav", "B", "1,5 mm"]] });
  assert.deepEqual(read[2][0], { header: ["file", "prep"], rows: [["a.wav", "A"]] });
  for (const [first, again] of read) assert.deepEqual(again, first);
  // What the forms say of a prep, the program reads.
  const preps = [{ name: 'a "b" ]', said: { class: "WLa20", diameter: "2.4 mm", taper_deg: "22,5", wheel: 'say \\ "fine"\u007f' } }, { name: "B", said: {} }];
  const text = await page.evaluate((preps) => withPreps("[job]\ntitle = 'x'\n\n[prep.A]\n# class\n", preps), preps);
  const here = folder("preps", (job) => (writeFileSync(join(job, "job.toml"), text), writeFileSync(join(job, "runs.csv"), 'file,prep\na.wav,"a ""b"" ]"\n')));
  const { code, said, out } = here.run("prep", "job");
  assert.equal(code, 0, said);
  assert.match(out, /a "b" \]/);
  await done();
});

test("hostile names and texts stay text", async () => {
  const name = '<img src=x onerror=alert(1)>.wav';
  const here = folder("hostile", (job) => {
    cpSync(sample("lid-1-A1.wav"), join(job, name));
    writeFileSync(join(job, "job.toml"), readFileSync(sample("job.toml"), "utf8").replace("Kettle lids, two grinds", "</script><script>alert(2)</script><img src=x onerror=alert(3)>"));
    writeFileSync(join(job, "runs.csv"), `file,prep,coupon,exclude\n${name},A,<b onmouseover=alert(4)>,=cmd|' /C calc'!A0\n`);
  });
  const { page, heard, done } = await open();
  await give(page, "#folder", here.job);
  await page.waitForTimeout(500);
  assert.equal(await page.locator("#starts > li").count(), 4);
  assert.equal(await page.locator("main img[src=x], main b[onmouseover]").count(), 0);
  assert.equal(await page.frameLocator("#page").locator("img, b[onmouseover]").count(), 0);
  await same(page, here);
  // Files that are nothing, and a job file that is none.
  const junk = folder("junk", (job) => {
    writeFileSync(join(job, "job.toml"), "[job\n\u0000");
    writeFileSync(join(job, "runs.csv"), Buffer.from([0xff, 0xfe, 0x00, 0x22, 0x22]));
  });
  await give(page, "#folder", junk.job);
  assert.equal((await page.locator("#errors").textContent()).trim(), junk.run("measure", "job").said.trim());
  assert.deepEqual(heard, []);
  await done();
});

for (const [name, options] of [
  ["by day", {}],
  ["by night", { colorScheme: "dark" }],
  ["on a phone", { viewport: { width: 390, height: 844 } }],
]) {
  test(`axe-core finds nothing ${name}, and nothing is wider than the screen`, async () => {
    const here = folder(`axe ${name}`, (job) => ["lid-1-A1.wav", "lid-1-B1.wav"].forEach((wav) => cpSync(sample(wav), join(job, wav))));
    const { page, done } = await open({ ...options, bypassCSP: true });
    const look = async (step) => {
      await page.evaluate(axe);
      const { violations } = await page.evaluate(() => globalThis.axe.run(document, { iframes: false, runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
      assert.deepEqual(violations.map((v) => `${step}: ${v.impact}: ${v.id}: ${v.nodes[0].html.slice(0, 160)}`), []);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      assert.ok(wide <= page.viewportSize().width, `${step}: ${wide} px wide`);
      if (pictures) await page.screenshot({ path: `${pictures}/tool-${name.replaceAll(" ", "-")}-${step}.png`, fullPage: true });
    };
    await look("opened");
    await give(page, "#files", ["lid-1-A1.wav", "lid-1-B1.wav"].map((wav) => join(here.job, wav)));
    await idle(page);
    await look("wiring");
    await page.selectOption("#way", "full");
    await page.fill("#full-a", "200");
    await page.fill("#full-v", "120");
    await page.getByRole("button", { name: /how it is wired/ }).click();
    await idle(page);
    await look("sheet");
    await page.getByRole("button", { name: "Measure", exact: true }).click();
    await idle(page);
    await look("answer");
    await done();
  });
}

test("without a mouse: the samples are reached, measured and a start is set aside by keys alone", async () => {
  const { page, done } = await open();
  const reach = async (name) => {
    for (let k = 0; k < 200; k += 1) {
      await page.keyboard.press("Tab");
      if ((await page.evaluate(() => document.activeElement.textContent || document.activeElement.getAttribute("aria-label"))) === name) return;
    }
    assert.fail(`${name} is not reached`);
  };
  await reach("Try the samples");
  await page.keyboard.press("Enter");
  await page.locator("#starts > li").first().waitFor();
  await idle(page);
  await reach("Why start 1 is set aside");
  await page.keyboard.type("fumbled");
  await page.keyboard.press("Enter");
  await page.locator("#starts .aside").first().waitFor();
  await done();
});
