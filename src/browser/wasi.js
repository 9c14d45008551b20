// The part of WASI preview 1 that the program asks of its files.
//
// https://github.com/WebAssembly/WASI/blob/main/legacy/preview1/docs.md names every call and number below.

import { Bytes, Folder, Picked } from "./tree.js";

const ERRNO = { SUCCESS: 0, BADF: 8, EXIST: 20, INVAL: 28, IO: 29, ISDIR: 31, NOENT: 44, NOSYS: 52, NOTDIR: 54, NOTEMPTY: 55, PERM: 63 };
const DIRECTORY = 3;
const REGULAR = 4;
const CHARACTERS = 2;
const ALL_RIGHTS = 0xffffffffffffffffn;
const RIGHT_TO_WRITE = 1n << 6n;

class Ended extends Error {
  constructor(code) {
    super(`ended with ${code}`);
    this.code = code;
  }
}

// One run of the program over these files.
class Run {
  constructor(files, args) {
    this.files = files;
    this.args = args.map((arg) => new TextEncoder().encode(`${arg}\0`));
    this.out = [new Bytes(), new Bytes()];
    // 0, 1 and 2 are the streams; 3 is the root folder, which every path is seen from.
    this.open = [null, { file: this.out[0], at: 0 }, { file: this.out[1], at: 0 }, { file: files.root, path: "" }];
    this.ids = new WeakMap();
    this.next = 1n;
  }

  get view() {
    return new DataView(this.memory.buffer);
  }

  memoryAt(at, length) {
    return new Uint8Array(this.memory.buffer, at, length);
  }

  path(fd, at, length) {
    const name = new TextDecoder().decode(this.memoryAt(at, length));
    return `${this.open[fd]?.path ?? ""}/${name}`;
  }

  // Calls `one` with each buffer of a list, until one is not used up.
  vectors(at, count, one) {
    let sum = 0;
    for (let k = 0; k < count; k += 1) {
      const length = this.view.getUint32(at + 8 * k + 4, true);
      const done = one(this.view.getUint32(at + 8 * k, true), length);
      sum += done;
      if (done < length) break;
    }
    return sum;
  }

  id(file) {
    if (!this.ids.has(file)) this.ids.set(file, this.next++);
    return this.ids.get(file);
  }

  kind(file) {
    return file instanceof Folder ? DIRECTORY : REGULAR;
  }

  stat(file, at) {
    const { view } = this;
    const nanoseconds = BigInt(Math.floor(file.changed)) * 1_000_000n;
    view.setBigUint64(at, 1n, true);
    view.setBigUint64(at + 8, this.id(file), true);
    view.setUint8(at + 16, this.out.includes(file) ? CHARACTERS : this.kind(file));
    view.setBigUint64(at + 24, 1n, true);
    view.setBigUint64(at + 32, BigInt(file.size ?? 0), true);
    for (const field of [40, 48, 56]) view.setBigUint64(at + field, nanoseconds, true);
    return ERRNO.SUCCESS;
  }

  read(at, offset, length) {
    const bytes = at.file.read(at.at, length);
    this.memoryAt(offset, bytes.length).set(bytes);
    at.at += bytes.length;
    return bytes.length;
  }

  // Whether a descriptor is open, and on a file.
  stream(fd) {
    const opened = this.open[fd];
    return opened && !(opened.file instanceof Folder) ? opened : null;
  }

  openAt(fd, path, flags, rights, fdflags) {
    const [create, folder, exclusive, truncate] = [1, 2, 4, 8].map((flag) => (flags & flag) !== 0);
    let file = this.files.get(path);
    if (file && create && exclusive) return ERRNO.EXIST;
    if (file && folder && !(file instanceof Folder)) return ERRNO.NOTDIR;
    const writes = (rights & RIGHT_TO_WRITE) !== 0n;
    if (file instanceof Folder && writes && !folder) return ERRNO.ISDIR;
    if (file instanceof Picked && (writes || truncate)) return ERRNO.PERM;
    if (!file) {
      const [parent] = this.files.parent(path);
      if (!create || !parent) return ERRNO.NOENT;
      this.files.put(path, (file = new Bytes()));
    } else if (truncate) file.resize(0);
    return { file, path, at: 0, append: (fdflags & 1) !== 0 };
  }

