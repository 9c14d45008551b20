// The answer: measured, compared and reported by the program, shown start by start, saved.

const measure = async () => {
  const started = performance.now();
  $("answer").hidden = true;
  busy.size = sizeOf(state.recordings);
  await writeJob();
  for (const file of await program.ask("list", { path: "out" })) await program.remove(`out/${file.path}`);
  await program.ask("put", { path: "out/figures/none", content: "" });
  await program.remove("out/figures/none");
  step("Measuring");
  const measured = await program.run("measure", JOB, "--csv", "out/starts.csv", "--jsonl", "out/starts.jsonl", "--figure", "out/figures");
  if (measured.code !== 0 && measured.code !== 3) return complain(measured.said);
  if (measured.code === 3) complain(measured.said);
  $("noticed").textContent = measured.said;
  $("health").hidden = !measured.said.trim();
  step("Writing the page");
  await program.remove(`${JOB}/page.html`);
  const reported = await program.run("report", JOB, "-o", `${JOB}/page.html`, "--for", $("purpose").value, "--quiet");
  if (reported.code !== 0 && reported.code !== 3) return complain(reported.said);
  const compared = await program.run("compare", JOB, "--quiet");
  $("compared").textContent = compared.code === 0 || compared.code === 3 ? compared.out : compared.said;
  await showAnswer();
  say(`Measured in ${((performance.now() - started) / 1000).toFixed(1)} s.`);
};

const showAnswer = async () => {
  const lines = (await program.text("out/starts.jsonl")).split("\n").filter(Boolean);
  state.rows = lines.map((line) => JSON.parse(line));
  state.pictures = await program.ask("list", { path: "out/figures" });
  const page = await program.text(`${JOB}/page.html`);
  const answer = new DOMParser().parseFromString(page, "text/html").getElementById("answer");
  const box = answer.querySelector(".verdict");
  $("verdict-box").className = box?.className ?? "verdict";
  $("verdict").textContent = answer.querySelector("h2")?.textContent ?? "";
  $("reason").textContent = answer.querySelector(".reason")?.textContent ?? "";
  $("page").srcdoc = page;
  showSaves();
  shown = CARDS;
  showStarts();
  $("answer").hidden = false;
  $("verdict").focus({ preventScroll: true });
  $("answer").scrollIntoView();
};

const save = (name, bytes, type) => {
  const link = make("a", { href: URL.createObjectURL(new Blob([bytes], { type })), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
};

const SAVED = [
  ["page.html", `${JOB}/page.html`, "text/html"],
  ["starts.csv", "out/starts.csv", "text/csv"],
  ["starts.jsonl", "out/starts.jsonl", "application/jsonl"],
  ["job.toml", `${JOB}/job.toml`, "application/toml"],
  ["runs.csv", `${JOB}/runs.csv`, "text/csv"],
];

const showSaves = () => {
  const button = ([name, path, type]) => make("button", { type: "button", textContent: `Save ${name}`, onclick: async () => save(name, await program.ask("get", { path }), type) });
  $("saves").replaceChildren(...SAVED.map(button));
};

let shown = CARDS;

const pictureOf = ({ run, start }) => {
  const ending = `-run${String(run).padStart(3, "0")}-start${String(start).padStart(3, "0")}.svg`;
  return state.pictures.find(({ path }) => path.endsWith(ending));
};

const showStarts = () => {
  const all = state.rows.map((row, k) => ({ row, number: k + 1 }));
  if ($("order").value === "worst") all.sort((a, b) => (a.row.score ?? 101) - (b.row.score ?? 101));
  $("starts").replaceChildren(...all.slice(0, shown).map(card));
  $("more").hidden = shown >= all.length;
};

const card = ({ row, number }) => {
  const which = `${number}. ${row.recording}, start ${row.start}`;
  const score = row.score === null ? "" : `, score ${Math.round(row.score)}`;
  const time = row.start_ms === null ? "" : `, ${Number(row.start_ms.toPrecision(3))} ms`;
  const word = row.verdict ?? "";
  const parts = [make("h3", {}, make("bdi", { textContent: which })), make("p", {}, `Prep ${row.prep}${row.tip_id ? `, tip ${row.tip_id}` : ""}: `, make("span", { className: `v v-${word.replaceAll(" ", "-")}`, textContent: word }), `${score}${time}`)];
  if (row.flags?.length) parts.push(make("p", { className: "note", textContent: `Flags: ${row.flags.join(", ")}` }));
  if (row.doubt) parts.push(make("p", { className: "note", textContent: row.doubt }));
  const picture = pictureOf(row);
  if (picture) {
    const large = () => {
      $("large").replaceChildren(make("p", {}, make("button", { type: "button", textContent: "Close", onclick: () => $("large").close() })), make("div", { className: "scroll", tabIndex: 0, role: "region", "aria-label": `Traces of start ${number}` }, asImage(picture.bytes, `Traces of start ${number}, ${word}`)));
      $("large").showModal();
    };
    parts.push(make("button", { type: "button", className: "picture", "aria-label": `Larger: traces of start ${number}, ${word}`, onclick: large }, asImage(picture.bytes, "")));
  }
  parts.push(asideForm(row, number));
  return make("li", { className: row.exclude ? "aside" : "" }, ...parts);
};

const asideForm = (row, number) => {
  if (row.exclude) {
    const back = make("button", { type: "button", textContent: "Count it again", onclick: () => setAside(number, ["--back"]) });
    return make("p", {}, `Set aside: ${row.exclude} `, back);
  }
  const reason = make("input", { "aria-label": `Why start ${number} is set aside`, placeholder: "reason, such as fumbled", required: true });
  const form = make("form", {}, reason, make("button", { textContent: "Set aside" }));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    setAside(number, [`--because=${reason.value}`]);
  });
  return form;
};

const setAside = (number, options) =>
  work("Setting aside", 0, async () => {
    await writeJob();
    const { code, said } = await program.run("aside", JOB, String(number), ...options);
    if (code !== 0 && code !== 3) return complain(said);
    await program.keep(`${JOB}/runs.csv`);
    await showJob();
    await measure();
  });

