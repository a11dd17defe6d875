// A clip for the set: filmed here, by the phone's own camera app, or chosen; then handed to the outbox.

const senders = new WeakMap();
const NO_CAMERA =
  "This page came over plain http, and a browser gives its camera to https pages alone. " +
  "Your phone's camera app films just as well.";
const NO_ROOM = "There is no more room for a clip on this phone; free some space and film again.";
const REFUSED = "The camera was not given to this page. Allow it in the browser's settings, or use the phone's camera app.";

class Sender {
  constructor(root, outbox, camera) {
    Object.assign(this, { root, outbox, camera });
    this.find = (name) => root.querySelector(name);
    for (const name of [".app", ".choose"])
      this.find(name).addEventListener("change", (event) => this.took(event.target));
    this.find(".film").addEventListener("click", () => this.film());
    this.find(".send").addEventListener("click", () => this.send());
    this.find(".away").addEventListener("click", () => outbox.throwAway(outbox.draft()));
    this.find(".plain").textContent = NO_CAMERA;
    this.draw = () => this.show();
    outbox.addEventListener("change", this.draw);
  }

  close() {
    this.outbox.removeEventListener("change", this.draw);
    this.camera.close();
    this.outbox.show(null);
  }

  take(data) {
    this.data = data;
    const can = window.isSecureContext && navigator.mediaDevices?.getUserMedia && window.MediaRecorder;
    this.find(".film").hidden = !can || data.filmed;
    this.find(".plain").hidden = Boolean(can) || data.filmed;
    this.find(".way:has(.app)").hidden = data.filmed;
    this.find(".choose").accept = data.kinds;
    this.find(".kept").textContent = data.kept;
    this.find(".first").hidden = data.agreed;
    for (const act of this.root.querySelectorAll(".ways button, .ways input, .send")) act.disabled = !data.agreed;
    this.outbox.show(data.told);
    const clip = this.outbox.draft();
    if (clip) this.outbox.retell(clip, data);
    this.show();
  }

  show() {
    const clip = this.outbox.draft();
    this.find(".ways").hidden = Boolean(clip);
    this.find(".chosen").hidden = !clip;
    if (clip?.blob === this.shown) return;
    this.shown = clip?.blob;
    const video = this.find(".chosen video");
    if (video.src) URL.revokeObjectURL(video.src);
    video.removeAttribute("src");
    if (!clip) return;
    video.src = URL.createObjectURL(clip.blob);
    this.find(".name").textContent = `${clip.name}, ${(clip.blob.size / 1e6).toFixed(1)} MB`;
  }

  wrong(words) {
    this.find(".wrong").textContent = words;
    this.find(".wrong").hidden = !words;
  }

  async took(input) {
    const file = input.files[0];
    if (!file) return;
    const over = file.size > this.data.most_mb * 1e6;
    this.wrong(over ? `The clip is larger than ${this.data.most_mb} MB; film a shorter one.` : "");
    if (!over) {
      const clip = this.outbox.begin(file.name, file.type, this.data);
      await this.keep(clip, file).catch(() => undefined);
      await this.outbox.finish(clip);
    }
    input.value = "";
  }

  keep(clip, piece) {
    const kept = this.outbox.grow(clip, piece);
    kept.catch(() => this.wrong(NO_ROOM));
    return kept;
  }

  async film() {
    this.wrong("");
    let clip = null;
    const take = (piece, type) => {
      clip ||= this.outbox.begin(`set.${type.split("/")[1]}`, type, this.data);
      return this.keep(clip, piece);
    };
    try {
      await this.camera.film(this.data, take);
    } catch {
      this.wrong(REFUSED);
    }
    if (clip) await this.outbox.finish(clip);
  }

  send() {
    const clip = this.outbox.draft();
    if (clip) this.outbox.send(clip);
  }
}

export default function (component) {
  const { parentElement, data } = component;
  const root = parentElement.querySelector(".plumb-sender");
  const from = (name) => import(new URL(name, location.origin).href);
  let over = false;
  Promise.all([from(data.outbox), from(data.camera)]).then(async ([{ outbox }, { Camera }]) => {
    await outbox.open(data.endpoint, data.who);
    if (over) return;
    if (!senders.has(root)) senders.set(root, new Sender(root, outbox, new Camera(root.querySelector(".camera"))));
    senders.get(root).take(data);
  });
  return () => {
    over = true;
    senders.get(root)?.close();
    senders.delete(root);
  };
}
