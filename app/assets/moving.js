// What was seen, drawn over the playing clip: limbs, and the measured angle at its joint.

const NEAR = "#5db7f0", FAR = "#b9c6cf", MEASURED = "#ffc44d", RIM = "rgba(8,12,16,.75)";

class Moving {
  constructor(canvas, video) {
    this.canvas = canvas;
    this.video = video;
    this.on = true;
    this.focus = { points: [], values: [], named: false };
  }

  async load(url, then) {
    if (url === this.url) return;
    this.url = url;
    this.kept = null;
    if (!url) return;
    const answer = await fetch(url).catch(() => null);
    if (answer && answer.ok && this.url === url) this.kept = await answer.json();
    then();
  }

  // points (px of the clip) and angles (degrees) at a moment, between its two neighbours
  at(seconds) {
    const { rate_hz, start_s, points, signals, marks } = this.kept;
    const place = (seconds - start_s) * rate_hz;
    const low = Math.floor(place), share = place - low;
    const mix = (a, b) => (a === null || a === undefined ? null : b === null || b === undefined ? a : a + share * (b - a));
    const known = (paths) => {
      const found = {};
      for (const [name, flat] of Object.entries(paths)) {
        const x = mix(flat[2 * low], flat[2 * low + 2]), y = mix(flat[2 * low + 1], flat[2 * low + 3]);
        if (x !== null && y !== null) found[name] = [x, y];
      }
      return found;
    };
    const angles = Object.entries(signals).map(([name, one]) => ({ name, points: one.points, value: mix(one.values[low], one.values[low + 1]) }));
    return { found: known(points), marked: known(marks), angles };
  }

  draw() {
    const { canvas, video } = this;
    const ratio = Math.min(2, devicePixelRatio || 1);
    const wide = Math.round(video.clientWidth * ratio), high = Math.round(video.clientHeight * ratio);
    if (canvas.width !== wide || canvas.height !== high) [canvas.width, canvas.height] = [wide, high];
    const pen = canvas.getContext("2d");
    pen.clearRect(0, 0, wide, high);
    if (!this.on || !this.kept || !wide) return;
    this.scale = wide / this.kept.size[0];
    this.stroke = Math.max(2, wide / 220);
    const { found, marked, angles } = this.at(video.currentTime);
    this.limbs(pen, found);
    for (const place of Object.values(marked)) this.circle(pen, this.px(place));
    this.measured(pen, found, angles);
  }

  line(pen, places, colour, width) {
    for (const [style, wider] of [[RIM, 2.5], [colour, 0]]) {
      pen.beginPath();
      places.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      pen.strokeStyle = style;
      pen.lineWidth = width + wider;
      pen.lineCap = pen.lineJoin = "round";
      pen.stroke();
    }
  }

  limbs(pen, found) {
    const { near, bones } = this.kept;
    const sorted = [...bones].sort((a, b) => Number(a[0].startsWith(near)) - Number(b[0].startsWith(near)));
    for (const [a, b] of sorted) {
      if (!found[a] || !found[b]) continue;
      const bold = !near || a.startsWith(near);
      this.line(pen, [this.px(found[a]), this.px(found[b])], bold ? NEAR : FAR, this.stroke * (bold ? 1 : 0.6));
    }
  }

  circle(pen, [x, y]) {
    for (const [style, width] of [[RIM, 2.2], [MEASURED, 1]]) {
      pen.beginPath();
      pen.arc(x, y, 2.4 * this.stroke, 0, 2 * Math.PI);
      pen.strokeStyle = style;
      pen.lineWidth = width * this.stroke;
      pen.stroke();
    }
  }

  px([x, y]) {
    return [x * this.scale, y * this.scale];
  }

  // the angle or line that the open card speaks of, else the angle that counts the repetitions; at the moment
  // of a finding the number it was judged by; the lean of a line by its name where it is to be compared
  measured(pen, found, angles) {
    const { points, values, named } = this.focus, now = this.video.currentTime;
    const either = (names) => names.map((name) => name.replace(/^(left|right)_/, "")).join();
    const same = (one) => either(one.points) === either(points);
    const chosen = angles.find(same) || (points.length ? null : angles.find((one) => one.name === this.kept.drive));
    const names = chosen ? chosen.points : points;
    if (names.length < 2 || names.some((name) => !found[name])) return;
    const places = names.map((name) => this.px(found[name]));
    this.line(pen, places, MEASURED, this.stroke * 1.2);
    const judged = values.find((one) => Math.abs(one.time - now) < 0.03);
    if (!chosen || chosen.value === null) return;
    if (places.length === 3) this.arc(pen, places, judged && same(chosen) ? judged.value : chosen.value);
    else if (named) this.label(pen, `${chosen.name.replaceAll("_", " ")} ${Math.round(chosen.value)}°`, places[1], [0, -1.6]);
  }

  arc(pen, [a, joint, b], value) {
    const towards = ([x, y]) => Math.atan2(y - joint[1], x - joint[0]);
    const reach = ([x, y]) => Math.hypot(x - joint[0], y - joint[1]);
    const from = towards(a), radius = 0.4 * Math.min(reach(a), reach(b));
    let sweep = ((towards(b) - from + 3 * Math.PI) % (2 * Math.PI)) - Math.PI;
    if (value > 180) sweep -= Math.sign(sweep) * 2 * Math.PI;
    pen.beginPath();
    pen.arc(...joint, radius, from, from + sweep, sweep < 0);
    pen.strokeStyle = MEASURED;
    pen.lineWidth = this.stroke * 0.8;
    pen.stroke();
    const away = from + sweep / 2 + Math.PI;
    this.label(pen, `${Math.round(value)}°`, joint, [Math.cos(away), 1.3 * Math.sin(away)]);
  }

  // words beside a place; towards: how far to go, across in half widths of the words, down in their heights
  label(pen, text, [left, top], [across, down]) {
    const size = Math.max(15, this.canvas.width / 22);
    pen.font = `600 ${size}px system-ui, sans-serif`;
    const width = pen.measureText(text).width + 0.6 * size;
    const x = left + across * (0.6 * width + size * 0.5) - width / 2, y = top + down * size;
    pen.fillStyle = RIM;
    pen.fillRect(x, y - 0.7 * size, width, 1.4 * size);
    pen.fillStyle = "#fff";
    pen.textBaseline = "middle";
    pen.fillText(text, x + 0.3 * size, y);
  }
}
