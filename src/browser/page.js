// Dropping, the samples, and what listens to what.

// Files of a dropped folder, with their paths.
const walk = async (entry, into) => {
  if (entry.isFile) {
    const file = await new Promise((resolve, reject) => entry.file(resolve, reject));
    into.push({ path: entry.fullPath.replace(/^\//, ""), content: file });
    return;
  }
  const reader = entry.createReader();
  for (;;) {
    const some = await new Promise((resolve, reject) => reader.readEntries(resolve, reject));
    if (some.length === 0) return;
    for (const one of some) await walk(one, into);
  }
};

const dropped = async (items) => {
  // What was dropped is gone once this function first waits.
  const all = [...items].map((item) => item.webkitGetAsEntry?.() ?? item.getAsFile()).filter(Boolean);
  const files = [];
  for (const one of all) {
    if (one instanceof File) files.push({ path: one.name, content: one });
    else await walk(one, files);
  }
  if (files.length > 0) await take(files);
};

const samples = async () => {
  let files = [];
  await work("Making the samples", 0, async () => {
    const { code, said } = await program.run("demo", "samples");
    if (code !== 0) return complain(said);
    files = (await program.ask("list", { path: "samples" })).filter(({ path }) => !path.includes("/"));
    for (const { path } of await program.ask("list", { path: "samples" })) await program.remove(`samples/${path}`);
  });
  if (files.length) await take(files.map(({ path, bytes }) => ({ path, content: bytes })));
};

const listen = () => {
  const drop = $("drop");
  for (const name of ["dragenter", "dragover"]) document.addEventListener(name, (event) => { event.preventDefault(); drop.classList.add("over"); });
  for (const name of ["dragleave", "drop"]) document.addEventListener(name, (event) => { event.preventDefault(); drop.classList.remove("over"); });
  document.addEventListener("drop", (event) => dropped(event.dataTransfer.items));
  for (const [button, input] of [["pick-files", "files"], ["pick-folder", "folder"]]) {
    $(button).addEventListener("click", () => $(input).click());
    $(input).addEventListener("change", async () => {
      const files = [...$(input).files].map((file) => ({ path: file.webkitRelativePath || file.name, content: file }));
      $(input).value = "";
      await take(files);
    });
  }
  $("samples").addEventListener("click", samples);
  $("clear").addEventListener("click", () => work("Beginning again", 0, forget));
  $("cancel").addEventListener("click", () => program.cancel());
  $("measure").addEventListener("click", () => work("Measuring", sizeOf(state.recordings), measure));
  $("order").addEventListener("change", showStarts);
  $("more").addEventListener("click", () => { shown += CARDS; showStarts(); });
  $("all-columns").addEventListener("change", () => state.sheet.header.length && showSheet());
  for (const id of ["current", "voltage", "way"]) $(id).addEventListener("change", showScale);
  $("wiring-form").addEventListener("submit", (event) => { event.preventDefault(); begin(); });
};

const open = async () => {
  const module = await WebAssembly.compile(await embedded("program"));
  program = new Program(module, $("worker-code").textContent);
  program.onread = onread;
  listen();
  document.documentElement.dataset.ready = "yes";
};

open().catch((error) => complain(`This browser cannot run the program: ${error.message}`));
