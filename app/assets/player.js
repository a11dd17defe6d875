// The clip: playing, the scrubber and the strip of repetitions, zoom, full screen, and a place pointed at.

const MARKS = {
  flag: '<path class="m-flag" d="M0-6.5 6.5 5.5H-6.5Z"/>',
  watch: '<path class="m-watch" d="M0-6.5 6 0 0 6.5-6 0Z"/>',
  "cannot-tell": '<circle class="m-cannot" r="5"/>',
  clear: '<circle class="m-clear" r="2.5"/>',
  added: '<path class="m-added" d="M-5-5H5V5H-5Z"/>',
};
const mark = (verdict) =>
  `<svg class="mark ${verdict}" viewBox="-8 -8 16 16" width="16" height="16" aria-hidden="true">${MARKS[verdict]}</svg>`;

const element = (tag, attributes, text) => {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes || {})) made.setAttribute(name, value);
  if (text !== undefined) made.textContent = text;
  return made;
};

const SPEEDS = [1, 0.5, 0.25], FRAME_S = 1 / 30, MOST_ZOOM = 6;

class Player {
  constructor(root) {
    this.root = root;
    for (const name of ["video", "canvas"]) this[name] = root.querySelector(`.look ${name}`);
    for (const name of ["stage", "film", "strip", "clock", "track", "ring", "scrub"]) this[name] = root.querySelector(`.look .${name}`);
    this.look = root.querySelector(".look");
    this.range = this.scrub.querySelector("input");
    this.moving = new Moving(this.canvas, this.video);
    this.data = { reps: [], marks: [], flags: [] };
    this.blocks = [];
    this.view = { x: 0, y: 0, zoom: 1 };
    this.touches = new Map();
    for (const name of ["timeupdate", "seeked", "play", "pause", "ratechange"]) this.video.addEventListener(name, () => this.follow());
    this.video.addEventListener("loadedmetadata", () => this.opened());
    this.range.addEventListener("input", () => this.seek(Number(this.range.value)));
    this.stage.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    for (const name of ["pointerdown", "pointermove", "pointerup", "pointercancel"]) this.stage.addEventListener(name, (event) => this.touch(event));
    this.stage.addEventListener("dblclick", () => this.zoom(1));
    this.sized = new ResizeObserver(() => this.fit());
    this.sized.observe(this.stage);
    this.frame();
  }

  frame() {
    if (!this.video.paused) this.follow();
    this.pending = requestAnimationFrame(() => this.frame());
  }

  end() {
    cancelAnimationFrame(this.pending);
    this.sized.disconnect();
  }

  show(data) {
    const shape = JSON.stringify([data.reps, data.marks]);
    this.data = data;
    this.root.querySelector(".gone").hidden = !!data.src;
    for (const part of [this.stage, this.scrub, this.root.querySelector(".controls")]) part.hidden = !data.src;
    this.root.classList.toggle("gone-clip", !data.src);
    if (data.src && this.video.getAttribute("src") !== data.src) this.video.src = data.src;
    this.root.querySelector('[data-do="lines"]').hidden = !data.moving;
    this.moving.load(data.moving, () => this.moving.draw());
    if (shape !== this.shape) this.draw();
    this.shape = shape;
  }

  opened() {
    this.range.max = String(this.video.duration);
    const tall = this.video.videoHeight > this.video.videoWidth;
    this.root.classList.toggle("portrait", tall);
    this.fit();
    this.drawTrack();
    this.seek(this.wanted ?? this.data.open ?? 0);
  }

  // the film takes the clip's own shape: nothing black beside it
  fit() {
    const { videoWidth: wide, videoHeight: high } = this.video;
    if (!wide) return;
    this.film.style.aspectRatio = `${wide} / ${high}`;
    this.look.style.setProperty("--shape", String(wide / high));
    this.follow();
  }

  draw() {
    this.strip.replaceChildren();
    this.blocks = this.data.reps.map((rep) => this.block(rep));
    this.strip.append(...this.blocks);
    this.drawTrack();
    this.choose(this.offered, this.chosen);
    this.follow();
  }

