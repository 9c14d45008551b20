"use strict";
(() => {
  const table = document.getElementById("all");
  if (!table) return;
  const body = table.tBodies[0];
  const rows = [...body.rows];
  const heads = [...table.tHead.rows[0].cells];
  const tools = document.getElementById("tools");
  const cell = (row, column) => row.cells[column];
  const text = (row, column) => cell(row, column).textContent.trim();

  const sort = (column) => {
    const head = heads[column];
    const up = head.getAttribute("aria-sort") !== "ascending";
    heads.forEach((other) => other.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", up ? "ascending" : "descending");
    const numeric = head.classList.contains("n");
    const value = (row) => {
      const v = cell(row, column).dataset.v;
      return v === undefined ? NaN : Number(v);
    };
    rows.sort((a, b) => {
      if (!numeric) return (up ? 1 : -1) * text(a, column).localeCompare(text(b, column), "en", { numeric: true });
      const [x, y] = [value(a), value(b)];
      // What is not measurable stays at the end, whichever way the column is sorted.
      if (Number.isNaN(x) || Number.isNaN(y)) return Number(Number.isNaN(x)) - Number(Number.isNaN(y));
      return (up ? 1 : -1) * (x - y);
    });
    body.append(...rows);
  };

  heads.forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    button.addEventListener("click", () => sort(column));
    head.append(button);
  });

  const column = (label) => heads.findIndex((head) => head.textContent.trim() === label);
  const verdictColumn = column("verdict");
  const chosen = (id) => document.getElementById(id).value;
  const filter = () => {
    const [prep, verdict] = [chosen("by-prep"), chosen("by-verdict")];
    const words = chosen("by-words").toLowerCase().split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const row of rows) {
      const all = row.textContent.toLowerCase();
      const keep = (!prep || row.dataset.prep === prep) && (!verdict || text(row, verdictColumn) === verdict) && words.every((word) => all.includes(word));
      row.hidden = !keep;
      shown += Number(keep);
    }
    document.getElementById("count").textContent = `${shown} of ${rows.length} starts`;
  };
  for (const id of ["by-prep", "by-verdict", "by-words"]) document.getElementById(id).addEventListener("input", filter);
  tools.hidden = false;
  filter();
})();

