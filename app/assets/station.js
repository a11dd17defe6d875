// A phone on a stand at one machine: it sees that somebody sits down and trains, films the set, and shows the count.

import { Card, Ended, ask } from "./station-card.js";
import { Seat, SIDE, TICK_MS, apart, levels } from "./station-motion.js";
import { Rolls, send } from "./station-roll.js";

const COUNT_S = 10;
const SHOWN_MS = 30_000;
const SAID_MS = 15_000;
const CUE_WAITS_MS = 300_000;
const POLL_MS = 1000;
// So long a count is waited for, also while the studio is started anew and does not answer.
const COUNT_WAITS_MS = 180_000;
const STILL_PX = 1280;
// The marked part is a square of this share of the picture's shorter side.
const PART = 0.6;
const STIRS = 1.5;
const STIRRED_MS = 5000;
const AFTER_MS = 5000;
// What seems to begin a set may be a walk to the seat: a card counts until so long after it.
const CARD_AFTER_MS = 15_000;
const NO_CAMERA =
  "This page came over plain http, and a browser gives its camera to https pages alone. Open the link by an https address.";
const REFUSED = "The camera was not given to this page. Allow it in the browser's settings and load the page anew.";
const LOST = "The studio cannot be reached just now.";
const TOO_LATE = "The count of this set did not come in time.";

const wait = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

export class Station {
  seat = new Seat();
  card = new Card();
  part = { x: 0.5, y: 0.5 };
  checking = 0;
  result = null;
  off = false;

  constructor(root) {
    this.root = root;
    this.find = (name) => root.querySelector(name);
    this.video = this.find("video");
    this.find(".picture").addEventListener("click", (event) => this.mark(event));
    const acts = { ".look": () => this.framing(), ".stand": () => this.stand(), ".no": () => this.answer(false),
      ".yes": () => this.answer(true), ".off": () => this.leave_out(), ".again": () => location.reload() };
    for (const [name, act] of Object.entries(acts)) this.find(name).addEventListener("click", () => this.safely(act));
    document.addEventListener("visibilitychange", () => this.awake());
  }

  // Whatever goes wrong is a sentence; a station that was ended gives its camera back.
  async safely(act) {
    try {
      await act();
    } catch (error) {
      if (error instanceof Ended) this.end(error.message);
      else this.say(error.message && !(error instanceof TypeError) ? error.message : LOST);
    }
  }

  // Once the station stands, what went wrong is gone from its screen after a while.
  say(words) {
    this.find(".said").textContent = words;
    clearTimeout(this.hushing);
    if (words && this.ticking) this.hushing = setTimeout(() => this.say(""), SAID_MS);
  }

