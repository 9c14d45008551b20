// The program as the page sees it: files are put into its worker, verbs are run, answers come back as promises.

class Cancelled extends Error {}

class Program {
  constructor(module, workerCode) {
    this.module = module;
    this.workerUrl = URL.createObjectURL(new Blob([workerCode], { type: "text/javascript" }));
    // What the worker holds, to give it to the next one after a cancel.
    this.held = new Map();
    this.onread = () => {};
    this.begin();
  }

  begin() {
    this.waiting = new Map();
    this.worker = new Worker(this.workerUrl);
    this.worker.onmessage = ({ data }) => {
      if (data.read !== undefined) return this.onread(data.read);
      const { resolve, reject } = this.waiting.get(data.id);
      this.waiting.delete(data.id);
      if (data.fault === undefined) resolve(data.answer);
      else reject(new Error(data.fault));
    };
    this.worker.onerror = (event) => {
      for (const { reject } of this.waiting.values()) reject(new Error(event.message || "the worker ended"));
      this.waiting.clear();
    };
    for (const [path, content] of this.held) this.ask("put", { path, content });
  }

  ask(task, about = {}) {
    const id = crypto.randomUUID?.() ?? String(Math.random());
    return new Promise((resolve, reject) => {
      this.waiting.set(id, { resolve, reject });
      this.worker.postMessage({ id, task, ...about });
    });
  }

  put(path, content) {
    this.held.set(path, content);
    return this.ask("put", { path, content });
  }

  remove(path) {
    this.held.delete(path);
    return this.ask("remove", { path });
  }

  // Takes a file that the program wrote as one that a next worker needs, too.
  async keep(path) {
    const bytes = await this.ask("get", { path });
    if (bytes) this.held.set(path, bytes);
    return bytes;
  }

  async text(path) {
    const bytes = await this.ask("get", { path });
    return bytes && new TextDecoder().decode(bytes);
  }

  // Exit code, stdout as text, stderr.
  async run(...args) {
    const { code, stdout, stderr } = await this.ask("run", { program: this.module, args });
    return { code, out: new TextDecoder().decode(stdout), said: stderr };
  }

  // Stops what runs: the worker ends, and a new one gets the same files.
  cancel() {
    this.worker.terminate();
    for (const { reject } of this.waiting.values()) reject(new Cancelled());
    this.begin();
  }
}

// The bytes of an embedded block: base64 of a gzip stream.
const embedded = async (id) => {
  const text = document.getElementById(id).textContent.trim();
  const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
};
