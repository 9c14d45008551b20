// What was struck: the preps and the run sheet.

// Columns in the order they are shown, and how many of them are shown even where they are empty.
const ORDER = ["file", "prep", "tip_id", "coupon", "starts", "since_regrind", "exclude", "note", "set_a", "process", "start_method", "date", "gas", "flow", "operator", "tip_after"];
const ALWAYS = 8;

const showJob = async () => {
  $("job-text").value = (await program.text(`${JOB}/job.toml`)) ?? "";
  state.jobText = $("job-text").value;
  const text = (await program.text(`${JOB}/runs.csv`)) ?? "";
  // A sheet in other letters is the program's to read: it is not changed here.
  const readable = !/[\ufffd\0]/.test(text);
  state.sheet = readSheet(readable ? text : "");
  state.sheetChanged = false;
  if (state.sheet.header.length) showSheet();
  $("sheet").hidden = !state.sheet.header.length;
  showPreps();
  $("struck").hidden = false;
};

const showPreps = () => {
  const field = (prep, [key, label, what]) => {
    const about = { value: prep.said[key] ?? "", oninput: (event) => (prep.said[key] = event.target.value) };
    const input = Array.isArray(what) ? make("select", {}, ...["", ...what].map((word) => make("option", { textContent: word }))) : make("input", { placeholder: what, size: 12 });
    return make("label", {}, label, Object.assign(input, about));
  };
  $("prep-forms").replaceChildren(...state.preps.map((prep) => make("fieldset", {}, make("legend", { textContent: `Prep ${prep.name}` }), ...PREP_KEYS.map((key) => field(prep, key)))));
};

const showSheet = () => {
  const { header, rows } = state.sheet;
  const names = header.map(asName);
  const place = (k) => (ORDER.includes(names[k]) ? ORDER.indexOf(names[k]) : ORDER.length);
  const columns = [...names.keys()].sort((a, b) => place(a) - place(b));
  const used = columns.filter((k) => place(k) < ALWAYS || $("all-columns").checked || rows.some((row) => row[k]?.trim()));
  const changed = (row, k) => (event) => {
    row[k] = event.target.value;
    state.sheetChanged = true;
  };
  const cell = (row, number, k) => {
    if (names[k] === "file") {
      const found = state.recordings.find(({ name }) => name === row[k])?.starts?.length;
      return make("th", { scope: "row", className: "file" }, make("bdi", { textContent: row[k] }), ...(found === undefined ? [] : [make("small", { textContent: `${found} found` })]));
    }
    const wide = ["note", "exclude", "tip_after"].includes(names[k]);
    return make("td", { className: wide ? "wide-cell" : "" }, make("input", { value: row[k] ?? "", oninput: changed(row, k), "aria-label": `${names[k]}, row ${number + 1}` }));
  };
  const more = (number) => {
    const add = () => {
      // The next starts of the same recording.
      const fresh = rows[number].map((text, k) => (["starts", "exclude", "since_regrind", "tip_id"].includes(names[k]) ? "" : text));
      rows.splice(number + 1, 0, fresh);
      state.sheetChanged = true;
      showSheet();
    };
    const drop = () => {
      rows.splice(number, 1);
      state.sheetChanged = true;
      showSheet();
    };
    return make("td", {}, make("button", { type: "button", onclick: add, title: "A row for the next starts of this recording", "aria-label": `Add a row below row ${number + 1}`, textContent: "+" }), make("button", { type: "button", onclick: drop, title: "Take this row out", "aria-label": `Take row ${number + 1} out`, textContent: "−" }));
  };
  const [file, ...others] = used;
  $("sheet").tHead.replaceChildren(make("tr", {}, ...used.map((k) => make("th", { scope: "col", textContent: names[k] }))));
  $("sheet").tHead.rows[0].cells[0].colSpan = 2;
  $("sheet").tBodies[0].replaceChildren(...rows.map((row, number) => make("tr", {}, cell(row, number, file), more(number), ...others.map((k) => cell(row, number, k)))));
};

// Writes what was changed on the page; what was not touched keeps its bytes.
const writeJob = async () => {
  if ($("job-text").value !== state.jobText) {
    // Who writes the job file by hand has said it all there.
    state.preps = [];
    showPreps();
  }
  let text = $("job-text").value;
  if (state.preps.some(({ said }) => Object.values(said).some(Boolean))) text = withPreps(text, state.preps);
  if (text !== state.jobText) {
    await program.put(`${JOB}/job.toml`, text);
    $("job-text").value = state.jobText = text;
  }
  if (state.sheetChanged) await program.put(`${JOB}/runs.csv`, writeSheet(state.sheet));
  state.sheetChanged = false;
};