  drawTrack() {
    const whole = this.video.duration || Math.max(1, ...this.data.reps.map((rep) => rep.end));
    const at = (seconds) => `${(100 * seconds) / whole}%`;
    this.track.replaceChildren();
    for (const rep of this.data.reps) {
      const part = element("i", { class: rep.verdict });
      part.style.left = at(rep.start);
      part.style.width = at(rep.end - rep.start);
      this.track.append(part);
    }
    for (const time of this.data.flags) {
      const tick = element("b");
      tick.style.left = at(time);
      this.track.append(tick);
    }
  }

  block(rep) {
    const words = `Repetition ${rep.number}${rep.partial ? ", short, not counted" : ""}, ${rep.said}`;
    const block = element("div", { class: `rep ${rep.verdict}` });
    const jump = element("button", { type: "button", class: "jump", "aria-label": words, title: words });
    if (rep.partial) block.classList.add("partial");
    jump.append(element("b", {}, String(rep.number)));
    const added = this.data.marks.some((one) => one.rep === rep.number);
    jump.insertAdjacentHTML("beforeend", `<span class="marks">${mark(rep.verdict)}${added ? mark("added") : ""}</span>`);
    const bar = element("span", { class: "bar" });
    const total = (one) => one.phases.reduce((sum, [, seconds]) => sum + seconds, 0);
    bar.style.width = `${(100 * total(rep)) / Math.max(...this.data.reps.map(total))}%`;
    for (const [phase, seconds] of rep.phases) {
      const part = element("i", { class: phase });
      part.style.flexGrow = String(Math.max(seconds, 0.001));
      bar.append(part);
    }
    const room = element("span", { class: "room" });
    room.append(bar, element("span", { class: "line" }));
    jump.append(room);
    jump.addEventListener("click", () => this.seek(this.moments?.get(rep.number) ?? rep.start));
    const tick = element("button", { type: "button", class: "tick", role: "checkbox", "aria-label": `Decide repetition ${rep.number} too` });
    tick.addEventListener("click", () => this.toggle?.(rep.number));
    block.append(jump, tick);
    return block;
  }

  // offered: moments of the open card by repetition; chosen: the repetitions of it that are decided next
  choose(offered, chosen) {
    this.offered = this.moments = offered;
    this.chosen = chosen;
    this.data.reps.forEach((rep, i) => {
      const tick = this.blocks[i]?.querySelector(".tick");
      if (!tick) return;
      tick.hidden = !offered?.has(rep.number) || offered.size < 2;
      tick.setAttribute("aria-checked", String(!!chosen?.has(rep.number)));
      this.blocks[i].classList.toggle("asked", !!offered?.has(rep.number));
    });
  }

  follow() {
    const now = this.video.currentTime;
    this.clock.textContent = `${now.toFixed(1)} s`;
    this.range.value = String(now);
    this.range.setAttribute("aria-valuetext", `${now.toFixed(1)} seconds`);
    this.root.querySelector('[data-do="play"]').textContent = this.video.paused ? "Play" : "Pause";
    this.root.querySelector('[data-do="slow"]').textContent = { 1: "1×", 0.5: "½×", 0.25: "¼×" }[this.video.playbackRate];
    this.moving.draw();
    this.data.reps.forEach((rep, i) => {
      const block = this.blocks[i];
      if (!block) return;
      const inside = now >= rep.start && now < rep.end;
      block.classList.toggle("now", inside);
      block.querySelector(".jump").toggleAttribute("aria-current", inside);
      if (inside) block.querySelector(".line").style.left = `${(100 * (now - rep.start)) / (rep.end - rep.start)}%`;
    });
  }

  seek(seconds) {
    this.wanted = seconds;
    this.video.pause();
    if (this.video.readyState) this.video.currentTime = Math.max(0, Math.min(this.video.duration || seconds, seconds + 0.001));
  }

  step(times, forward) {
    const now = this.video.currentTime;
    const sorted = [...times].sort((a, b) => a - b);
    const next = forward ? sorted.find((t) => t > now + 0.05) : sorted.reverse().find((t) => t < now - 0.6);
    if (next !== undefined) this.seek(next);
  }

