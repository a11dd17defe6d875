// Filming inside the page: light and level are told before it starts, ten seconds to sit down, one tap to stop.
// What counts as dark, glaring or tilted here is common practice, no published source; the check itself decides.

const SVG = "http://www.w3.org/2000/svg";
const COUNT_S = 10;
const LOOK_MS = 500;
export const BITS = 4_000_000;
const PIECE_MS = 1000;
const MARGIN_MB = 5;
const DARK = 60;
const GLARE = 0.25;
const TILT_DEG = 4;
export const KINDS = ["video/mp4;codecs=avc1.42E01F", "video/mp4", "video/webm;codecs=vp8", "video/webm"];

export function lightWords(values) {
  const mean = values.reduce((sum, v) => sum + v, 0) / values.length;
  if (mean < DARK) return ["Too dark: switch on a light, or turn towards it.", false];
  if (values.filter((v) => v > 250).length > GLARE * values.length)
    return ["Glare: film away from the window or the lamp.", false];
  return ["Light is good.", true];
}

// How far the picture leans, from the phone's own orientation (degrees); upright or lying on its long side.
export function levelWords(beta, gamma) {
  const [b, g] = [beta, gamma].map((v) => (v * Math.PI) / 180);
  const [x, y, z] = [Math.cos(b) * Math.sin(g), Math.sin(b), Math.cos(b) * Math.cos(g)];
  if (Math.abs(z) > 0.5) return ["Stand the phone upright.", false];
  const lean = (Math.atan2(x, y) * 180) / Math.PI;
  const off = Math.round(lean - 90 * Math.round(lean / 90));
  if (Math.abs(off) > TILT_DEG) return [`The phone leans by ${Math.abs(off)} degrees: straighten it.`, false];
  return ["Phone is level.", true];
}

export class Camera {
  constructor(dialog) {
    this.dialog = dialog;
    this.find = (name) => dialog.querySelector(name);
    this.find(".start").addEventListener("click", () => this.count());
    this.find(".stop").addEventListener("click", () => this.stop());
    this.find(".close").addEventListener("click", () => this.close());
    dialog.addEventListener("close", () => this.end(false));
    this.tilt = (event) => (this.turned = event.gamma === null ? null : event);
  }

  // Ends when filming has ended. take(piece, type) keeps each second of it as it comes and ends the film where it
  // cannot; most_mb: no film is larger. Throws where the camera is refused.
  async film({ outline, where, most_mb }, take) {
    await window.DeviceOrientationEvent?.requestPermission?.().catch(() => undefined);
    this.stream = await navigator.mediaDevices.getUserMedia({
      audio: false,
      video: { facingMode: "environment", width: { ideal: 1920 }, height: { ideal: 1080 }, frameRate: { ideal: 30, max: 30 } },
    });
    Object.assign(this, { take, room: (most_mb - MARGIN_MB) * 1e6 });
    this.find(".live").srcObject = this.stream;
    await this.find(".live").play();
    this.draw(outline);
    this.find(".where").textContent = where;
    this.state("before");
    this.dialog.showModal();
    addEventListener("deviceorientation", this.tilt);
    this.looking = setInterval(() => this.look(), LOOK_MS);
    this.look();
    return new Promise((resolve) => (this.resolve = resolve));
  }

  draw(outline) {
    const shape = (name, values, kind) => {
      const element = document.createElementNS(SVG, name);
      for (const [key, value] of Object.entries(values)) element.setAttribute(key, value);
      element.setAttribute("class", kind);
      return element;
    };
    const line = (kind) => (points) => shape("polyline", { points: points.map((p) => p.join(",")).join(" ") }, kind);
    this.find(".outline").replaceChildren(
      ...(outline
        ? [
            ...outline.machine.map(line("part")),
            ...outline.limbs.map(line("limb")),
            line("moving")(outline.moving),
            shape("circle", { cx: outline.head[0], cy: outline.head[1], r: 9 }, "limb"),
          ]
        : []),
    );
  }

  state(now) {
    this.find(".start").hidden = now !== "before";
    this.find(".stop").hidden = now !== "films";
    this.find(".close").hidden = now === "films";
    this.find(".told").hidden = now === "films";
    this.find(".taken").hidden = now !== "films";
    this.find(".taken").textContent = "";
    this.find(".count").textContent = "";
  }

  look() {
    const canvas = Object.assign(document.createElement("canvas"), { width: 48, height: 48 });
    const pen = canvas.getContext("2d");
    pen.drawImage(this.find(".live"), 0, 0, 48, 48);
    const { data } = pen.getImageData(0, 0, 48, 48);
    const values = Array.from({ length: data.length / 4 }, (_, i) => (data[4 * i] + 2 * data[4 * i + 1] + data[4 * i + 2]) / 4);
    this.say(".light", lightWords(values));
    this.say(".level", this.turned ? levelWords(this.turned.beta, this.turned.gamma) : ["Stand the phone upright and straight.", true]);
  }

  say(name, [words, good]) {
    const line = this.find(name);
    if (line.textContent !== words) line.textContent = words;
    line.classList.toggle("no", !good);
  }

  count() {
    let left = COUNT_S;
    this.find(".start").hidden = true;
    this.find(".count").textContent = left;
    navigator.wakeLock?.request("screen").then((lock) => (this.awake = lock), () => undefined);
    this.counting = setInterval(() => {
      left -= 1;
      this.find(".count").textContent = left || "";
      if (left) return;
      clearInterval(this.counting);
      this.record();
    }, 1000);
  }

  record() {
    const kind = KINDS.find((k) => MediaRecorder.isTypeSupported(k));
    // A key picture a second: an MP4 is handed out from one to the next, and only then does it outlive the browser.
    const how = { mimeType: kind, videoBitsPerSecond: BITS, videoKeyFrameIntervalDuration: PIECE_MS };
    this.recorder = new MediaRecorder(this.stream, how);
    this.recorder.ondataavailable = ({ data }) => data.size && this.piece(data);
    this.recorder.onstop = () => this.end(true);
    this.recorder.start(PIECE_MS);
    this.began = performance.now();
    this.state("films");
  }

  piece(data) {
    const seconds = Math.round((performance.now() - this.began) / 1000);
    this.room -= data.size;
    if (this.room < 0) this.stop();
    const said = () => (this.find(".taken").textContent = `${seconds} s filmed and safe on this phone`);
    this.take(data, this.recorder.mimeType.split(";")[0]).then(said, () => this.stop());
  }

  stop() {
    if (this.recorder?.state === "recording") this.recorder.stop();
  }

  close() {
    if (this.dialog.open) this.dialog.close();
  }

  // Give the camera back and answer once; a recording that is broken off is kept as far as it came.
  end(over) {
    if (!over && this.recorder?.state === "recording") return this.recorder.stop();
    if (!this.resolve) return;
    clearInterval(this.counting);
    clearInterval(this.looking);
    removeEventListener("deviceorientation", this.tilt);
    for (const track of this.stream.getTracks()) track.stop();
    this.awake?.release().catch(() => undefined);
    const resolve = this.resolve;
    this.resolve = this.recorder = null;
    this.close();
    resolve();
  }
}