(() => {
  const block = document.getElementById("traces");
  const table = document.getElementById("all");
  if (!block || !table) return;
  const traces = JSON.parse(block.textContent);
  const viewer = document.getElementById("viewer");
  const plot = document.getElementById("viewer-plot");
  const title = document.getElementById("viewer-title");
  const letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  const [width, left, right, top, panel, gap] = [1000, 56, 12, 26, 190, 30];
  let shown = null;
  let view = [0, 1];

  const unpack = ([low, high, text]) => {
    const values = [];
    for (let i = 0; i < text.length; i += 2) {
      const bits = letters.indexOf(text[i]) * 64 + letters.indexOf(text[i + 1]);
      values.push(low + ((high - low) * bits) / 4095);
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
      panels: [["current", "current, A", trace.a], ["voltage", "voltage, V", trace.v]]
        .filter(([, , packed]) => packed)
        .map(([kind, label, packed]) => ({ kind, label, values: unpack(packed) })),
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

  // Steps of 1, 2 or 5 times a power of ten, about `count` of them.
  const ticks = (from, to, count) => {
    const rough = (to - from) / count;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((k) => k * power).find((s) => s >= rough);
    const all = [];
    for (let i = Math.ceil(from / step); i * step <= to; i++) all.push(Number((i * step).toPrecision(12)));
    return all;
  };

  const draw = () => {
    const height = top + shown.panels.length * (panel + gap) + 24;
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    const x = (t) => left + ((t - view[0]) / (view[1] - view[0])) * (width - left - right);
    const inside = shown.times.map((t, i) => [t, i]).filter(([t]) => t >= view[0] && t <= view[1]);
    const bottom = height - 24 - gap + 6;
    for (const t of ticks(view[0], view[1], 8)) {
      make("line", { class: "rule", x1: x(t), x2: x(t), y1: top, y2: bottom }, svg);
      make("text", { x: x(t), y: bottom + 18, "text-anchor": "middle" }, svg, String(t));
    }
    make("text", { x: (left + width) / 2, y: height - 4, "text-anchor": "middle" }, svg, "ms from the first current");
    shown.panels.forEach((one, number) => {
      const head = top + number * (panel + gap);
      const part = inside.flatMap(([, i]) => [one.values[2 * i], one.values[2 * i + 1]]);
      let [low, high] = [Math.min(0, ...part), Math.max(1, ...part)];
      high += 0.06 * (high - low);
      const y = (v) => head + 8 + ((high - v) / (high - low)) * (panel - 8);
      for (const v of ticks(low, high, 5)) {
        make("line", { class: "rule", x1: left, x2: width - right, y1: y(v), y2: y(v) }, svg);
        make("text", { x: left - 8, y: y(v) + 4, "text-anchor": "end" }, svg, String(v));
      }
      make("text", { x: 4, y: head }, svg, one.label);
      const points = inside.flatMap(([t, i]) => [`${x(t).toFixed(1)},${y(one.values[2 * i]).toFixed(1)}`, `${x(t).toFixed(1)},${y(one.values[2 * i + 1]).toFixed(1)}`]);
      make("polyline", { class: one.kind, points: points.join(" ") }, svg);
    });
    let end = -Infinity;
    let row = 0;
    for (const [name, t] of shown.marks) {
      if (t < view[0] || t > view[1]) continue;
      row = x(t) < end ? (row + 1) % 2 : 0;
      end = x(t) + 9 * name.length + 8;
      make("line", { class: "instant", x1: x(t), x2: x(t), y1: top - 14 + 12 * row, y2: bottom }, svg);
      make("text", { x: Math.min(x(t) + 3, width - 8 * name.length), y: top - 12 + 14 * row }, svg, name);
    }
    plot.replaceChildren(svg);
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
  const click = (id, act) => document.getElementById(id).addEventListener("click", act);
  click("zoom-strike", () => look(...shown.strike));
  click("zoom-whole", () => look(...shown.whole));
  click("zoom-in", () => zoom(0.5));
  click("zoom-out", () => zoom(2));
  plot.addEventListener("keydown", (event) => {
    const act = { "+": () => zoom(0.5), "=": () => zoom(0.5), "-": () => zoom(2), ArrowLeft: () => move(-0.2), ArrowRight: () => move(0.2) }[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });
  const timeAt = (event) => {
    const box = plot.getBoundingClientRect();
    const place = ((event.clientX - box.left) / box.width) * width;
    return view[0] + ((place - left) / (width - left - right)) * (view[1] - view[0]);
  };
  plot.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(event.deltaY > 0 ? 1.25 : 0.8, timeAt(event));
  }, { passive: false });
  let held = null;
  plot.addEventListener("pointerdown", (event) => { held = timeAt(event); plot.setPointerCapture(event.pointerId); });
  plot.addEventListener("pointerup", () => { held = null; });
  plot.addEventListener("pointermove", (event) => {
    if (held === null) return;
    const shift = held - timeAt(event);
    look(view[0] + shift, view[1] + shift);
  });

  [...table.tBodies[0].rows].forEach((row, number) => {
    if (!traces[number]) return;
    const cell = row.cells[1];
    const button = document.createElement("button");
    button.type = "button";
    button.title = "Show the trace";
    button.append(...cell.childNodes);
    button.addEventListener("click", () => {
      shown = open(traces[number]);
      title.textContent = `Start ${cell.textContent.trim()} of ${row.cells[0].textContent.trim()}, prep ${row.cells[2].textContent.trim()}`;
      viewer.hidden = false;
      look(...shown.strike);
      viewer.scrollIntoView({ block: "nearest" });
      plot.focus({ preventScroll: true });
    });
    cell.append(button);
  });
})();
