// What is said of the clip: one card at a time, the box for words, and handing over.

const SAID = { agree: "Agreed", reword: "Reworded", "no-fault": "No fault" };
const SHAPE = { [SAID["no-fault"]]: "✕", [SAID.reword]: "✎" };
// what was decided of a whole card, in a word; empty while anything of it is open
const decided = (card) => {
  const kinds = new Set(card.findings.map((one) => one.said && one.said.kind));
  return kinds.has(null) ? "" : kinds.size > 1 ? "Decided" : SAID[[...kinds][0]];
};
// so many characters are kept of a prompt or a note
const MOST = 600;
const repsWords = (reps) => {
  const known = reps.filter((rep) => rep !== null);
  if (!known.length) return "the whole set";
  return `repetition${known.length > 1 ? "s" : ""} ${known.join(", ")}`;
};

class Talk {
  constructor(root, player, say) {
    this.root = root;
    this.player = player;
    this.say = say;
    for (const name of ["chips", "card", "box", "ask", "bar", "large"]) this[name] = root.querySelector(`.${name}`);
    this.words = this.box.querySelector("textarea");
    this.check = this.box.querySelector("select");
    this.out = new Map();
    player.toggle = (rep) => this.toggle(rep);
    this.box.addEventListener("submit", (event) => this.keep(event));
    this.words.addEventListener("keydown", (event) => this.written(event));
  }

  // keys rest while a box or a question is open, and once the set is on its way
  get resting() {
    return !this.box.hidden || !this.ask.hidden || this.large.open || this.gone;
  }

  show(data) {
    this.data = data;
    this.gone = this.gone && data.heard < this.goneAt;
    if (this.at === undefined || !this.current) this.at = this.next();
    this.draw();
  }

  get current() {
    return this.data.cards.find((card) => card.id === this.at);
  }

  open(card) {
    return card.verdict === "flag" && card.findings.some((one) => !one.said);
  }

  next() {
    const waiting = this.data.cards.find((card) => this.open(card));
    return waiting ? waiting.id : "end";
  }

  get undecided() {
    return this.data.cards.filter((card) => this.open(card)).length;
  }

  chosen(card) {
    const left = this.out.get(card.id) || new Set();
    const still = card.findings.filter((one) => !left.has(one.key));
    const waiting = still.filter((one) => !one.said);
    return waiting.length ? waiting : still;
  }

  toggle(rep) {
    const card = this.current;
    if (!card) return;
    const left = this.out.get(card.id) || new Set();
    const on = this.chosen(card).some((one) => one.rep === rep);
    for (const one of card.findings.filter((f) => f.rep === rep)) on ? left.add(one.key) : left.delete(one.key);
    this.out.set(card.id, left);
    this.marked();
  }

  go(id) {
    this.at = id;
    this.draw();
  }

  beside(by) {
    const ids = [...this.data.cards.map((card) => card.id), "end"];
    this.go(ids[Math.max(0, Math.min(ids.length - 1, ids.indexOf(this.at) + by))]);
  }

  draw() {
    this.drawChips();
    const card = this.current;
    const shape = JSON.stringify(card || [this.data.reads, this.data.note, this.data.unsent, this.data.cards.length, this.undecided, this.data.added]);
    if (shape !== this.shape) card ? this.drawCard(card) : this.drawEnd();
    this.shape = shape;
    if (this.shown !== this.at) this.moveTo(card);
    this.shown = this.at;
    this.marked();
    this.drawBar();
  }

  moveTo(card) {
    const time = card ? card.time : null;
    const values = (card ? card.findings : []).filter((one) => one.value !== null && one.time !== null);
    this.player.moving.focus = { points: card ? card.points : [], values };
    if (time !== null && time !== undefined) this.player.seek(time);
    else this.player.moving.draw();
  }

  marked() {
    const card = this.current;
    const timed = new Map((card ? card.findings : []).filter((one) => one.rep !== null).map((one) => [one.rep, one.time]));
    this.player.choose(timed, card ? new Set(this.chosen(card).map((one) => one.rep)) : new Set());
    const picked = this.card.querySelector(".picked");
    if (!card || !picked) return;
    const chosen = this.chosen(card);
    picked.textContent = chosen.length < card.findings.length ? `You decide ${repsWords([...new Set(chosen.map((one) => one.rep))])} now.` : "";
  }

