// Recordings and jobs are picked: by file, by folder, dropped, or the samples.

const bytesAs = (size) => (size < 1e6 ? `${Math.ceil(size / 1000)} kB` : `${(size / 1e6).toFixed(1)} MB`);

// Takes files with their paths: a job where there is a job file, else recordings by themselves.
const take = async (picked) => {
  const jobs = picked.filter(({ path }) => /(^|\/)job\.toml$/i.test(path)).sort((a, b) => a.path.length - b.path.length);
  if (jobs.length > 0) {
    const folder = jobs[0].path.slice(0, -"job.toml".length);
    const below = picked.filter(({ path }) => path.startsWith(folder)).map(({ path, content }) => ({ path: path.slice(folder.length), content }));
    return takeJob(below);
  }
  return takeRecordings(picked);
};

const isRecording = (path) => ENDINGS.some((ending) => path.toLowerCase().endsWith(ending)) && !/(^|\/)(\.|runs\.csv$)/i.test(path);

const forget = async () => {
  for (const path of [...program.held.keys()]) await program.remove(path);
  // What was measured of other files of the same name.
  await program.remove("kept");
  Object.assign(state, { recordings: [], begun: false, given: false, preps: [], sheet: null, sheetChanged: false, rows: [], pictures: [] });
  for (const id of ["wiring", "struck", "answer", "clear"]) $(id).hidden = true;
  $("recordings").replaceChildren();
  complain("");
  say("");
};

const takeJob = (files) =>
  work("Reading the job", 0, async () => {
    await forget();
    for (const { path, content } of files) {
      if (!/^(job\.toml|runs\.csv)$/i.test(path) && !isRecording(path)) continue;
      if (/^(job\.toml|runs\.csv)$/i.test(path)) await program.put(`${JOB}/${path.toLowerCase()}`, new Uint8Array(await new Blob([content]).arrayBuffer()));
      else {
        await program.put(`${JOB}/${path}`, content);
        state.recordings.push({ name: path, path: `${JOB}/${path}`, size: content.size ?? content.length });
      }
    }
    Object.assign(state, { begun: true, given: true });
    $("clear").hidden = false;
    showRecordings();
    await showJob();
    await measure();
  });

const takeRecordings = (files) =>
  work("Looking into the recordings", sizeOf(files.map(({ content }) => content)), async () => {
    // More recordings join a job that is begun here; beside one that was given they begin another.
    if (state.given) await forget();
    state.begun = false;
    for (const id of ["struck", "answer"]) $(id).hidden = true;
    const fresh = files.filter(({ path }) => files.length === 1 || isRecording(path));
    for (const { path, content } of fresh) {
      const base = path.split("/").at(-1);
      let name = base;
      for (let k = 2; state.recordings.some((other) => other.name === name); k += 1) name = base.replace(/(\.[^.]*)?$/, `-${k}$1`);
      await program.put(`${JOB}/${name}`, content);
      state.recordings.push({ name, path: `${JOB}/${name}`, size: content.size ?? content.length });
    }
    if (fresh.length === 0) return complain(`Nothing here is a recording: their names end in ${ENDINGS.slice(0, 4).join(", ")}.`);
    $("clear").hidden = false;
    await inspect();
  });

const inspect = async () => {
  for (const recording of state.recordings.filter(({ seen, fault }) => !seen && !fault)) {
    step(`Looking into ${recording.name}`);
    busy.size = recording.size;
    const { code, out, said } = await program.run("inspect", recording.path, "--json", "-");
    if (code === 0) [recording.seen] = JSON.parse(out);
    else recording.fault = said.trim();
  }
  const model = state.recordings.find(({ seen }) => seen);
  if (model) model.open = true;
  showRecordings();
  if (model) showWiring(model);
  say(`${state.recordings.length} picked.`);
};

const sentence = ({ flag, seen }) => `${flag}: ${seen}`;

const showRecordings = () => {
  const item = (recording) => {
    const { name, size, seen, fault, starts } = recording;
    const about = seen ? `${seen.kind}, ${seen.rate_hz} Hz, ${Number(seen.seconds.toPrecision(4))} s` : "";
    const count = starts ? `, ${starts.length} ${starts.length === 1 ? "start" : "starts"}` : "";
    const details = make("details", {}, make("summary", {}, make("bdi", { textContent: name }), ` · ${[bytesAs(size), about].filter(Boolean).join(" · ")}${count}`));
    if (fault) details.append(make("p", { className: "bad said", textContent: fault }));
    if (seen?.findings?.length) details.append(make("ul", { className: "warn" }, ...seen.findings.map((finding) => make("li", { textContent: sentence(finding) }))));
    if (!fault) {
      const place = make("div", { className: "scroll", tabIndex: 0, role: "region", "aria-label": `Traces of ${name}` });
      details.append(place);
      details.addEventListener("toggle", () => details.open && !place.firstChild && drawTrace(recording, place));
    }
    if (fault || recording.open) details.open = true;
    return make("li", {}, details);
  };
  $("recordings").replaceChildren(...state.recordings.map(item));
};

