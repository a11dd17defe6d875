// What happens on a seat, told from small grey pictures of that part alone, a few times a second: somebody is
// there, a set begins, it is over, the seat is empty. Numbers in grey levels of 255, times in milliseconds.
// The limits are our own, found on rendered recordings (docs/recordings.md, Station).

export const SIDE = 32;
export const TICK_MS = 250;
export const LEFT_STILL_MS = 12_000;
export const LONGEST_MS = 180_000;
// How far the picture is from that of the empty seat when somebody is there, and when nobody is any more.
const THERE = 9;
const GONE = 5;
const GONE_MS = 2000;
// How far pictures half a second apart differ when something moves, and for how long of the last seconds it has to.
const BACK = 2;
const MOVES = 1.5;
const OF_LATE_MS = 6000;
const MOVING_MS = 3500;
// Nothing at all has moved for so long: what is there belongs to the room.
const ROOM_MS = 120_000;
// So much of a new picture goes into that of the empty seat.
const NEW = 0.05;

// Grey levels without the picture's own brightness, which a camera changes by itself.
export function levels({ data }) {
  const grey = Float32Array.from({ length: data.length / 4 }, (_, i) => (data[4 * i] + 2 * data[4 * i + 1] + data[4 * i + 2]) / 4);
  const mean = grey.reduce((sum, value) => sum + value, 0) / grey.length;
  return grey.map((value) => value - mean);
}

export function apart(one, other) {
  return one.reduce((sum, value, i) => sum + Math.abs(value - other[i]), 0) / one.length;
}

export class Seat {
  state = "empty";
  moved = [];
  past = [];

  // One picture at a moment: "sat", "began", "ended", "left", or nothing new. ``moved_at``: when it last moved.
  see(now, at) {
    this.empty ||= now;
    const moves = this.past.length === BACK && apart(now, this.past[0]) > MOVES;
    this.past = [...this.past, now].slice(-BACK);
    if (moves) this.moved_at = at;
    this.moved = [...this.moved.filter((then) => then > at - OF_LATE_MS), ...(moves ? [at] : [])];
    const away = apart(now, this.empty);
    if (away > GONE) this.there_at = at;
    const news = this.news(away, at);
    if (news) this.state = { sat: "sat", began: "moves", ended: "sat", left: "empty" }[news];
    if (this.state === "empty" && !moves) this.empty = this.empty.map((value, i) => value + NEW * (now[i] - value));
    return news;
  }

  news(away, at) {
    const still_ms = at - (this.moved_at ?? at);
    if (this.state === "empty") return away > THERE ? this.sits(at) : null;
    if (at - this.there_at > GONE_MS) return "left";
    if (this.state === "sat") {
      if (still_ms > ROOM_MS) return this.belongs();
      if (still_ms > LEFT_STILL_MS) this.over = false;
      const begins = !this.over && this.moved.length * TICK_MS >= MOVING_MS;
      if (begins) this.began_at = at;
      return begins ? "began" : null;
    }
    this.over = at - this.began_at > LONGEST_MS;
    return this.over || still_ms > LEFT_STILL_MS ? "ended" : null;
  }

  sits(at) {
    this.there_at = at;
    this.over = false;
    this.moved = [];
    return "sat";
  }

  belongs() {
    this.empty = this.past.at(-1);
    return "left";
  }
}
