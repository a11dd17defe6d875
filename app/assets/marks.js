// A still of the clip on which a trainer points at the machine's parts: choose a part, touch its place.

const SVG = "http://www.w3.org/2000/svg";
const boards = new WeakMap();

class Board {
  constructor(root) {
    this.root = root;
    this.video = root.querySelector("video");
    this.svg = root.querySelector("svg");
    this.moment = root.querySelector("input");
    this.use = root.querySelector(".use");
    this.video.addEventListener("loadedmetadata", () => this.ready());
    this.loupe = root.querySelector("canvas");
    for (const kind of ["pointerdown", "pointermove"])
      this.video.addEventListener(kind, (event) => this.look(event));
    for (const kind of ["pointerleave", "pointercancel"])
      this.video.addEventListener(kind, () => (this.loupe.hidden = true));
    this.video.addEventListener("pointerup", (event) => this.point(event));
    this.moment.addEventListener("input", () => (this.video.currentTime = Number(this.moment.value)));
    this.use.addEventListener("click", () => this.say(Object.values(this.points)));
  }

  show(data, say) {
    this.say = say;
    const shape = JSON.stringify(data);
    if (shape === this.shape) return;
    this.shape = shape;
    this.data = data;
    this.points = Object.fromEntries(data.points.map((p) => [p.name, p]));
    this.now = (data.wanted.find((w) => !this.points[w.name]) || data.wanted[0]).name;
    this.use.textContent = data.use;
    this.svg.setAttribute("viewBox", `0 0 ${data.width} ${data.height}`);
    if (this.video.getAttribute("src") !== data.src) this.video.src = data.src;
    this.draw();
  }

  ready() {
    this.moment.max = this.video.duration;
    const first = Object.values(this.points)[0];
    this.video.currentTime = first ? first.time_s : 0;
    this.moment.value = this.video.currentTime;
  }

  // What lies under the finger or the pointer, larger and beside it: a tenth of the picture's width.
  look(event) {
    const box = this.video.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left, event.clientY - box.top];
    const [side, cut, scale] = [this.loupe.width, this.video.videoWidth / 10, this.video.videoWidth / box.width];
    const pen = this.loupe.getContext("2d");
    pen.clearRect(0, 0, side, side);
    pen.drawImage(this.video, x * scale - cut / 2, y * scale - cut / 2, cut, cut, 0, 0, side, side);
    pen.strokeStyle = "#ffc44d";
    pen.lineWidth = 3;
    pen.strokeRect(side / 2 - 12, side / 2 - 12, 24, 24);
    this.loupe.hidden = false;
    const [wide, up] = [this.loupe.offsetWidth, this.loupe.offsetHeight + 24];
    this.loupe.style.left = `${Math.min(Math.max(0, x - wide / 2), box.width - wide)}px`;
    this.loupe.style.top = `${y > up ? y - up : y + 32}px`;
  }

  point(event) {
    this.loupe.hidden = event.pointerType !== "mouse";
    const box = this.video.getBoundingClientRect();
    this.points[this.now] = {
      name: this.now,
      x: ((event.clientX - box.left) / box.width) * this.data.width,
      y: ((event.clientY - box.top) / box.height) * this.data.height,
      time_s: this.video.currentTime,
    };
    const next = this.data.wanted.find((w) => !this.points[w.name]);
    if (next) this.now = next.name;
    this.draw();
  }

  draw() {
    const r = this.data.width / 45;
    this.svg.replaceChildren(
      ...Object.values(this.points).flatMap((p) =>
        ["out", "in"].map((kind) => {
          const ring = document.createElementNS(SVG, "circle");
          for (const [name, value] of Object.entries({ cx: p.x, cy: p.y, r })) ring.setAttribute(name, value);
          ring.setAttribute("vector-effect", "non-scaling-stroke");
          ring.setAttribute("class", p.name === this.now ? `${kind} now` : kind);
          return ring;
        }),
      ),
    );
    const names = this.root.querySelector(".names");
    names.replaceChildren(
      ...this.data.wanted.map((w) => {
        const button = document.createElement("button");
        button.type = "button";
        button.textContent = `${this.points[w.name] ? "✓ " : ""}${w.words}`;
        button.setAttribute("aria-pressed", w.name === this.now);
        button.addEventListener("click", () => {
          this.now = w.name;
          this.draw();
        });
        return button;
      }),
    );
    this.use.disabled = !Object.keys(this.points).length;
  }
}

export default function (component) {
  const { parentElement, data, setTriggerValue } = component;
  const root = parentElement.querySelector(".plumb-marks");
  if (!boards.has(root)) boards.set(root, new Board(root));
  boards.get(root).show(data, (points) => setTriggerValue("points", points));
  return () => boards.delete(root);
}