  act(what) {
    const starts = this.data.reps.map((rep) => rep.start), now = this.video.currentTime;
    if (what === "play") this.video.paused ? this.video.play().catch(() => undefined) : this.video.pause();
    if (what === "back") this.step(starts, false);
    if (what === "on") this.step(starts, true);
    if (what === "flag") this.seek(this.data.flags.find((t) => t > now + 0.05) ?? this.data.flags[0] ?? now);
    if (what === "slow") this.video.playbackRate = SPEEDS[(SPEEDS.indexOf(this.video.playbackRate) + 1) % SPEEDS.length];
    if (what === "lines") this.moving.on = !this.moving.on;
    if (what === "full") document.fullscreenElement ? document.exitFullscreen() : this.root.querySelector(".screen").requestFullscreen?.();
    if (what === "frame-on") this.seek(now + FRAME_S);
    if (what === "frame-back") this.seek(now - FRAME_S);
    this.root.querySelector('[data-do="lines"]').setAttribute("aria-pressed", String(this.moving.on));
    this.follow();
  }

  // zoom about a point of the stage (px); at full size the picture lies where it was
  zoom(to, x = 0, y = 0) {
    const zoom = Math.min(MOST_ZOOM, Math.max(1, to)), by = zoom / this.view.zoom;
    this.view = { zoom, x: x - by * (x - this.view.x), y: y - by * (y - this.view.y) };
    this.place();
  }

  place() {
    const { clientWidth: wide, clientHeight: high } = this.film;
    const within = (value, size) => Math.min(0, Math.max(size * (1 - this.view.zoom), value));
    this.view.x = within(this.view.x, wide);
    this.view.y = within(this.view.y, high);
    this.film.style.transform = `translate(${this.view.x}px,${this.view.y}px) scale(${this.view.zoom})`;
    this.stage.classList.toggle("zoomed", this.view.zoom > 1);
  }

  spot(event) {
    const box = this.stage.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  wheel(event) {
    if (this.view.zoom === 1 && event.deltaY > 0) return;
    event.preventDefault();
    this.zoom(this.view.zoom * Math.exp(-event.deltaY / 300), ...this.spot(event));
  }

  touch(event) {
    const before = this.touches.get(event.pointerId), at = this.spot(event);
    if (event.type === "pointerdown") {
      this.touches.set(event.pointerId, at);
      this.still = this.touches.size === 1 ? at : null;
    } else if (event.type === "pointermove" && before) {
      this.drag(event.pointerId, before, at);
    } else if (event.type !== "pointermove") {
      this.touches.delete(event.pointerId);
      if (event.type === "pointerup" && this.still) this.tapped(event);
      this.still = null;
    }
  }

  drag(id, before, at) {
    const [other] = [...this.touches].filter(([key]) => key !== id).map(([, place]) => place);
    if (this.still && Math.hypot(at[0] - this.still[0], at[1] - this.still[1]) > 8) this.still = null;
    if (other) {
      const apart = (one) => Math.hypot(one[0] - other[0], one[1] - other[1]);
      this.zoom((this.view.zoom * apart(at)) / Math.max(1, apart(before)), (at[0] + other[0]) / 2, (at[1] + other[1]) / 2);
    } else if (this.view.zoom > 1) {
      this.view.x += at[0] - before[0];
      this.view.y += at[1] - before[1];
      this.place();
    }
    this.touches.set(id, at);
  }

  // a touch points at a place while words are written for it, else it plays
  tapped(event) {
    if (!this.pointing) return this.act("play");
    const box = this.film.getBoundingClientRect();
    const share = (value) => Math.round(1000 * Math.min(1, Math.max(0, value))) / 1000;
    this.point([share((event.clientX - box.left) / box.width), share((event.clientY - box.top) / box.height)]);
  }

  point(place) {
    this.ring.hidden = !place;
    this.pointed = place;
    if (place) [this.ring.style.left, this.ring.style.top] = place.map((share) => `${100 * share}%`);
  }
}
