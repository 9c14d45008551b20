// The traces of a recording with its starts, and a stretch marked on them.

const SVG = "http://www.w3.org/2000/svg";

const svg = (name, about) => {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(about)) element.setAttribute(key, value);
  return element;
};

// A figure of the program as an image: whatever stands in it, an image runs no script.
const asImage = (text, alt) => {
  const src = URL.createObjectURL(new Blob([text], { type: "image/svg+xml" }));
  return make("img", { loading: "lazy", alt, onload: () => URL.revokeObjectURL(src), src });
};

// Where the seconds of a figure lie: by the numbers under its lowest axis.
const timeAxis = (figure) => {
  const ticks = [...figure.querySelectorAll("text")]
    .map((text) => ({ x: Number(text.getAttribute("x")), y: Number(text.getAttribute("y")), value: Number(text.textContent.trim().replace("−", "-")) }))
    .filter(({ value }) => Number.isFinite(value));
  const lowest = Math.max(...ticks.map(({ y }) => y));
  const row = ticks.filter(({ y }) => y === lowest).sort((a, b) => a.x - b.x);
  const [first, last] = [row[0], row.at(-1)];
  if (!first || first.x === last.x) return null;
  const perSecond = (last.x - first.x) / (last.value - first.value);
  return { x: (seconds) => first.x + (seconds - first.value) * perSecond, seconds: (x) => first.value + (x - first.x) / perSecond };
};

const drawTrace = (recording, place) =>
  work(`Drawing ${recording.name}`, recording.size, async () => {
    const job = state.begun ? ["--job", `${JOB}/job.toml`] : [];
    const { code, said } = await program.run("inspect", recording.path, ...job, "--figure", "trace.svg", "--json", "trace.json");
    const text = await program.text("trace.svg");
    await program.remove("trace.svg");
    await program.remove("trace.json");
    if (code !== 0 || !text) return complain(said);
    const figure = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
    const axis = timeAxis(figure);
    const over = svg("svg", { viewBox: figure.getAttribute("viewBox"), "aria-hidden": "true" });
    const height = Number(figure.getAttribute("viewBox").split(" ")[3]);
    // Below the name of the upper axis.
    for (const [k, at] of (axis ? (recording.starts ?? []) : []).entries()) {
      const x = axis.x(at);
      over.append(svg("line", { class: "start", x1: x, x2: x, y1: 66, y2: height - 40 }), Object.assign(svg("text", { x: x + 3, y: 78 }), { textContent: k + 1 }));
    }
    if (axis) over.addEventListener("pointerdown", (event) => markStretch(event, over, axis, recording));
    const label = figure.getAttribute("aria-label") ?? `Traces of ${recording.name}`;
    const starts = recording.starts?.length ? ` Starts at ${recording.starts.map((at) => `${at.toFixed(2)} s`).join(", ")}.` : "";
    place.replaceChildren(make("div", { className: "trace" }, asImage(text, label + starts), over));
  });

// A stretch marked by dragging becomes the next known load.
const markStretch = (down, over, axis, recording) => {
  const [, , width] = over.getAttribute("viewBox").split(" ").map(Number);
  const at = (event) => {
    const box = over.getBoundingClientRect();
    return ((event.clientX - box.left) / box.width) * width;
  };
  const from = at(down);
  const mark = svg("rect", { class: "mark", x: from, y: 50, width: 0, height: 2000 });
  over.querySelector(".mark")?.remove();
  over.append(mark);
  over.setPointerCapture(down.pointerId);
  const move = (event) => {
    mark.setAttribute("x", Math.min(from, at(event)));
    mark.setAttribute("width", Math.abs(at(event) - from));
  };
  const up = (event) => {
    over.removeEventListener("pointermove", move);
    const [a, b] = [from, at(event)].sort((x, y) => x - y).map((x) => Math.max(0, axis.seconds(x)));
    if (b - a > 0.001 && state.recordings.find(({ seen }) => seen) === recording) markKnown(a, b);
  };
  over.addEventListener("pointermove", move);
  over.addEventListener("pointerup", up, { once: true });
};

