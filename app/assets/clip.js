// The clip with its strip of repetitions: touch a repetition or a mark and the clip jumps there.
// Anything on the page with data-plumb-seek="seconds" jumps as well.

const MARKS = {
  flag: '<path class="m-flag" d="M0-6.5 6.5 5.5H-6.5Z"/>',
  watch: '<path class="m-watch" d="M0-6.5 6 0 0 6.5-6 0Z"/>',
  "cannot-tell": '<circle class="m-cannot" r="5"/>',
  clear: '<circle class="m-clear" r="2.5"/>',
  added: '<path class="m-added" d="M-5-5H5V5H-5Z"/>',
};
const WORDS = { flag: "flagged", watch: "to watch", "cannot-tell": "something cannot be told", added: "you added" };
const mark = (verdict) =>
  `<svg class="mark ${verdict}" viewBox="-8 -8 16 16" width="16" height="16" aria-hidden="true">${MARKS[verdict]}</svg>`;

const element = (tag, attributes, text) => {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes || {})) made.setAttribute(name, value);
  if (text !== undefined) made.textContent = text;
  return made;
};

const typing = (event) => {
  const at = event.composedPath()[0];
  return (
    event.ctrlKey || event.metaKey || event.altKey ||
    ["INPUT", "TEXTAREA", "SELECT"].includes(at.tagName) || at.isContentEditable
  );
};

class Player {
  constructor(root) {
    this.root = root;
    this.video = root.querySelector("video");
    this.strip = root.querySelector(".strip");
    this.clock = root.querySelector(".clock");
    this.data = { reps: [], marks: [] };
    this.key = (event) => this.press(event);
    this.click = (event) => this.elsewhere(event);
    document.addEventListener("keydown", this.key);
    document.addEventListener("click", this.click);
    for (const button of root.querySelectorAll("[data-do]")) {
      button.addEventListener("click", () => this.act(button.dataset.do));
    }
    this.video.addEventListener("click", () => this.act("play"));
    for (const name of ["timeupdate", "seeked", "loadedmetadata"]) {
      this.video.addEventListener(name, () => this.follow());
    }
    for (const name of ["play", "pause"]) this.video.addEventListener(name, () => this.follow());
    this.frame();
  }

  frame() {
    if (!this.video.paused) this.follow();
    this.pending = requestAnimationFrame(() => this.frame());
  }

  end() {
    cancelAnimationFrame(this.pending);
    document.removeEventListener("keydown", this.key);
    document.removeEventListener("click", this.click);
  }

  show(data, say) {
    this.say = say;
    const gone = !data.src;
    this.root.querySelector(".gone").hidden = !gone;
    this.video.hidden = this.root.querySelector(".controls").hidden = gone;
    if (!gone && this.video.getAttribute("src") !== data.src) this.video.src = data.src;
    const shape = JSON.stringify([data.reps, data.marks]);
    this.data = data;
    if (shape !== this.shape) this.draw();
    this.shape = shape;
  }

  draw() {
    this.strip.replaceChildren();
    this.blocks = this.data.reps.map((rep) => this.block(rep));
    this.strip.append(...this.blocks);
    this.explain();
    this.follow();
  }

  explain() {
    const seen = new Set(this.data.reps.map((rep) => rep.verdict));
    if (this.data.marks.length) seen.add("added");
    const words = Object.keys(WORDS).filter((verdict) => seen.has(verdict));
    this.root.querySelector(".marks").innerHTML = words.map((v) => `<span>${mark(v)}${WORDS[v]}</span>`).join("");
  }

