// Clips that wait in this browser until the studio has them: kept in IndexedDB as they are filmed, sent piece by
// piece, one after the other, again and again until the answer names the set. One for the whole page.

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

// The shelf: clips by an id, each with whom it belongs to; their films apart, in the pieces in which they came.
class Shelf {
  async opened() {
    this.base ||= new Promise((resolve, reject) => {
      const request = indexedDB.open("plumbset-clips", 1);
      request.onupgradeneeded = () => {
        request.result.createObjectStore("clips", { keyPath: "id" });
        request.result.createObjectStore("pieces", { keyPath: ["id", "n"] });
      };
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });
    return this.base;
  }

  async change(work) {
    const change = (await this.opened()).transaction(["clips", "pieces"], "readwrite", { durability: "strict" });
    const done = new Promise((resolve, reject) => {
      change.oncomplete = resolve;
      change.onerror = change.onabort = () => reject(change.error);
    });
    work(change.objectStore("clips"), change.objectStore("pieces"));
    await done;
  }

  piece(clip, n, blob) {
    return this.change((clips, pieces) => {
      pieces.put({ id: clip.id, n, blob });
      clips.put(this.plain(clip));
    });
  }

  put(clip) {
    return this.change((clips) => clips.put(this.plain(clip)));
  }

  plain({ id, who, draft, name, type, made, told, title, url, stopped }) {
    return { id, who, draft, name, type, made, told, title, url, stopped };
  }

  all_of(id) {
    return IDBKeyRange.bound([id], [id, []]);
  }

  remove(id) {
    return this.change((clips, pieces) => {
      clips.delete(id);
      pieces.delete(this.all_of(id));
    });
  }

  // The film as it lies here: what it came from may be gone.
  async blob({ id, type }) {
    const pieces = (await this.opened()).transaction("pieces").objectStore("pieces");
    return new Blob((await asked(pieces.getAll(this.all_of(id)))).map((one) => one.blob), { type });
  }

  async all(who) {
    const store = (await this.opened()).transaction("clips").objectStore("clips");
    const clips = (await asked(store.getAll())).filter((clip) => clip.who === who);
    for (const clip of clips) clip.blob = await this.blob(clip);
    return clips;
  }
}

// Which set a clip belongs to; the second clip of a set is another one than the first.
function place(told) {
  return `${told.person} ${told.exercise} ${told.second_of ?? ""}`;
}

class Outbox extends EventTarget {
  shelf = new Shelf();
  clips = [];
  sent = [];
  shown = null;

  // Begin with what lies here of the person who is signed in: what was told to be sent, and drafts of no other window.
  async open(endpoint, who) {
    if (this.who === who) return;
    this.who = who;
    this.endpoint = new URL(endpoint, location.origin).href;
    const clips = await this.shelf.all(who);
    const held = await Promise.all(clips.map((clip) => !clip.draft || this.hold(clip)));
    this.clips = [...clips.filter((_, i) => held[i]), ...this.clips.filter((clip) => clip.who === who)];
    this.tell();
    addEventListener("online", () => this.pump());
    document.addEventListener("visibilitychange", () => document.hidden || this.pump());
    this.pump();
  }

  tell() {
    this.dispatchEvent(new Event("change"));
  }

  // Have a clip in hand until this page goes: no other window offers what is still filmed or chosen in this one.
  hold(clip) {
    return new Promise((resolve) => {
      if (!navigator.locks) resolve(true);
      navigator.locks?.request(`plumbset-${clip.id}`, { ifAvailable: true }, (lock) => {
        resolve(Boolean(lock));
        return lock && new Promise(() => undefined);
      });
    });
  }

  // Which set is open to be sent on this page; null: none.
  show(told) {
    const [before, now] = [this.shown, told && place(told)];
    this.shown = now;
    if (before !== now) this.tell();
  }

  // What was filmed or chosen just now for the set that is open.
  draft() {
    return this.clips.find((clip) => clip.draft && clip.here && place(clip.told) === this.shown);
  }

  // What was filmed or chosen before and never sent: the page was closed, or the browser died while it filmed.
  unsent() {
    return this.clips.filter((clip) => clip.draft && clip !== this.draft());
  }

  waiting() {
    return this.clips.filter((clip) => !clip.draft);
  }

  // A clip that grows: each piece is kept as it comes, so that what was filmed outlives the browser.
  begin(name, type, { told, title }) {
    const id = `${Date.now()}-${Math.random().toString(36).slice(2)}`;
    const clip = { id, who: this.who, draft: true, here: true, name, type, made: Date.now(), told, title, pieces: 0 };
    this.hold(clip);
    navigator.storage?.persist?.().catch(() => undefined);
    return clip;
  }

  grow(clip, blob) {
    clip.kept = this.shelf.piece(clip, clip.pieces++, blob);
    return clip.kept;
  }

  // All its pieces have come: it is the draft of its set now, as far as there was room for it.
  async finish(clip) {
    await clip.kept?.catch(() => undefined);
    clip.blob = await this.shelf.blob(clip);
    if (clip.blob.size) this.clips = [...this.clips, clip];
    else await this.shelf.remove(clip.id);
    this.tell();
  }

  async retell(clip, { told, title }) {
    Object.assign(clip, { told, title });
    await this.shelf.put(clip);
  }

  async send(clip) {
    clip.draft = false;
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
          this.hear(clip, response.getHeader("Plumbset-So-Far") || "");
        },
        onSuccess: () => this.arrived(clip).then(resolve),
        onError: (error) => this.failed(clip, error).then(resolve),
      });
      clip.upload.start();
    });
  }

  // What the studio says of a clip of which a part has arrived, in paragraphs.
  hear(clip, said) {
    if (said === (clip.heard || "")) return;
    Object.assign(clip, { heard: said, against: said && JSON.parse(decodeURIComponent(said)) });
    this.tell();
  }

  progress(clip, start, bytes, all) {
    if (start.bytes === null) Object.assign(start, { bytes, at: performance.now() });
    const seconds = (performance.now() - start.at) / 1000;
    const pace = seconds > 2 ? (bytes - start.bytes) / seconds : 0;
    clip.part = bytes / all;
    clip.left_s = pace > 0 ? (all - bytes) / pace : null;
    this.dispatchEvent(new Event("progress"));
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
