// A folder tree in memory. A file is bytes, or a Blob of the user's: of a Blob only the piece that is asked for is ever read, so
// a recording may be larger than memory.

// Bytes of a Blob that are read at once, and kept.
const PIECE = 4 << 20;
// Bytes asked for and let go with each piece. Chromium holds on to what was read until its garbage collector runs, which counts these
// too: so it runs soon enough. Nothing touches them, so they take no memory. Reading 2 GB, the page's process had 1.2 GB without
// them, and 0.3 GB with them.
const BALLAST = 8 * PIECE;

export class Folder {
  entries = new Map();
  changed = Date.now();
}

// A file of bytes that grows as it is written to.
export class Bytes {
  constructor(bytes = new Uint8Array(0)) {
    this.bytes = bytes;
    this.size = bytes.length;
    this.changed = Date.now();
  }

  read(at, length) {
    return this.bytes.subarray(Math.min(at, this.size), Math.min(at + length, this.size));
  }

  write(at, bytes) {
    const end = at + bytes.length;
    if (end > this.bytes.length) {
      const larger = new Uint8Array(Math.max(end, 2 * this.bytes.length, 1 << 12));
      larger.set(this.bytes.subarray(0, this.size));
      this.bytes = larger;
    }
    this.bytes.set(bytes, at);
    this.size = Math.max(this.size, end);
    this.changed = Date.now();
  }

  resize(size) {
    if (size > this.size) this.write(size, new Uint8Array(0));
    this.bytes.fill(0, size, this.size);
    this.size = size;
  }

  whole() {
    return this.bytes.slice(0, this.size);
  }
}

// A file of the user's. It is read in pieces, in a worker, and never written to.
export class Picked {
  constructor(blob, told = () => {}) {
    this.blob = blob;
    this.size = blob.size;
    this.changed = blob.lastModified ?? 0;
    this.told = told;
    this.reader = new FileReaderSync();
    this.from = 0;
    this.piece = new Uint8Array(0);
  }

  read(at, length) {
    const end = Math.min(at + length, this.size);
    if (at >= end) return new Uint8Array(0);
    if (at < this.from || at >= this.from + this.piece.length) {
      new ArrayBuffer(BALLAST);
      const slice = this.blob.slice(at, at + Math.max(length, PIECE));
      this.piece = new Uint8Array(this.reader.readAsArrayBuffer(slice));
      this.from = at;
      this.told(this, at + this.piece.length);
    }
    const within = at - this.from;
    // Fewer bytes than asked for is an answer: the program asks again.
    return this.piece.subarray(within, within + Math.min(length, this.piece.length - within));
  }
}

export class Files {
  root = new Folder();

  static parts(path) {
    const parts = [];
    for (const part of path.split("/")) {
      if (part === "..") parts.pop();
      else if (part !== "" && part !== ".") parts.push(part);
    }
    return parts;
  }

  // The folder that holds a path's last part, and that part.
  parent(path, make = false) {
    const parts = Files.parts(path);
    const name = parts.pop();
    let folder = this.root;
    for (const part of parts) {
      let next = folder.entries.get(part);
      if (!next && make) folder.entries.set(part, (next = new Folder()));
      if (!(next instanceof Folder)) return [null, name];
      folder = next;
    }
    return [folder, name];
  }

  get(path) {
    const [folder, name] = this.parent(path);
    if (name === undefined) return this.root;
    return folder?.entries.get(name);
  }

  put(path, file) {
    const [folder, name] = this.parent(path, true);
    folder.entries.set(name, file);
  }

  remove(path) {
    const [folder, name] = this.parent(path);
    return folder?.entries.delete(name) ?? false;
  }

  bytes(path) {
    const file = this.get(path);
    return file instanceof Bytes ? file.whole() : null;
  }

  text(path) {
    const bytes = this.bytes(path);
    return bytes && new TextDecoder().decode(bytes);
  }
}