  async open() {
    if (!(window.isSecureContext && navigator.mediaDevices?.getUserMedia)) return this.say(NO_CAMERA);
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({
        audio: false,
        video: { facingMode: "environment", width: { ideal: 1920 }, height: { ideal: 1080 }, frameRate: { ideal: 30, max: 30 } },
      });
    } catch {
      return this.say(REFUSED);
    }
    this.video.srcObject = this.stream;
    await this.video.play();
    this.draw_part();
    for (const button of this.root.querySelectorAll(".setup button")) button.disabled = false;
    this.awake();
  }

  awake() {
    if (!document.hidden) navigator.wakeLock?.request("screen").catch(() => undefined);
  }

  mark(event) {
    if (this.ticking) return;
    const box = this.find(".picture").getBoundingClientRect();
    this.part = { x: (event.clientX - box.left) / box.width, y: (event.clientY - box.top) / box.height };
    this.draw_part();
  }

  // The marked square in the camera's own pixels, whole within the picture.
  square() {
    const { videoWidth: width, videoHeight: height } = this.video;
    const side = PART * Math.min(width, height);
    const within = (middle, all) => Math.min(Math.max(middle * all - side / 2, 0), all - side);
    return { left: within(this.part.x, width), top: within(this.part.y, height), side, width, height };
  }

  draw_part() {
    const { left, top, side, width, height } = this.square();
    this.find(".picture").style.aspectRatio = `${width} / ${height}`;
    const share = (value, all) => `${(100 * value) / all}%`;
    Object.assign(this.find(".part").style, { left: share(left, width), top: share(top, height), width: share(side, width), height: share(side, height) });
  }

  async count(words) {
    for (let left = COUNT_S; left; left -= 1) {
      this.say(`${words} ${left}`);
      await wait(1000);
    }
    this.say("");
  }

  async framing() {
    await this.count("Sit down as if to train.");
    const problems = await ask("framing", await this.still());
    this.say(problems.length ? problems.join(" ") : "The phone stands well. Hands and feet must stay in the picture at both ends.");
  }

  async stand() {
    await this.count("Leave the seat empty.");
    this.find(".setup").hidden = true;
    this.find(".board").hidden = false;
    this.root.dataset.stands = "";
    this.rolls = new Rolls(this.stream);
    this.ticking = setInterval(() => this.safely(() => this.tick(performance.now())), TICK_MS);
    this.show();
  }

  still() {
    const { width, height } = this.square();
    const scale = Math.min(1, STILL_PX / Math.max(width, height));
    const canvas = Object.assign(document.createElement("canvas"), { width: Math.round(width * scale), height: Math.round(height * scale) });
    canvas.getContext("2d").drawImage(this.video, 0, 0, canvas.width, canvas.height);
    return new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.85));
  }

  small(left, top, width, height) {
    this.pen ||= Object.assign(document.createElement("canvas"), { width: SIDE, height: SIDE }).getContext("2d", { willReadFrequently: true });
    this.pen.imageSmoothingQuality = "high";
    this.pen.drawImage(this.video, left, top, width, height, 0, 0, SIDE, SIDE);
    return levels(this.pen.getImageData(0, 0, SIDE, SIDE));
  }

  async tick(at) {
    const { left, top, side, width, height } = this.square();
    const all = this.small(0, 0, width, height);
    if (this.before && apart(all, this.before) > STIRS) this.stirred_at = at;
    this.before = all;
    const news = this.seat.see(this.small(left, top, side, side), at);
    if (news === "began") {
      this.result = null;
      this.card.trained = true;
    }
    this.film(news, at);
    if (this.seat.state === "empty") {
      this.card.empty(at);
      this.off = this.off && at - this.off_at < STIRRED_MS;
    }
    this.show();
    const near = this.seat.state === "sat" || at - (this.stirred_at ?? -Infinity) < STIRRED_MS;
    const before = this.seat.state !== "moves" || at - this.seat.began_at < CARD_AFTER_MS;
    if (near && before && !this.off && (await this.card.read(() => this.still(), at))) this.result = null;
  }

  film(news, at) {
    if (this.off || this.card.stopped) return this.rolls.drop();
    if (this.seat.state === "sat" && news !== "ended") this.rolls.roll(at);
    if (news === "began") this.rolls.keep();
    if (news === "ended" || (news === "left" && this.set_on)) this.hand_in(at, this.seat.moved_at, this.card.shown);
    else if (news === "left") this.rolls.drop();
    this.set_on = this.seat.state === "moves";
  }

  // The film goes to the studio, and the screen shows what comes of it.
  async hand_in(at, moved_at, shown) {
    const film = this.rolls.take();
    this.rolls.drop();
    if (!film) return;
    this.checking += 1;
    this.filming = this.newest = Object.assign(film, { shown });
    await wait(Math.max(0, moved_at + AFTER_MS - at));
    this.filming = null;
    await this.safely(async () => {
      try {
        if (film.dropped) return;
        const name = await send(await film.until(moved_at), { shown: shown?.shown || "" });
        if (await this.counted(name, film)) this.cue(name, shown);
      } finally {
        this.checking -= 1;
      }
    });
  }

  // Show the count of the newest film once it is there; gives whether a cue may follow it.
  async counted(name, film) {
    const now = await this.outcome(name);
    if (film === this.newest && !this.other(film)) this.tell({ ...now, name: film.shown?.name || "" });
    return now.more;
  }

  // Whether the card of somebody else than whom a film shows was read since.
  other(film) {
    return Boolean(this.card.shown) && this.card.shown.shown !== film.shown?.shown;
  }

  async outcome(name) {
    const until = performance.now() + COUNT_WAITS_MS;
    while (performance.now() < until) {
      await wait(POLL_MS);
      const now = await ask(`set/${name}`).catch((error) => {
        if (error instanceof Ended) throw error;
      });
      if (now && now.state !== "checking") return now;
    }
    throw new Error(TOO_LATE);
  }

  // The cue is for whoever trained alone: it waits no longer than they stay.
  async cue(name, shown) {
    const until = performance.now() + CUE_WAITS_MS;
    while (shown && this.card.shown?.shown === shown.shown && performance.now() < until) {
      await wait(POLL_MS);
      const now = await ask(`set/${name}`).catch(() => ({ more: false }));
      if (now.cue && this.card.shown?.shown === shown.shown) this.tell({ ...now, name: shown.name });
      if (!now.more) return;
    }
  }

  // Who trains by now reads nothing of the set before.
  tell(result) {
    if (this.seat.state === "moves") return;
    this.result = result;
    clearTimeout(this.forgetting);
    this.forgetting = setTimeout(() => (this.result = null), SHOWN_MS);
  }

  async answer(pain) {
    await this.card.answer(pain);
    this.show();
  }

  // Who does not want it: nothing is filmed until the seat is empty, and what was filmed is dropped.
  leave_out() {
    Object.assign(this, { off: true, off_at: performance.now(), result: null });
    this.card.shown = null;
    this.rolls.drop();
    this.filming?.drop();
    this.show();
  }

  end(words) {
    this.ticking = clearInterval(this.ticking);
    this.rolls?.drop();
    for (const track of this.stream?.getTracks() || []) track.stop();
    this.find(".setup").hidden = this.find(".board").hidden = true;
    this.find(".light").hidden = true;
    this.say(words);
  }

  show() {
    const { shown } = this.card;
    const [name, big, more, kind = ""] = this.words(shown);
    for (const [where, words] of Object.entries({ ".name": name, ".big": big, ".more": more }))
      if (this.find(where).textContent !== words) this.find(where).textContent = words;
    this.root.dataset.kind = kind;
    this.find(".ask").hidden = kind !== "ask";
    this.find(".light").hidden = !(this.rolls.on || this.filming);
    this.find(".off").hidden = this.off || this.card.stopped;
  }

  // What stands on the screen: whose it is, what is read from two metres, what is read from nearer, and its kind.
  words(shown) {
    if (shown?.stopped) return ["", "Please see the trainer before you train on.", "", "stop"];
    if (this.off) return ["", "Not filmed", "Nothing is filmed or counted until the seat is empty."];
    const name = shown?.name || "";
    if (this.result) return this.told();
    if (shown?.ask) return [name, "Sharp or joint pain today?", "", "ask"];
    if (this.seat.state === "moves") return [name, "Recording", "Just train: the phone stops by itself."];
    if (this.checking && !this.other(this.newest)) return [name, "Checking", "The count comes in a moment."];
    if (this.seat.state === "sat" || name) return [name, "Start when you like", shown?.why || (name ? "" : this.find(".how").textContent)];
    return ["", "Ready", this.find(".how").textContent];
  }

  told() {
    const { name, state, count, tempo, why, cue } = this.result;
    if (state === "none") return [name, "No set was counted", why];
    return [name, `${count} ${count === 1 ? "rep" : "reps"}`, cue || [tempo, why].filter(Boolean).join(". "), cue ? "cue" : "count"];
  }
}

const station = new Station(document.querySelector("main"));
station.safely(() => station.open());