  // The calls that the program imports, by name.
  get calls() {
    const none = () => ERRNO.NOSYS;
    const calls = {
      args_sizes_get: (count, size) => this.sizes(this.args, count, size),
      args_get: (list, text) => this.texts(this.args, list, text),
      environ_sizes_get: (count, size) => this.sizes([], count, size),
      environ_get: () => ERRNO.SUCCESS,
      clock_time_get: (clock, precision, at) => {
        const now = clock === 0 ? Date.now() : performance.now();
        this.view.setBigUint64(at, BigInt(Math.round(now * 1e6)), true);
        return ERRNO.SUCCESS;
      },
      random_get: (at, length) => {
        for (let k = 0; k < length; k += 65536) crypto.getRandomValues(this.memoryAt(at + k, Math.min(65536, length - k)));
        return ERRNO.SUCCESS;
      },
      sched_yield: () => ERRNO.SUCCESS,
      proc_exit: (code) => {
        throw new Ended(code);
      },
      ...this.descriptorCalls,
      ...this.pathCalls,
    };
    return new Proxy(calls, { get: (all, name) => all[name] ?? none });
  }

  sizes(texts, count, size) {
    this.view.setUint32(count, texts.length, true);
    this.view.setUint32(size, texts.reduce((sum, text) => sum + text.length, 0), true);
    return ERRNO.SUCCESS;
  }

  texts(texts, list, at) {
    for (const [k, text] of texts.entries()) {
      this.view.setUint32(list + 4 * k, at, true);
      this.memoryAt(at, text.length).set(text);
      at += text.length;
    }
    return ERRNO.SUCCESS;
  }

  get descriptorCalls() {
    const number = (at, value) => {
      this.view.setUint32(at, value, true);
      return ERRNO.SUCCESS;
    };
    const reading = (fd, list, count, done, offset) => {
      if (fd === 0) return number(done, 0);
      const opened = this.stream(fd);
      if (!opened) return ERRNO.BADF;
      const at = offset === undefined ? opened : { file: opened.file, at: Number(offset) };
      try {
        return number(done, this.vectors(list, count, (to, length) => this.read(at, to, length)));
      } catch {
        // The browser refuses: the file is gone, or changed since it was picked.
        return ERRNO.IO;
      }
    };
    const writing = (fd, list, count, done, offset) => {
      const opened = this.stream(fd);
      if (!(opened?.file instanceof Bytes)) return ERRNO.BADF;
      const at = offset === undefined ? opened : { file: opened.file, at: Number(offset) };
      if (opened.append) at.at = opened.file.size;
      return number(done, this.vectors(list, count, (from, length) => {
        opened.file.write(at.at, this.memoryAt(from, length));
        at.at += length;
        return length;
      }));
    };
    return {
      fd_read: (fd, list, count, done) => reading(fd, list, count, done),
      fd_pread: (fd, list, count, offset, done) => reading(fd, list, count, done, offset),
      fd_write: (fd, list, count, done) => writing(fd, list, count, done),
      fd_pwrite: (fd, list, count, offset, done) => writing(fd, list, count, done, offset),
      fd_close: (fd) => {
        if (!this.open[fd]) return ERRNO.BADF;
        this.open[fd] = null;
        return ERRNO.SUCCESS;
      },
      fd_seek: (fd, by, whence, to) => {
        const opened = this.stream(fd);
        if (!opened) return ERRNO.BADF;
        const from = [0, opened.at, opened.file.size][whence];
        const at = from + Number(by);
        if (from === undefined || at < 0) return ERRNO.INVAL;
        opened.at = at;
        this.view.setBigUint64(to, BigInt(at), true);
        return ERRNO.SUCCESS;
      },
      fd_tell: (fd, to) => {
        this.view.setBigUint64(to, BigInt(this.stream(fd)?.at ?? 0), true);
        return ERRNO.SUCCESS;
      },
      fd_fdstat_get: (fd, at) => {
        const opened = this.open[fd];
        if (!opened && fd > 2) return ERRNO.BADF;
        this.memoryAt(at, 24).fill(0);
        this.view.setUint8(at, fd <= 2 ? CHARACTERS : this.kind(opened.file));
        this.view.setUint16(at + 2, opened?.append ? 1 : 0, true);
        this.view.setBigUint64(at + 8, ALL_RIGHTS, true);
        this.view.setBigUint64(at + 16, ALL_RIGHTS, true);
        return ERRNO.SUCCESS;
      },
      fd_fdstat_set_flags: () => ERRNO.SUCCESS,
      fd_sync: () => ERRNO.SUCCESS,
      fd_datasync: () => ERRNO.SUCCESS,
      fd_filestat_get: (fd, at) => (this.open[fd] ? this.stat(this.open[fd].file, at) : ERRNO.BADF),
      fd_filestat_set_size: (fd, size) => {
        const file = this.stream(fd)?.file;
        if (!(file instanceof Bytes)) return ERRNO.BADF;
        file.resize(Number(size));
        return ERRNO.SUCCESS;
      },
      fd_prestat_get: (fd, at) => {
        if (fd !== 3) return ERRNO.BADF;
        this.view.setUint8(at, 0);
        return number(at + 4, 1);
      },
      fd_prestat_dir_name: (fd, at) => {
        this.view.setUint8(at, "/".charCodeAt(0));
        return ERRNO.SUCCESS;
      },
      fd_readdir: (fd, at, length, cookie, used) => this.list(fd, at, length, Number(cookie), used),
    };
  }