  block(rep) {
    const words = `Repetition ${rep.number}${rep.partial ? ", short, not counted" : ""}, ${rep.said}`;
    const block = element("button", { type: "button", class: `rep ${rep.verdict}`, "aria-label": words, title: words });
    if (rep.partial) block.classList.add("partial");
    const head = element("span", { class: "head" });
    head.append(element("b", {}, String(rep.number)));
    head.insertAdjacentHTML("beforeend", mark(rep.verdict));
    for (const added of this.data.marks.filter((m) => m.rep === rep.number)) {
      head.insertAdjacentHTML("beforeend", mark("added"));
    }
    const bar = element("span", { class: "bar" });
    const total = (one) => one.phases.reduce((sum, [, seconds]) => sum + seconds, 0);
    bar.style.width = `${(100 * total(rep)) / Math.max(...this.data.reps.map(total))}%`;
    for (const [phase, seconds] of rep.phases) {
      const part = element("i", { class: phase });
      part.style.flexGrow = String(Math.max(seconds, 0.001));
      bar.append(part);
    }
    block.append(head, bar, element("span", { class: "line" }));
    block.addEventListener("click", () => this.seek(rep.start));
    return block;
  }

  follow() {
    const now = this.video.currentTime;
    const rate = this.video.playbackRate === 1 ? "" : ` · ${this.video.playbackRate}×`;
    this.clock.textContent = `${now.toFixed(1)} s${rate}`;
    this.root.querySelector('[data-do="play"]').textContent = this.video.paused ? "Play" : "Pause";
    this.data.reps.forEach((rep, i) => {
      const block = this.blocks && this.blocks[i];
      if (!block) return;
      const inside = now >= rep.start && now < rep.end;
      block.classList.toggle("now", inside);
      if (inside) {
        block.setAttribute("aria-current", "true");
        block.querySelector(".line").style.left = `${(100 * (now - rep.start)) / (rep.end - rep.start)}%`;
      } else block.removeAttribute("aria-current");
    });
  }

  seek(seconds) {
    this.video.pause();
    this.video.currentTime = Math.max(0, seconds + 0.001);
  }

  step(times, forward) {
    const now = this.video.currentTime;
    const sorted = [...times].sort((a, b) => a - b);
    const next = forward ? sorted.find((t) => t > now + 0.05) : sorted.reverse().find((t) => t < now - 0.6);
    if (next !== undefined) this.seek(next);
  }

  act(what) {
    const starts = this.data.reps.map((rep) => rep.start);
    if (what === "play") this.video.paused ? this.video.play() : this.video.pause();
    if (what === "back") this.step(starts, false);
    if (what === "on") this.step(starts, true);
    if (what === "flag") {
      const times = this.data.flags;
      const now = this.video.currentTime;
      this.seek(times.find((t) => t > now + 0.05) ?? times[0] ?? now);
    }
    if (what === "slow") this.video.playbackRate = this.video.playbackRate === 1 ? 0.5 : 1;
    if (what === "moment" && this.say) this.say(Math.round(this.video.currentTime * 100) / 100);
    this.follow();
  }

  press(event) {
    if (typing(event)) return;
    const onButton = event.composedPath()[0].tagName === "BUTTON";
    const what = { k: "play", j: "back", l: "on", f: "flag", s: "slow", m: "moment" }[event.key.toLowerCase()];
    if (event.key === " " && !onButton) this.act("play");
    else if (what) this.act(what);
    else if (event.key === ",") this.seek(this.video.currentTime - 1 / 30);
    else if (event.key === ".") this.seek(this.video.currentTime + 1 / 30);
    else return;
    event.preventDefault();
  }

  elsewhere(event) {
    const link = event.composedPath().find((e) => e.dataset && e.dataset.plumbSeek !== undefined);
    if (!link) return;
    event.preventDefault();
    this.seek(Number(link.dataset.plumbSeek));
    this.root.scrollIntoView({ block: "nearest", behavior: "smooth" });
  }
}

const players = new WeakMap();

export default function (component) {
  const { parentElement, data, setTriggerValue } = component;
  const root = parentElement.querySelector(".plumb-clip");
  if (!players.has(root)) players.set(root, new Player(root));
  const player = players.get(root);
  player.show(data, data.marking ? (seconds) => setTriggerValue("moment", seconds) : null);
  root.querySelector('[data-do="moment"]').hidden = !data.marking;
  return () => {
    player.end();
    players.delete(root);
  };
}
