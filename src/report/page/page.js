"use strict";
// The table: sorting by its heads, filtering by the tools.
(() => {
  const table = document.getElementById("all");
  if (!table) return;
  const body = table.tBodies[0];
  const rows = [...body.rows];
  const heads = [...table.tHead.rows[0].cells];
  const tools = document.getElementById("tools");
  const text = (row, column) => row.cells[column].textContent.trim();
  const words = new Intl.Collator("en", { numeric: true });

  // A table of fixed columns is laid out in a fraction of the time, so they stay as wide as they came out, until the window
  // changes. It is done while nobody waits: the first click costs no more than the others.
  const columns = document.createElement("colgroup");
  const freeze = () => {
    if (columns.isConnected) return;
    const widths = heads.map((head) => head.getBoundingClientRect().width);
    columns.replaceChildren(...widths.map((width) => {
      const column = document.createElement("col");
      column.style.width = `${width}px`;
      return column;
    }));
    table.caption.after(columns);
    table.style.width = `${widths.reduce((sum, width) => sum + width, 0)}px`;
    table.classList.add("frozen");
  };
  const thaw = () => {
    columns.remove();
    table.style.width = "";
    table.classList.remove("frozen");
  };
  // Not every browser tells when it is idle.
  const whenIdle = window.requestIdleCallback ?? ((then) => setTimeout(then, 200));
  window.addEventListener("load", () => whenIdle(freeze));
  let width = window.innerWidth;
  window.addEventListener("resize", () => {
    if (window.innerWidth === width) return;
    width = window.innerWidth;
    thaw();
    whenIdle(freeze);
  });

  const sort = (column) => {
    freeze();
    const head = heads[column];
    const up = head.getAttribute("aria-sort") !== "ascending";
    heads.forEach((other) => other.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", up ? "ascending" : "descending");
    const sign = up ? 1 : -1;
    const keyed = head.classList.contains("n")
      ? rows.map((row) => [Number(text(row, column).replace("−", "-")), row])
      : rows.map((row) => [text(row, column), row]);
    keyed.sort(([a], [b]) => {
      if (typeof a === "string") return sign * words.compare(a, b);
      // What is not measurable stays at the end, whichever way the column is sorted.
      if (Number.isNaN(a) || Number.isNaN(b)) return Number(Number.isNaN(a)) - Number(Number.isNaN(b));
      return sign * (a - b);
    });
    waiting = keyed.map(([, row]) => row);
    body.replaceChildren(...waiting.splice(0, AT_ONCE));
    requestAnimationFrame(more);
  };

  // The first rows of a sorted table are seen at once; the others follow from frame to frame. Paper waits for none.
  const AT_ONCE = 60;
  let waiting = [];
  const more = () => {
    body.append(...waiting.splice(0, AT_ONCE));
    if (waiting.length) requestAnimationFrame(more);
  };
  window.addEventListener("beforeprint", () => body.append(...waiting.splice(0)));

  heads.forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    button.addEventListener("click", () => sort(column));
    head.append(button);
  });

  const verdictColumn = heads.findIndex((head) => head.textContent.trim() === "verdict");
  const chosen = (id) => document.getElementById(id).value;
  let inWords = null;
  const note = document.createElement("strong");
  table.caption.append(" ", note);
  const filter = () => {
    const [prep, verdict, sought] = [chosen("by-prep"), chosen("by-verdict"), chosen("by-words")];
    const parts = sought.toLowerCase().split(/\s+/).filter(Boolean);
    freeze();
    inWords ??= rows.map((row) => row.textContent.toLowerCase());
    let shown = 0;
    rows.forEach((row, k) => {
      const keep = (!prep || row.dataset.prep === prep) && (!verdict || text(row, verdictColumn) === verdict) && parts.every((part) => inWords[k].includes(part));
      row.hidden = !keep;
      shown += Number(keep);
    });
    document.getElementById("count").textContent = `${shown} of ${rows.length} starts`;
    // The tools are not printed; what they leave out must show on paper too.
    const by = [prep && `prep ${prep}`, verdict && `verdict ${verdict}`, sought && `words “${sought}”`].filter(Boolean);
    note.textContent = by.length ? `Filtered by ${by.join(", ")}: ${shown} of ${rows.length} starts.` : "";
  };
  for (const id of ["by-prep", "by-verdict", "by-words"]) document.getElementById(id).addEventListener("input", filter);
  tools.hidden = false;
})();

