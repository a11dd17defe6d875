// What a station films while somebody is in the seat: held in this page's memory alone, and dropped unless a set comes.

import { BITS, KINDS } from "./camera.js";
import { Ended } from "./station-card.js";
import "./tus-js-client-4.3.1.min.js";

const PIECE_MS = 1000;
const AFTER_MS = 5000;
// Two films run, the younger one begun so long after the older: a set finds one that began well before it.
const APART_MS = 10_000;
const PIECE = 2 * 1024 * 1024;
const AGAIN_MS = [0, 1000, 3000, 5000, 10_000, 20_000, 20_000, 30_000, 60_000];
const NOT_SENT = "This set could not be sent to the studio, and is gone.";

class Film {
  pieces = [];

  constructor(stream, at) {
    this.began_at = at;
    const how = { mimeType: KINDS.find((k) => MediaRecorder.isTypeSupported(k)), videoBitsPerSecond: BITS, videoKeyFrameIntervalDuration: PIECE_MS };
    this.recorder = new MediaRecorder(stream, how);
    this.over = new Promise((resolve) => (this.recorder.onstop = resolve));
    this.recorder.ondataavailable = ({ data, timeStamp }) => data.size && this.pieces.push({ data, at: timeStamp });
    this.recorder.start(PIECE_MS);
  }

  drop() {
    this.dropped = true;
    this.recorder.ondataavailable = null;
    this.pieces = [];
    if (this.recorder.state === "recording") this.recorder.stop();
  }

  // As far as five seconds after it last moved.
  async until(moved_at) {
    if (this.recorder.state === "recording") this.recorder.stop();
    await this.over;
    const kept = this.pieces.filter(({ at }, i) => !i || at < moved_at + AFTER_MS + PIECE_MS);
    return new Blob(kept.map((piece) => piece.data), { type: this.recorder.mimeType.split(";")[0] });
  }
}

export class Rolls {
  films = [];

  constructor(stream) {
    this.stream = stream;
  }

  get on() {
    return this.films.length > 0;
  }

  // Nothing has begun yet: keep what was filmed just now, and no more.
  roll(at) {
    const last = this.films.at(-1);
    if (last && at - last.began_at < APART_MS) return;
    this.films.push(new Film(this.stream, at));
    if (this.films.length > 2) this.films.shift().drop();
  }

  // A set has begun: the older film goes on alone.
  keep() {
    for (const film of this.films.splice(1)) film.drop();
  }

  drop() {
    for (const film of this.films.splice(0)) film.drop();
  }

  take() {
    return this.films.splice(0, 1)[0];
  }
}

// Send a film piece by piece; gives the name under which the studio knows it. It is let go when it cannot be sent.
export function send(blob, told) {
  return new Promise((resolve, reject) => {
    const upload = new window.tus.Upload(blob, {
      endpoint: new URL("/station/sending", location.origin).href,
      uploadSize: blob.size,
      chunkSize: PIECE,
      retryDelays: AGAIN_MS,
      storeFingerprintForResuming: false,
      metadata: { told: JSON.stringify(told), name: `station.${blob.type.split("/")[1]}` },
      onSuccess: () => resolve(upload.url.split("/").at(-1)),
      onError: ({ originalResponse: answer }) => reject(answer?.getStatus() === 401 ? new Ended(answer.getBody()) : new Error(NOT_SENT)),
    });
    upload.start();
  });
}