  drawChips() {
    const made = this.data.cards.map((card) => {
      const done = decided(card);
      const chip = element("button", { type: "button", title: card.title, "aria-label": `${card.title}${done ? `, ${done.toLowerCase()}` : ""}` });
      chip.innerHTML = `${mark(card.verdict)}<span>${done ? `${SHAPE[done] || "✓"} ${done}` : ""}</span>`;
      chip.append(element("em", {}, card.title));
      chip.toggleAttribute("aria-current", card.id === this.at);
      chip.addEventListener("click", () => this.go(card.id));
      return chip;
    });
    const end = element("button", { type: "button" }, `${this.data.member} will read`);
    end.toggleAttribute("aria-current", this.at === "end");
    end.addEventListener("click", () => this.go("end"));
    this.chips.replaceChildren(...made, end);
  }

  drawCard(card) {
    const parts = [];
    const head = element("h2");
    head.innerHTML = mark(card.verdict);
    head.append(card.title, element("small", {}, card.which));
    const cue = element("p", { class: "cue" }, card.cue || "The member is told nothing of this unless you word it.");
    cue.classList.toggle("none", !card.cue);
    parts.push(cue, head, ...this.decided(card), element("p", { class: "picked" }));
    if (card.verdict === "watch") parts.push(element("p", { class: "soft" }, "More likely than not, but not certain: told only in your words."));
    if (card.picture) parts.push(this.picture(card));
    if (card.beside && this.data.src) parts.push(this.besideBest(card));
    parts.push(this.numbers(card));
    this.card.replaceChildren(...parts);
  }

  decided(card) {
    const kinds = new Map();
    for (const { said, rep } of card.findings) {
      if (!said) continue;
      const name = JSON.stringify([said.kind, said.words]);
      kinds.set(name, [...(kinds.get(name) || []), rep]);
    }
    const lines = [...kinds].map(([name, reps]) => {
      const [kind, words] = JSON.parse(name);
      const line = element("p", { class: `said ${kind}` }, `${SAID[kind]}, ${repsWords([...new Set(reps)])}`);
      if (kind === "reword") line.append(element("q", {}, words));
      return line;
    });
    if (!lines.length) return [];
    const undo = element("button", { type: "button", title: "Take that back (U)" }, "Undo");
    undo.addEventListener("click", () => this.undo());
    return [...lines, undo];
  }

  picture(card) {
    const button = element("button", { type: "button", class: "picture", title: "Enlarge" });
    const image = element("img", { src: card.picture, alt: `${card.title}, ${card.measured}` });
    button.append(image);
    button.addEventListener("click", () => {
      const large = this.large.querySelector("img");
      [large.src, large.alt] = [image.src, image.alt];
      this.large.showModal();
    });
    return button;
  }

  besideBest(card) {
    const whole = element("details", { class: "beside" });
    whole.append(element("summary", {}, "Beside their best"));
    const figure = '<figure><div class="film"><video playsinline muted preload="metadata"></video><canvas></canvas></div><figcaption></figcaption></figure>';
    const loops = element("div", { class: "loops" });
    loops.innerHTML = figure + figure;
    whole.append(loops);
    whole.addEventListener("toggle", () => {
      this.pair?.end();
      this.pair = whole.open ? new Pair(loops) : null;
      this.pair?.show([card.beside.mine, card.beside.best], card.points);
    });
    return whole;
  }

  numbers(card) {
    const whole = element("details");
    whole.append(element("summary", {}, "Numbers"));
    whole.append(...card.numbers.map((line) => element("p", {}, line)));
    return whole;
  }

  drawEnd() {
    const { data } = this;
    const parts = data.cards.length ? [] : [element("p", { class: "cue" }, data.bare)];
    parts.push(element("h2", {}, `What ${data.member} will read`));
    if (data.unsent) parts.push(element("p", { class: "unsent" }, data.unsent));
    if (data.note) parts.push(element("p", { class: "note" }, data.note));
    for (const one of data.reads) {
      const line = element("p", { class: "say" });
      line.append(element("b", {}, one.which), one.words);
      parts.push(line);
    }
    if (!data.note && !data.reads.length) parts.push(element("p", { class: "soft" }, "No prompts."));
    const note = element("button", { type: "button", title: "A note above the prompts (N)" }, data.note ? "Change the note" : `Write ${data.member} a note`);
    note.addEventListener("click", () => this.write("note"));
    parts.push(note, ...data.added.map((one) => this.back(one)), element("p", { class: "soft" }, data.caution));
    this.card.replaceChildren(...parts);
  }

