// What the page is made of, and one piece of work at a time: progress, time left, what is said.

const JOB = "job";
const ENDINGS = [".wav", ".csv", ".csv.gz", ".txt", ".json"];
// Cards that are shown at once.
const CARDS = 60;
const $ = (id) => document.getElementById(id);

// An element with properties and children; text is text, never markup.
const make = (name, about = {}, ...children) => {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(about)) {
    if (key in element && key !== "list") element[key] = value;
    else element.setAttribute(key, value);
  }
  element.append(...children);
  return element;
};

let program;
const state = { recordings: [], begun: false, given: false, preps: [], sheet: null, sheetChanged: false, rows: [], pictures: [] };

const say = (text) => ($("status").textContent = text);

const complain = (text) => {
  const lines = text.trim();
  $("errors").replaceChildren(...(lines ? [make("pre", { textContent: lines })] : []));
};

let busy = null;
let queue = Promise.resolve();
let waiting = 0;

const wait = (more) => {
  waiting += more;
  document.querySelector("main").setAttribute("aria-busy", waiting > 0);
};

// Does a piece of work with progress by the bytes of these recordings; one after the other.
const work = (doing, size, task) => {
  wait(1);
  queue = queue.then(() => carryOut(doing, size, task)).finally(() => wait(-1));
  return queue;
};

const carryOut = async (doing, size, task) => {
  busy = { from: performance.now(), size };
  complain("");
  $("doing").textContent = `${doing} …`;
  $("running").hidden = false;
  $("progress").removeAttribute("value");
  $("left").textContent = "";
  for (const button of document.querySelectorAll("main button:not(#cancel)")) button.disabled = true;
  try {
    await task();
  } catch (error) {
    if (error instanceof Cancelled) say("Cancelled. What was picked and written is still here.");
    else complain(`The program came to a fault of its own:\n${error.message}`);
  } finally {
    busy = null;
    $("running").hidden = true;
    for (const button of document.querySelectorAll("main button:not(#cancel)")) button.disabled = false;
  }
};

const step = (doing) => {
  if (busy) busy.from = performance.now();
  $("doing").textContent = `${doing} …`;
  $("progress").removeAttribute("value");
  $("left").textContent = "";
};

const onread = (read) => {
  if (!busy?.size) return;
  const part = Math.min(1, read / busy.size);
  $("progress").value = part;
  const seconds = ((performance.now() - busy.from) / 1000) * (1 / part - 1);
  if (performance.now() - busy.from > 1500) $("left").textContent = seconds < 1 ? "nearly done" : `about ${seconds < 90 ? `${Math.ceil(seconds)} s` : `${Math.ceil(seconds / 60)} min`} left`;
};

const sizeOf = (recordings) => recordings.reduce((sum, { size }) => sum + size, 0);

