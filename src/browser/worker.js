// The worker: holds the files and runs the program over them, so that the page stays alive. Built behind tree.js and wasi.js.

const files = new Files();
// How far the recordings have been read, bytes.
let read = new Map();

const told = (file, to) => {
  if ((read.get(file) ?? 0) >= to) return;
  read.set(file, to);
  let sum = 0;
  for (const bytes of read.values()) sum += bytes;
  postMessage({ read: sum });
};

const tasks = {
  put: ({ path, content }) => {
    const file = content instanceof Blob ? new Picked(content, told) : new Bytes(typeof content === "string" ? new TextEncoder().encode(content) : content);
    files.put(path, file);
  },
  remove: ({ path }) => files.remove(path),
  get: ({ path }) => files.bytes(path),
  // Every file of a folder: its path from there and its bytes.
  list: ({ path }) => {
    const found = [];
    const walk = (folder, from) => {
      for (const [name, file] of folder?.entries ?? []) {
        if (file instanceof Folder) walk(file, `${from}${name}/`);
        else if (file instanceof Bytes) found.push({ path: from + name, bytes: file.whole() });
      }
    };
    walk(files.get(path), "");
    return found;
  },
  run: ({ program, args }) => {
    read = new Map();
    return run(program, files, args);
  },
};

onmessage = async ({ data }) => {
  try {
    postMessage({ id: data.id, answer: await tasks[data.task](data) });
  } catch (error) {
    postMessage({ id: data.id, fault: `${error.said ?? ""}\n${error.message}`.trim() });
  }
};