  back(one) {
    const line = element("p", { class: "mine" });
    const button = element("button", { type: "button" }, "Take it back");
    button.addEventListener("click", () => this.say({ do: "withdrawn", keys: [one.key] }));
    const jump = element("button", { type: "button" }, `At ${one.time.toFixed(1)} s`);
    jump.addEventListener("click", () => {
      this.player.seek(one.time);
      this.player.point(one.place);
    });
    line.append(jump, ` ${one.words} `, button);
    return line;
  }

  drawBar() {
    const card = this.current;
    this.bar.querySelector(".of").textContent = card ? `${card.title}, ${card.which}` : "";
    for (const button of this.bar.querySelectorAll("button")) {
      const what = button.dataset.do;
      if (what === "hand-over") button.disabled = !!this.gone || !this.data.releasable;
      else button.disabled = !card || (what === "agree" && card.verdict !== "flag");
    }
  }

  decide(kind, words = "", card = this.current) {
    if (!card || (kind === "agree" && card.verdict !== "flag")) return;
    const chosen = this.chosen(card);
    if (!chosen.length) return;
    this.say({ do: kind, keys: chosen.map((one) => one.key), words });
    this.out.delete(card.id);
    if (card.id === this.at && card.findings.every((one) => one.said)) this.at = this.next();
    this.draw();
  }

  undo() {
    const keys = (this.current ? this.current.findings : []).filter((one) => one.said).map((one) => one.key);
    if (keys.length) this.say({ do: "withdrawn", keys });
    this.draw();
  }

  write(kind) {
    const card = this.current;
    if (kind === "reword" && !card) return;
    if (!this.box.hidden) return this.words.focus();
    this.kind = kind;
    this.of = this.at;
    this.time = Math.round(100 * this.player.video.currentTime) / 100;
    this.player.video.pause();
    this.player.point(null);
    this.player.pointing = kind === "moment";
    const before = card && card.findings.find((one) => one.said && one.said.words);
    this.words.value = { reword: (before && before.said.words) || (card && card.cue) || "", note: this.data.note, moment: "" }[kind];
    this.box.querySelector("label").textContent = {
      reword: `The prompt in your words: ${card ? card.title : ""}`, note: `Note to ${this.data.member}, above the prompts`,
      moment: `What ${this.data.member} should read about ${this.time.toFixed(1)} s`,
    }[kind];
    this.box.querySelector(".hint").textContent = kind === "moment" ? "Touch the picture to point at a place. Ctrl and Enter saves the words." : "Ctrl and Enter saves the words.";
    this.box.querySelector(".missed").hidden = kind !== "moment";
    const checks = [["", "Not named yet, or none of them"], ...this.data.checks];
    this.check.replaceChildren(...checks.map(([value, title]) => element("option", { value }, title)));
    this.box.hidden = false;
    this.words.focus();
    this.box.scrollIntoView({ block: "nearest" });
  }

  written(event) {
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) this.keep(event);
    if (event.key === "Escape") this.leave();
  }

  keep(event) {
    event.preventDefault();
    const words = this.words.value.trim();
    const wrong = !words && this.kind !== "note" ? "There are no words yet: write some, or leave this box." : words.length > MOST ? `Too long: ${words.length} characters, at most ${MOST}. Shorten your words and save again.` : "";
    if (wrong) {
      this.box.querySelector(".hint").textContent = wrong;
      return this.words.focus();
    }
    const of = this.data.cards.find((card) => card.id === this.of);
    if (this.kind === "reword" && !of) {
      this.box.querySelector(".hint").textContent = "That prompt is no longer there. Copy your words before you leave this box.";
      return;
    }
    if (this.kind === "moment") this.say({ do: "moment", time: this.time, words, place: this.player.pointed || null, check: this.check.value });
    const { kind } = this;
    this.leave();
    if (kind === "reword") this.decide("reword", words, of);
    if (kind === "note") this.say({ do: "note", words });
    this.draw();
  }

  leave() {
    this.box.hidden = true;
    this.player.pointing = false;
    this.player.point(null);
    this.words.blur();
  }

  handOver() {
    if (this.gone || !this.data.releasable) return;
    if (!this.box.hidden) return this.words.focus();
    const count = this.undecided;
    if (!count) return this.over();
    const [many, them] = count > 1 ? ["prompts", "them as they stand"] : ["prompt", "it as it stands"];
    this.ask.querySelector("p").textContent = `${count} ${many} not decided: ${this.data.member} may read ${them}. Hand over?`;
    this.ask.hidden = false;
    this.ask.focus();
    this.ask.scrollIntoView({ block: "nearest" });
  }

  over() {
    this.ask.hidden = true;
    this.gone = true;
    this.goneAt = this.say({ do: "hand-over" });
    this.draw();
  }
}
