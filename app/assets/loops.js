// Two short loops side by side: this repetition and the member's own best one, started together.

const loops = new WeakMap();

class Loop {
  constructor(figure) {
    this.figure = figure;
    this.video = figure.querySelector("video");
    this.video.addEventListener("timeupdate", () => {
      if (this.video.currentTime >= this.end || this.video.currentTime < this.start - 0.5) this.restart();
    });
    this.video.addEventListener("loadedmetadata", () => this.restart());
  }

  show(part) {
    this.figure.hidden = !part;
    if (!part) return this.video.pause();
    [this.start, this.end] = [part.start, part.end];
    this.figure.querySelector("figcaption").textContent = part.words;
    if (this.video.getAttribute("src") !== part.src) this.video.src = part.src;
    else this.restart();
  }

  restart() {
    this.video.currentTime = this.start;
    if (!matchMedia("(prefers-reduced-motion: reduce)").matches) this.video.play().catch(() => undefined);
  }
}

export default function (component) {
  const { parentElement, data } = component;
  const root = parentElement.querySelector(".plumb-loops");
  if (!loops.has(root)) loops.set(root, [...root.querySelectorAll("figure")].map((f) => new Loop(f)));
  const [mine, best] = loops.get(root);
  mine.show(data.mine);
  best.show(data.best);
  return () => loops.get(root)?.forEach((loop) => loop.video.pause());
}
