// A folder tree in memory. A file is bytes, or a Blob of the user's: of a Blob only the piece that is asked for is ever read, so
// a recording may be larger than memory.

// Bytes of a Blob that are read at once: few where the program looks at a spot, more and more where it reads on.
const LEAST = 256 << 10;
const MOST = 4 << 20;
// Bytes that are kept of what was read, of all Blobs together. The program goes over a recording once and then looks at spots of it,
// and reading from the browser takes longer than measuring what was read.
const KEPT = 64 << 20;
// Of a Blob that is larger, the spots.
const SPOTS = 16 << 20;
// Chromium holds on to what was read until its garbage collector runs, which counts all that was asked for: so this many times the
// bytes read are asked for and let go, and it runs soon enough. Nothing touches them, so they take no memory. Reading 2 GB, the page's
// process had 1.2 GB without them, and 0.3 GB with them.
const BALLAST = 8;

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
  // The pieces that are kept, the last one used first.
  static kept = [];

  constructor(blob, told = () => {}) {
    this.blob = blob;
    this.size = blob.size;
    this.changed = blob.lastModified ?? 0;
    this.told = told;
    this.reader = new FileReaderSync();
  }

  read(at, length) {
    if (at >= this.size) return new Uint8Array(0);
    const { from, bytes } = this.piece(at);
    // Fewer bytes than asked for is an answer: the program asks again.
    return bytes.subarray(at - from, at - from + length);
  }

  // The piece that a byte is in.
  piece(at) {
    const { kept } = Picked;
    const k = kept.findIndex(({ file, from, bytes }) => file === this && at >= from && at < from + bytes.length);
    const piece = k < 0 ? this.fetch(at, kept[0]) : kept.splice(k, 1)[0];
    kept.unshift(piece);
    const most = this.size > KEPT ? SPOTS : KEPT;
    for (let sum = kept.reduce((sum, { bytes }) => sum + bytes.length, 0); sum > most; ) sum -= kept.pop().bytes.length;
    this.told(this, piece.from + piece.bytes.length);
    return piece;
  }

  fetch(from, last) {
    const follows = last?.file === this && from === last.from + last.bytes.length;
    const length = follows ? Math.min(2 * last.bytes.length, MOST) : LEAST;
    new ArrayBuffer(BALLAST * length);
    return { file: this, from, bytes: new Uint8Array(this.reader.readAsArrayBuffer(this.blob.slice(from, from + length))) };
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
