// Clips that wait in this browser until the studio has them: kept in IndexedDB, sent piece by piece, one after
// the other, again and again until the answer names the set. One for the whole page.

import "./tus-js-client-4.3.1.min.js";

const PIECE = 2 * 1024 * 1024;
const AGAIN_MS = [0, 1000, 3000, 5000, 10000];
const LATER_MS = 20000;

function asked(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

// The shelf: clips by an id, each with whom it belongs to; the films themselves apart, so that each is written once.
class Shelf {
  async opened() {
    this.base ||= new Promise((resolve, reject) => {
      const request = indexedDB.open("plumbset", 1);
      request.onupgradeneeded = () => {
        for (const name of ["clips", "films"]) request.result.createObjectStore(name, { keyPath: "id" });
      };
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });
    return this.base;
  }

  async change(work) {
    const change = (await this.opened()).transaction(["clips", "films"], "readwrite", { durability: "strict" });
    const done = new Promise((resolve, reject) => {
      change.oncomplete = resolve;
      change.onerror = change.onabort = () => reject(change.error);
    });
    work(change.objectStore("clips"), change.objectStore("films"));
    await done;
  }

  // Keep a film and give it back as it lies here: the file it came from may go.
  async film(clip, blob) {
    await this.change((clips, films) => {
      films.put({ id: clip.id, blob });
      clips.put(this.plain(clip));
    });
    return this.blob(clip.id);
  }

  put(clip) {
    return this.change((clips) => clips.put(this.plain(clip)));
  }

  plain({ id, who, draft, name, made, told, title, url, stopped }) {
    return { id, who, draft, name, made, told, title, url, stopped };
  }

  remove(id) {
    return this.change((clips, films) => {
      clips.delete(id);
      films.delete(id);
    });
  }

  async blob(id) {
    const films = (await this.opened()).transaction("films").objectStore("films");
    return (await asked(films.get(id))).blob;
  }

  async all(who) {
    const store = (await this.opened()).transaction("clips").objectStore("clips");
    const clips = (await asked(store.getAll())).filter((clip) => clip.who === who);
    for (const clip of clips) clip.blob = await this.blob(clip.id);
    return clips;
  }
}

class Outbox extends EventTarget {
  shelf = new Shelf();
  clips = [];
  sent = [];

  // Begin with what waits here for the person who is signed in.
  async open(endpoint, who) {
    if (this.who === who) return;
    this.who = who;
    this.endpoint = new URL(endpoint, location.origin).href;
    this.clips = await this.shelf.all(who);
    this.tell();
    addEventListener("online", () => this.pump());
    document.addEventListener("visibilitychange", () => document.hidden || this.pump());
    this.pump();
  }

  tell() {
    this.dispatchEvent(new Event("change"));
  }

  draft() {
    return this.clips.find((clip) => clip.draft);
  }

  waiting() {
    return this.clips.filter((clip) => !clip.draft);
  }

  // Keep what was chosen or filmed before anything else is done with it.
  async keep(blob, name) {
    const before = this.draft();
    const id = before ? before.id : `${Date.now()}-${Math.random().toString(36).slice(2)}`;
    const clip = { id, who: this.who, draft: true, name, made: Date.now() };
    clip.blob = await this.shelf.film(clip, blob);
    this.clips = [...this.clips.filter((one) => one.id !== id), clip];
    navigator.storage?.persist?.().catch(() => undefined);
    this.tell();
  }

  async send(clip, told, title) {
    Object.assign(clip, { draft: false, told, title });
    await this.shelf.put(clip);
    this.tell();
    this.pump();
  }

  async again(clip) {
    clip.stopped = "";
    await this.shelf.put(clip);
    this.tell();
    this.pump();
  }

  async throwAway(clip) {
    if (clip.upload) await clip.upload.abort().catch(() => undefined);
    if (clip.url) window.tus.Upload.terminate(clip.url, { retryDelays: [] }).catch(() => undefined);
    await this.gone(clip);
  }

  async gone(clip) {
    await this.shelf.remove(clip.id);
    this.clips = this.clips.filter((one) => one !== clip);
    this.tell();
  }

  // Send one clip after the other; in one window alone where the browser can tell.
  async pump() {
    if (this.busy) return;
    this.busy = true;
    const work = async () => {
      for (let clip = this.next(); clip; clip = this.next()) await this.carry(clip);
    };
    try {
      await (navigator.locks ? navigator.locks.request(`plumbset-${this.who}`, work) : work());
    } finally {
      this.busy = false;
    }
    clearTimeout(this.later);
    if (this.waiting().some((clip) => clip.later)) this.later = setTimeout(() => this.pump(), LATER_MS);
    for (const clip of this.clips) clip.later = false;
  }

  next() {
    return this.waiting().find((clip) => !clip.stopped && !clip.later);
  }

  carry(clip) {
    return new Promise((resolve) => {
      const start = { at: performance.now(), bytes: null };
      clip.upload = new window.tus.Upload(clip.blob, {
        endpoint: this.endpoint,
        uploadUrl: clip.url || null,
        uploadSize: clip.blob.size,
        chunkSize: PIECE,
        retryDelays: AGAIN_MS,
        storeFingerprintForResuming: false,
        metadata: { told: JSON.stringify(clip.told), name: clip.name },
        onUploadUrlAvailable: () => {
          clip.url = clip.upload.url;
          this.shelf.put(clip);
        },
        onProgress: (bytes, all) => this.progress(clip, start, bytes, all),
        onAfterResponse: (request, response) => {
          const set = response.getHeader("Plumbset-Set");
          if (set) clip.set = { number: Number(set), known: response.getHeader("Plumbset-Known") === "1" };
        },
        onSuccess: () => this.arrived(clip).then(resolve),
        onError: (error) => this.failed(clip, error).then(resolve),
      });
      clip.upload.start();
    });
  }

  progress(clip, start, bytes, all) {
    if (start.bytes === null) Object.assign(start, { bytes, at: performance.now() });
    const seconds = (performance.now() - start.at) / 1000;
    const pace = seconds > 2 ? (bytes - start.bytes) / seconds : 0;
    clip.part = bytes / all;
    clip.left_s = pace > 0 ? (all - bytes) / pace : null;
    this.tell();
  }

  // Only an answer that names the set lets a clip go.
  async arrived(clip) {
    clip.upload = null;
    if (!clip.set) {
      clip.later = true;
      return;
    }
    this.sent = [...this.sent, { title: clip.title, ...clip.set }];
    await this.gone(clip);
    this.dispatchEvent(new CustomEvent("sent", { detail: clip.set }));
  }

  async failed(clip, error) {
    const answer = error.originalResponse;
    clip.upload = null;
    const status = answer ? answer.getStatus() : 0;
    if (status >= 400 && status < 500 && ![401, 404, 409, 423, 429].includes(status)) {
      clip.stopped = answer.getBody() || "The studio did not take the clip.";
      await this.shelf.put(clip);
    } else {
      clip.later = true;
    }
    this.tell();
  }
}

export const outbox = new Outbox();
