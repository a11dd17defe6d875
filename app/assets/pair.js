// Two short loops side by side, started together: the shorter one waits for the longer.

class Pair {
  constructor(root) {
    this.loops = [...root.querySelectorAll("figure")].map((figure) => {
      const video = figure.querySelector("video");
      return { figure, video, moving: new Moving(figure.querySelector("canvas"), video) };
    });
    this.frame();
    for (const loop of this.loops) {
      loop.video.addEventListener("timeupdate", () => this.follow(loop));
      loop.video.addEventListener("ended", () => this.follow(loop));
      loop.video.addEventListener("loadedmetadata", () => this.restart());
    }
  }

  // points: what a finding is about, named in both; without any the angle that counts the repetitions
  show(parts, points = []) {
    for (const { moving } of this.loops) moving.focus = { points, values: [], named: true };
    const shape = JSON.stringify(parts);
    if (shape === this.shape) return;
    this.shape = shape;
    this.loops.forEach((loop, i) => {
      loop.part = parts[i];
      loop.figure.hidden = !parts[i];
      if (!parts[i]) return loop.video.pause();
      loop.figure.querySelector("figcaption").textContent = parts[i].words;
      if (loop.video.getAttribute("src") !== parts[i].src) loop.video.src = parts[i].src;
      loop.moving.load(parts[i].moving, () => loop.moving.draw());
    });
    this.restart();
  }

  frame() {
    for (const loop of this.loops) if (loop.part) loop.moving.draw();
    this.pending = requestAnimationFrame(() => this.frame());
  }

  follow(loop) {
    if (!loop.part || loop.waits) return;
    if (loop.video.currentTime < loop.part.end && !loop.video.ended) return;
    loop.waits = true;
    loop.video.pause();
    if (this.loops.every((one) => !one.part || one.waits)) this.restart();
  }

  restart() {
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    for (const loop of this.loops) {
      if (!loop.part) continue;
      loop.waits = false;
      loop.video.currentTime = loop.part.start;
      if (!still) loop.video.play().catch(() => undefined);
    }
  }

  end() {
    cancelAnimationFrame(this.pending);
    for (const loop of this.loops) loop.video.pause();
  }
}
