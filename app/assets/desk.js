// The review of one set: the clip, its cards and its keys. What is decided shows at once and is told to the
// page in a log; the page answers with how far it has heard and kept it. A hand-over that was not kept is over.

const KEYS = { k: "play", " ": "play", j: "back", l: "on", f: "flag", s: "slow", o: "lines", w: "full", m: "moment", y: "agree", e: "reword", x: "no-fault", u: "undo", n: "note", h: "hand-over" };

// two taps on one button within so many ms are one: the second would meet the card that came up since
const TWICE_MS = 500;

const typing = (event) => {
  const at = event.composedPath()[0];
  const field = ["TEXTAREA", "SELECT"].includes(at.tagName) || (at.tagName === "INPUT" && at.type !== "range");
  return event.ctrlKey || event.metaKey || event.altKey || field || at.isContentEditable || !!document.querySelector('[role="dialog"]');
};

class Desk {
  constructor(root) {
    this.root = root;
    this.log = [];
    this.player = new Player(root);
    this.talk = new Talk(root, this.player, (event) => this.say(event));
    this.key = (event) => this.press(event);
    this.click = (event) => this.elsewhere(event);
    document.addEventListener("keydown", this.key);
    document.addEventListener("click", this.click);
    root.addEventListener("click", (event) => {
      const button = event.target.closest("[data-do]");
      if (button && !button.disabled && !this.twice(button, event)) this.act(button.dataset.do);
    });
  }

  end() {
    document.removeEventListener("keydown", this.key);
    document.removeEventListener("click", this.click);
    this.talk.pair?.end();
    this.player.end();
  }

  show(data, send) {
    this.send = send;
    this.log = this.log.filter((event) => event.n > (event.do === "hand-over" ? data.heard : data.applied));
    this.data = data;
    for (const event of this.log) this.apply(event);
    this.player.show(data);
    this.talk.show(data);
    this.root.querySelector('[data-do="moment"]').hidden = !data.src;
  }

  say(event) {
    const last = this.log.length ? this.log[this.log.length - 1].n : 0;
    const told = { n: Math.max(Date.now(), last + 1, this.data.heard + 1), ...event };
    this.log.push(told);
    this.apply(told);
    this.send([...this.log]);
    return told.n;
  }

  // show at once what was just decided; the page's own answer follows
  apply({ do: kind, keys, words }) {
    if (kind === "note") this.data.note = words;
    for (const card of keys ? this.data.cards : []) {
      for (const one of card.findings) {
        if (keys.includes(one.key)) one.said = kind === "withdrawn" ? null : { kind, words };
      }
    }
  }

  act(what) {
    const { talk, player } = this;
    if (what === "agree" || what === "no-fault") talk.decide(what);
    else if (what === "reword" || what === "note" || what === "moment") this.data.src || what !== "moment" ? talk.write(what) : null;
    else if (what === "undo") talk.undo();
    else if (what === "hand-over") talk.handOver();
    else if (what === "yes") talk.over();
    else if (what === "no") talk.ask.hidden = true;
    else if (what === "leave") talk.leave();
    else if (what === "close") talk.large.close();
    else if (this.data.src) player.act(what);
  }

  twice(button, { timeStamp }) {
    const decides = ["agree", "no-fault"].includes(button.dataset.do);
    const again = decides && this.tapped?.button === button && timeStamp - this.tapped.at < TWICE_MS;
    this.tapped = { button, at: timeStamp };
    return again;
  }

  press(event) {
    if (typing(event)) return;
    if (!this.talk.ask.hidden) return this.answer(event);
    if (this.talk.resting) return;
    const at = event.composedPath()[0], arrow = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (at.tagName === "BUTTON" && event.key === " ") return;
    if (arrow && event.shiftKey) this.act(arrow > 0 ? "frame-on" : "frame-back");
    else if (arrow && at.tagName !== "INPUT") this.talk.beside(arrow);
    else if (KEYS[event.key.toLowerCase()] && !event.repeat) this.act(KEYS[event.key.toLowerCase()]);
    else return;
    event.preventDefault();
  }

  // while the question stands only Enter and Escape are heard, so that words typed too early answer nothing
  answer(event) {
    const onNo = event.composedPath()[0].dataset?.do === "no";
    if (event.key === "Enter" && !onNo) this.act("yes");
    else if (event.key === "Escape" || event.key === "Enter") this.act("no");
    else if (event.key === "Tab") return;
    event.preventDefault();
  }

  elsewhere(event) {
    const link = event.composedPath().find((e) => e.dataset && e.dataset.plumbSeek !== undefined);
    if (!link) return;
    event.preventDefault();
    this.player.seek(Number(link.dataset.plumbSeek));
    this.root.scrollIntoView({ block: "nearest" });
  }
}

const desks = new WeakMap();

export default function (component) {
  const { parentElement, data, setStateValue } = component;
  const root = parentElement.querySelector(".desk");
  if (!desks.has(root)) desks.set(root, new Desk(root));
  const desk = desks.get(root);
  desk.show(structuredClone(data), (log) => setStateValue("log", log));
  return () => {
    desk.end();
    desks.delete(root);
  };
}