  // Writes the entries of a folder from number `cookie` on, as many as there is room for; the last may be cut.
  list(fd, at, length, cookie, used) {
    const folder = this.open[fd]?.file;
    if (!(folder instanceof Folder)) return ERRNO.NOTDIR;
    const all = [...folder.entries];
    let written = 0;
    for (let k = cookie; k < all.length && written < length; k += 1) {
      const name = new TextEncoder().encode(all[k][0]);
      const entry = new Uint8Array(24 + name.length);
      const view = new DataView(entry.buffer);
      view.setBigUint64(0, BigInt(k + 1), true);
      view.setBigUint64(8, this.id(all[k][1]), true);
      view.setUint32(16, name.length, true);
      view.setUint8(20, this.kind(all[k][1]));
      entry.set(name, 24);
      const part = entry.subarray(0, length - written);
      this.memoryAt(at + written, part.length).set(part);
      written += part.length;
    }
    this.view.setUint32(used, written, true);
    return ERRNO.SUCCESS;
  }

  get pathCalls() {
    return {
      path_open: (fd, follow, at, length, flags, rights, inheriting, fdflags, to) => {
        const opened = this.openAt(fd, this.path(fd, at, length), flags, rights, fdflags);
        if (typeof opened === "number") return opened;
        const free = this.open.indexOf(null, 4);
        const number = free < 0 ? this.open.length : free;
        this.open[number] = opened;
        this.view.setUint32(to, number, true);
        return ERRNO.SUCCESS;
      },
      path_filestat_get: (fd, follow, at, length, to) => {
        const file = this.files.get(this.path(fd, at, length));
        return file ? this.stat(file, to) : ERRNO.NOENT;
      },
      path_create_directory: (fd, at, length) => {
        const path = this.path(fd, at, length);
        if (this.files.get(path)) return ERRNO.EXIST;
        if (!this.files.parent(path)[0]) return ERRNO.NOENT;
        this.files.put(path, new Folder());
        return ERRNO.SUCCESS;
      },
      path_remove_directory: (fd, at, length) => {
        const path = this.path(fd, at, length);
        if (this.files.get(path)?.entries?.size) return ERRNO.NOTEMPTY;
        return this.files.remove(path) ? ERRNO.SUCCESS : ERRNO.NOENT;
      },
      path_unlink_file: (fd, at, length) => (this.files.remove(this.path(fd, at, length)) ? ERRNO.SUCCESS : ERRNO.NOENT),
      path_rename: (fd, at, length, newFd, newAt, newLength) => {
        const from = this.path(fd, at, length);
        const file = this.files.get(from);
        if (!file) return ERRNO.NOENT;
        this.files.remove(from);
        this.files.put(this.path(newFd, newAt, newLength), file);
        return ERRNO.SUCCESS;
      },
    };
  }
}

// Runs the compiled program with these arguments over these files: its exit code and what it printed. A fault of the program
// itself is thrown.
export const run = async (program, files, args) => {
  const one = new Run(files, ["tipstrike", ...args]);
  const instance = await WebAssembly.instantiate(program, { wasi_snapshot_preview1: one.calls });
  one.memory = instance.exports.memory;
  let code = 0;
  try {
    instance.exports._start();
  } catch (error) {
    if (!(error instanceof Ended)) {
      error.said = new TextDecoder().decode(one.out[1].whole());
      throw error;
    }
    code = error.code;
  }
  const [stdout, stderr] = one.out.map((text) => text.whole());
  return { code, stdout, stderr: new TextDecoder().decode(stderr) };
};
