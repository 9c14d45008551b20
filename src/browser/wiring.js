// How the logger is wired: asked for as far as the recording leaves it open, and given to `tipstrike begin`.

const WAYS = {
  units: "amps, as its header says",
  shunt: "a shunt, by its plate",
  clamp: "a clamp or isolating amplifier",
  full: "amps at full scale",
  unit: "amps for each unit of the column",
  known: "a load of known current in this recording",
};

const loadRow = () => {
  const row = make("div", { className: "load" });
  for (const [name, label] of [["amps", "Load, A"], ["from", "from, s"], ["to", "to, s"]]) row.append(make("label", {}, label, make("input", { inputMode: "decimal", size: 7, name })));
  return row;
};

const markKnown = (from, to) => {
  const rows = [...$("known").children];
  const row = rows.find((one) => [...one.querySelectorAll("input")].slice(1).every((input) => !input.value)) ?? rows.at(-1);
  const [, a, b] = row.querySelectorAll("input");
  [a.value, b.value] = [from.toFixed(3), to.toFixed(3)];
  say(`Marked from ${a.value} s to ${b.value} s: now write the current of that load.`);
};

const showWiring = ({ name, seen }) => {
  const usable = seen.channels.filter(({ numbers, role }) => numbers && role !== "time");
  const option = (channel) => make("option", { value: channel.channel, textContent: channel.title ? `column ${channel.channel}, “${channel.title}”` : `channel ${channel.channel}` });
  const roles = { current: usable.find(({ role }) => role === "current"), voltage: usable.find(({ role }) => role === "voltage") };
  $("current").replaceChildren(...usable.map(option));
  $("voltage").replaceChildren(...(roles.voltage ? [] : [make("option", { value: "", textContent: "none" })]), ...usable.map(option));
  if (roles.current) $("current").value = roles.current.channel;
  if (roles.voltage) $("voltage").value = roles.voltage.channel;
  const why = roles.current?.reason ? ` The current is taken for ${roles.current.title ? `column “${roles.current.title}”` : `channel ${roles.current.channel}`}: ${roles.current.reason}.` : "";
  $("wired-as").replaceChildren("As ", make("bdi", { textContent: name }), ` shows it. Look whether it is so.${why}`);
  $("known").replaceChildren(loadRow(), loadRow());
  state.model = seen;
  showScale();
  $("wiring").hidden = false;
};

const channelOf = (id) => state.model.channels.find(({ channel }) => String(channel) === $(id).value);

// Only what this channel leaves open is asked for.
const showScale = () => {
  const reading = channelOf("current")?.reading;
  const ways = { amps: ["units"], volts: ["shunt", "clamp", "known"], full_scale: ["shunt", "clamp", "full", "known"], bare: ["shunt", "clamp", "unit", "known"] }[reading] ?? ["unit"];
  const kept = $("way").value;
  $("way").replaceChildren(...ways.map((way) => make("option", { value: way, textContent: WAYS[way] })));
  if (ways.includes(kept)) $("way").value = kept;
  const way = $("way").value;
  for (const field of document.querySelectorAll("#scale [data-way]")) field.hidden = !field.dataset.way.split(" ").includes(way);
  const voltage = channelOf("voltage")?.reading;
  const overVolts = way === "shunt" || way === "clamp";
  $("full-v-label").hidden = voltage !== "full_scale" && !(overVolts && reading === "full_scale");
  $("unit-v-label").hidden = voltage !== "bare" && !(overVolts && reading === "bare");
  $("volts").hidden = !voltage && $("full-v-label").hidden && $("unit-v-label").hidden;
};

// The wiring as options of `tipstrike begin`.
const wiringOptions = () => {
  const way = $("way").value;
  const given = (option, id) => ($(id).value.trim() && !$(id).closest("[hidden]") ? [option, $(id).value.trim()] : []);
  const options = [...given("--current", "current"), ...given("--voltage", "voltage"), ...given("--title", "title"), ...given("--preps", "preps"), ...given("--electrode-negative", "sign"), ...given("--mains-hz", "mains"), ...given("--divider", "divider"), ...given("--volts-at-full-scale", "full-v"), ...given("--volts-per-unit", "unit-v")];
  if (way === "shunt") options.push("--shunt", `${$("plate-a").value.trim()} A / ${$("plate-mv").value.trim()} mV`);
  if (way === "shunt" || way === "clamp") options.push(...given("--gain", "gain"));
  if (way === "clamp") options.push(...given("--amps-per-volt", "per-volt"));
  if (way === "full") options.push(...given("--amps-at-full-scale", "full-a"));
  if (way === "unit") options.push(...given("--amps-per-unit", "unit-a"));
  if (way === "known")
    for (const row of $("known").children) {
      const [amps, from, to] = [...row.querySelectorAll("input")].map((input) => input.value.trim());
      if (amps || from) options.push("--known", `${amps} A from ${from} s to ${to} s`);
    }
  // A value that begins with a dash is no option.
  return options.flatMap((text, k) => (k % 2 ? [] : [`${text}=${options[k + 1]}`]));
};

const begin = () =>
  work("Finding the starts", sizeOf(state.recordings), async () => {
    for (const name of ["job.toml", "runs.csv"]) await program.remove(`${JOB}/${name}`);
    const readable = state.recordings.filter(({ fault }) => !fault);
    // A recording that cannot be read is left out, and said to be.
    for (const { path, fault } of state.recordings) if (fault) await program.remove(path);
    const { code, said } = await program.run("begin", JOB, ...wiringOptions());
    if (code !== 0 && code !== 3) return complain(said);
    for (const name of ["job.toml", "runs.csv"]) await program.keep(`${JOB}/${name}`);
    state.begun = true;
    state.preps = $("preps").value.split(",").map((name) => ({ name: name.trim(), said: {} }));
    await findStarts(readable);
    await showJob();
    say("Now say what was struck, then measure.");
    $("struck").scrollIntoView();
  });

const findStarts = async (recordings) => {
  const rules = ["--job", `${JOB}/job.toml`, "--prep", state.preps[0].name];
  const { out, said, code } = await program.run("measure", ...recordings.map(({ path }) => path), ...rules, "--jsonl", "-");
  if (code !== 0) complain(said);
  const rows = out.split("\n").filter(Boolean).map((line) => JSON.parse(line));
  for (const recording of recordings) {
    recording.starts = rows.filter((row) => row.recording === recording.name || row.recording === recording.path).map((row) => row.t_first_s ?? row.t_lit_s ?? row.t_open_s);
  }
  recordings[0].open = true;
  showRecordings();
};