// The viewer: one start close up.
(() => {
  const block = document.getElementById("traces");
  const table = document.getElementById("all");
  if (!block || !table) return;
  const byId = (id) => document.getElementById(id);
  const [viewer, plot, title, why, readout] = ["viewer", "viewer-plot", "viewer-title", "viewer-why", "viewer-readout"].map(byId);
  let traces = null;
  const letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  const worth = new Uint8Array(128);
  [...letters].forEach((letter, k) => { worth[letter.charCodeAt(0)] = k; });
  const [left, right, top, gap] = [56, 14, 58, 34];
  // The starts in the order of the small pictures, worst first.
  const order = [...document.querySelectorAll(".contact figure")].map((figure) => Number(figure.id.slice("start-".length)) - 1);
  let number = -1;
  let shown = null;
  let view = [0, 1];
  let cursor = null;

  const unpack = ([low, high, packed]) => {
    const values = new Float64Array(packed.length / 2);
    for (let i = 0; i < values.length; i++) {
      const bits = worth[packed.charCodeAt(2 * i)] * 64 + worth[packed.charCodeAt(2 * i + 1)];
      values[i] = low + ((high - low) * bits) / 4095;
    }
    return values;
  };

  const open = (trace) => {
    const times = [];
    for (const [from, step, count] of trace.t) for (let i = 0; i < count; i++) times.push(from + (i + 0.5) * step);
    const marks = Object.fromEntries(trace.m);
    const [begin, end] = [marks.open ?? marks.first ?? times[0], marks.settled ?? marks.lit ?? times.at(-1)];
    return {
      times,
      marks: trace.m,
      panels: [["current", "A", trace.a], ["voltage", "V", trace.v]]
        .filter(([, , packed]) => packed)
        .map(([kind, unit, packed]) => ({ kind, unit, values: unpack(packed) })),
      whole: [times[0], times.at(-1)],
      strike: [begin - 0.12 * (end - begin), end + 0.35 * (end - begin)],
    };
  };

  const make = (name, attributes, parent, text) => {
    const element = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    if (text !== undefined) element.textContent = text;
    parent.append(element);
    return element;
  };

  // Whole multiples of 1, 2 or 5 times a power of ten, about `count` of them.
  const ticks = (from, to, count) => {
    const rough = (to - from) / count;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((k) => k * power).find((s) => s >= rough * (1 - 1e-9));
    const decimals = Math.max(0, -Math.floor(Math.log10(step)));
    const all = [];
    for (let i = Math.ceil(from / step); i * step <= to; i++) all.push([i * step, (i * step || 0).toFixed(decimals).replace("-", "−")]);
    return all;
  };

  // Size of the drawing: as wide as there is room, so that the letters keep their size.
  const size = () => {
    const width = Math.max(280, plot.clientWidth);
    const panel = width < 600 ? 130 : 180;
    return { width, panel, height: top + shown.panels.length * (panel + gap) + 26 };
  };
  const x = (t) => left + ((t - view[0]) / (view[1] - view[0])) * (size().width - left - right);

  const panelOf = (svg, one, head, panel, width, inside) => {
    let [low, high] = [0, 1];
    for (const i of inside) {
      low = Math.min(low, one.values[2 * i], one.values[2 * i + 1]);
      high = Math.max(high, one.values[2 * i], one.values[2 * i + 1]);
    }
    high += 0.06 * (high - low);
    const y = (v) => head + 8 + ((high - v) / (high - low)) * (panel - 8);
    for (const [v, words] of ticks(low, high, 5)) {
      make("line", { class: "rule", x1: left, x2: width - right, y1: y(v), y2: y(v) }, svg);
      make("text", { x: left - 8, y: y(v) + 4, "text-anchor": "end" }, svg, words);
    }
    make("text", { x: 4, y: head - 4 }, svg, `${one.kind}, ${one.unit}`);
    // The two extremes of a column stand in the order they came.
    const scale = (width - left - right) / (view[1] - view[0]);
    const points = inside.map((i) => {
      const at = (left + (shown.times[i] - view[0]) * scale).toFixed(1);
      return `${at},${y(one.values[2 * i]).toFixed(1)} ${at},${y(one.values[2 * i + 1]).toFixed(1)}`;
    });
    make("polyline", { class: one.kind, points: points.join(" ") }, svg);
  };

  const draw = () => {
    const { width, panel, height } = size();
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    for (const [key, value] of Object.entries({ viewBox: `0 0 ${width} ${height}`, width, height })) svg.setAttribute(key, value);
    const inside = [];
    shown.times.forEach((t, i) => { if (t >= view[0] && t <= view[1]) inside.push(i); });
    const bottom = height - 26 - gap + 6;
    const step = ticks(view[0], view[1], Math.max(3, Math.floor(width / 110)));
    for (const [t, words] of step) {
      make("line", { class: "rule", x1: x(t), x2: x(t), y1: top, y2: bottom }, svg);
      make("text", { x: x(t), y: bottom + 18, "text-anchor": "middle", class: "tick" }, svg, words);
    }
    make("text", { x: (left + width) / 2, y: height - 6, "text-anchor": "middle" }, svg, "ms from the first current");
    shown.panels.forEach((one, k) => panelOf(svg, one, top + k * (panel + gap), panel, width, inside));
    const ends = [-Infinity, -Infinity, -Infinity];
    for (const [name, t] of shown.marks) {
      if (t < view[0] || t > view[1]) continue;
      const wished = Math.min(x(t) + 3, width - 8 * name.length);
      const free = ends.findIndex((end) => wished > end);
      const row = free < 0 ? ends.indexOf(Math.min(...ends)) : free;
      const at = Math.max(wished, free < 0 ? ends[row] : 0);
      ends[row] = at + 8 * name.length + 6;
      make("line", { class: "instant", x1: x(t), x2: x(t), y1: 2 + 14 * row, y2: bottom }, svg);
      make("text", { x: at, y: 13 + 14 * row }, svg, name);
    }
    if (cursor !== null) make("line", { class: "cursor", x1: x(cursor), x2: x(cursor), y1: top, y2: bottom }, svg);
    plot.replaceChildren(svg);
  };

  const words = (low, high, unit) => {
    const digits = (v) => v.toFixed(Math.abs(v) < 10 ? 2 : 1).replace("-", "−");
    const [a, b] = [digits(Math.min(low, high)), digits(Math.max(low, high))];
    return a === b ? `${a} ${unit}` : `${a} to ${b} ${unit}`;
  };
  const read = (t) => {
    cursor = t;
    if (t === null) { readout.textContent = ""; return; }
    let near = 0;
    shown.times.forEach((time, i) => { if (Math.abs(time - t) < Math.abs(shown.times[near] - t)) near = i; });
    const values = shown.panels.map((one) => words(one.values[2 * near], one.values[2 * near + 1], one.unit));
    readout.textContent = `${shown.times[near].toFixed(2).replace("-", "−")} ms: ${values.join(", ")}`;
  };

  const look = (from, to) => {
    const [first, last] = shown.whole;
    const length = Math.min(Math.max(to - from, 0.5), last - first);
    const start = Math.min(Math.max(from, first), last - length);
    view = [start, start + length];
    draw();
  };
  const zoom = (factor, at = (view[0] + view[1]) / 2) => look(at - (at - view[0]) * factor, at + (view[1] - at) * factor);
  const move = (part) => look(view[0] + part * (view[1] - view[0]), view[1] + part * (view[1] - view[0]));

  const show = (k) => {
    traces ??= JSON.parse(block.textContent);
    if (!traces[k]) return false;
    number = k;
    shown = open(traces[k]);
    const row = byId(`row-${k + 1}`).cells;
    const cell = (i) => row[i].textContent.trim();
    title.textContent = `Start ${k + 1}: ${cell(4)}, start ${cell(5)}, prep ${cell(6)}`;
    why.textContent = [cell(1), cell(2) !== "–" && `score ${cell(2)}`, row[3].textContent.trim().replace(/\s+/g, " ")].filter(Boolean).join(", ");
    const place = order.indexOf(k);
    byId("viewer-before").disabled = place <= 0;
    byId("viewer-next").disabled = place < 0 || place === order.length - 1;
    if (!viewer.open) viewer.showModal();
    if (document.activeElement.disabled !== false) plot.focus();
    read(null);
    look(...shown.strike);
    history.replaceState(null, "", `#start-${k + 1}`);
    return true;
  };
  const go = (by) => {
    const next = order[order.indexOf(number) + by];
    if (next !== undefined) show(next);
  };

  const acts = {
    "viewer-before": () => go(-1),
    "viewer-next": () => go(1),
    "viewer-close": () => viewer.close(),
    "zoom-strike": () => look(...shown.strike),
    "zoom-whole": () => look(...shown.whole),
    "zoom-in": () => zoom(0.5),
    "zoom-out": () => zoom(2),
  };
  for (const [id, act] of Object.entries(acts)) byId(id).addEventListener("click", act);
  const keys = { "+": () => zoom(0.5), "=": () => zoom(0.5), "-": () => zoom(2), ",": () => move(-0.2), ".": () => move(0.2), ArrowLeft: () => go(-1), ArrowRight: () => go(1) };
  viewer.addEventListener("keydown", (event) => {
    const act = !event.ctrlKey && !event.altKey && !event.metaKey && keys[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });
  const timeAt = (event) => {
    const box = plot.getBoundingClientRect();
    const { width } = size();
    return view[0] + ((event.clientX - box.left - left) / (width - left - right)) * (view[1] - view[0]);
  };
  plot.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(event.deltaY > 0 ? 1.25 : 0.8, timeAt(event));
  }, { passive: false });
  let held = null;
  plot.addEventListener("pointerdown", (event) => { held = timeAt(event); plot.setPointerCapture(event.pointerId); });
  plot.addEventListener("pointerup", () => { held = null; });
  plot.addEventListener("pointerleave", () => { read(null); draw(); });
  plot.addEventListener("pointermove", (event) => {
    const t = timeAt(event);
    if (held !== null) { look(view[0] + held - t, view[1] + held - t); return; }
    read(t >= view[0] && t <= view[1] ? t : null);
    draw();
  });
  window.addEventListener("resize", () => { if (viewer.open) draw(); });

  // A link to a start opens it; without script it leads to its picture, and from there to its row.
  document.addEventListener("click", (event) => {
    if (event.ctrlKey || event.metaKey || event.shiftKey) return;
    const link = event.target.closest("a[href^='#start-'], .contact figure");
    if (!link) return;
    const name = link.matches("figure") ? link.id : link.getAttribute("href").slice(1);
    if (show(Number(name.slice("start-".length)) - 1)) event.preventDefault();
  });
})();
