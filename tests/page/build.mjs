// Puts the program, its worker, the page's script and style into one file.
//
//   node build.mjs tipstrike.wasm tipstrike.html

import { createHash } from "node:crypto";
import { readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";
import { Bytes, Files } from "../../src/browser/tree.js";
import { run } from "../../src/browser/wasi.js";

const [wasm, page] = process.argv.slice(2);
const top = join(dirname(fileURLToPath(import.meta.url)), "../..");
const source = (name) => readFileSync(join(top, "src/browser", name), "utf8");
const most = 4_000_000;

const bytes = readFileSync(wasm);
const program = await WebAssembly.compile(bytes);

// The report's page lends its style, and its script runs inside this page: it must be allowed by its hash.
const report = async () => {
  const files = new Files();
  files.put("starts.csv", new Bytes(new TextEncoder().encode("recording,run,prep,start,lit,score,verdict\na.wav,1,A,1,false,0,no light\n")));
  const { code, stdout, stderr } = await run(program, files, ["report", "starts.csv", "-o", "-"]);
  if (code !== 0) throw new Error(stderr);
  const html = new TextDecoder().decode(stdout);
  const inside = (name) => html.match(new RegExp(`<${name}>(.*?)</${name}>`, "s"))[1];
  return { style: inside("style").replace(/@page\{.*?\}\}/s, ""), script: inside("script") };
};

const { style, script: reportScript } = await report();
const { version } = await (async () => {
  const { stdout } = await run(program, new Files(), ["--version"]);
  return { version: new TextDecoder().decode(stdout).trim() };
})();
const scripts = ["work.js", "program.js", "text.js", "pick.js", "trace.js", "wiring.js", "sheet.js", "answer.js", "page.js"];
const script = `"use strict";\n${scripts.map(source).join("\n")}`;
const worker = ["tree.js", "wasi.js", "worker.js"].map(source).join("\n").replace(/^export |^import .*$/gm, "");
for (const part of [script, worker]) if (part.includes("</script")) throw new Error("a script would end early");
const hash = (text) => `'sha256-${createHash("sha256").update(text).digest("base64")}'`;

const policy = [
  "default-src 'none'",
  `script-src ${hash(script)} ${hash(reportScript)} 'wasm-unsafe-eval'`,
  "style-src 'unsafe-inline'",
  "img-src blob:",
  "worker-src blob:",
  "base-uri 'none'",
  "form-action 'none'",
].join("; ");

const parts = { policy, style: style + source("page.css"), worker, version, script, program: gzipSync(bytes, { level: 9 }).toString("base64") };
const html = source("page.html").replace(/\{(policy|style|worker|version|script|program)\}/g, (_, name) => parts[name]);
if (html.length > most) throw new Error(`the page has ${html.length} bytes; at most ${most} are wanted`);
writeFileSync(page, html);
console.log(`${page}: ${html.length} bytes, of which the program ${parts.program.length}`);
