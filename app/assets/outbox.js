// What is being sent from this browser, on whatever page: how far it is, how long it takes, what stopped it.

const boards = new WeakMap();

// What a browser needs to put the page on a phone's home screen.
function installable() {
  if (document.querySelector("link[rel=manifest]")) return;
  for (const [rel, href] of [["manifest", "/ours/plumbset.webmanifest"], ["apple-touch-icon", "/ours/icon-192.png"]]) {
    const link = document.createElement("link");
    Object.assign(link, { rel, href });
    document.head.append(link);
  }
}

function made(name, text, kind = "") {
  const element = document.createElement(name);
  element.textContent = text;
  if (kind) element.className = kind;
  return element;
}

function button(text, act) {
  const element = made("button", text);
  element.type = "button";
  element.addEventListener("click", act);
  return element;
}

function left(seconds) {
  if (seconds === null || seconds === undefined) return "";
  if (seconds < 60) return ", less than a minute left";
  const minutes = Math.round(seconds / 60);
  return `, about ${minutes} minute${minutes === 1 ? "" : "s"} left`;
}

// ``17:02``, on another day with the day before it.
function moment(at) {
  const made = new Date(at);
  const today = made.toDateString() === new Date().toDateString();
  const clock = { hour: "2-digit", minute: "2-digit" };
  return made.toLocaleString("en-GB", today ? clock : { weekday: "long", day: "numeric", month: "long", ...clock });
}

class Board {
  constructor(root, outbox, say) {
    Object.assign(this, { root, outbox, say });
    this.draw = () => {
      this.far = [];
      this.root.replaceChildren(...this.lines());
    };
    this.move = () => this.far.forEach((draw) => draw());
    this.tell = (event) => this.say(event.detail);
    outbox.addEventListener("change", this.draw);
    outbox.addEventListener("progress", this.move);
    outbox.addEventListener("sent", this.tell);
    this.draw();
  }

  close() {
    this.outbox.removeEventListener("change", this.draw);
    this.outbox.removeEventListener("progress", this.move);
    this.outbox.removeEventListener("sent", this.tell);
  }

  lines() {
    return [...this.outbox.unsent().map((clip) => this.unsent(clip)), ...this.outbox.waiting().map((clip) => this.waits(clip)), ...this.arrived().map((one) => this.sent(one))];
  }

  unsent(clip) {
    const [line, head] = [made("div", "", "line unsent"), made("p", "")];
    head.append(made("b", clip.title), `: a set from ${moment(clip.made)} was not sent.`);
    line.append(head, button("Send", () => this.outbox.send(clip)));
    line.append(button("Throw away", () => this.outbox.throwAway(clip)));
    return line;
  }

  // All but the one whose result is open.
  arrived() {
    const open = Number(new URLSearchParams(location.search).get("set"));
    return this.outbox.sent.filter((one) => one.number !== open);
  }

  waits(clip) {
    const line = made("div", "", clip.stopped || clip.against ? "line stopped" : "line");
    const head = made("p", "");
    head.append(made("b", clip.title));
    line.append(head);
    if (clip.stopped) {
      head.append(" was not sent.");
      line.append(made("p", clip.stopped), button("Try again", () => this.outbox.again(clip)));
      line.append(button("Throw this clip away", () => this.outbox.throwAway(clip)));
      return line;
    }
    const [far, bar] = [made("span", ""), made("progress", "")];
    head.append(far);
    bar.max = 1;
    bar.setAttribute("aria-label", `${clip.title}: how much is sent`);
    this.far.push(() => {
      bar.value = clip.part || 0;
      far.textContent = `: ${Math.floor(100 * bar.value)} % sent${clip.later ? "" : left(clip.left_s)}`;
    });
    this.far.at(-1)();
    const waits = clip.later || !navigator.onLine;
    line.append(bar, made("p", waits ? "No connection just now. It goes on by itself; the clip is safe here." : "The clip stays on this phone until the studio has it."));
    if (clip.against) line.append(...this.against(clip));
    if (clip.against && !clip.pointed) requestAnimationFrame(() => line.scrollIntoView({ block: "nearest" }));
    clip.pointed = Boolean(clip.against);
    return line;
  }

  // What is certain before the whole clip is there; whoever sent it decides what becomes of it.
  against(clip) {
    const title = made("p", "");
    title.append(made("b", "This clip cannot be judged."));
    const away = button("Throw this clip away", () => this.outbox.throwAway(clip));
    return [title, ...clip.against.map((words) => made("p", words)), made("p", "Or let it be sent: the clip is kept as it is."), away];
  }

  sent(one) {
    const line = made("div", "", "line");
    const link = made("a", "Open the result", "go");
    link.href = `${this.address}${one.number}`;
    line.append(made("b", `${one.title}: ${one.known ? "sent before" : "sent"}. `), link);
    return line;
  }
}

export default function (component) {
  const { parentElement, data, setTriggerValue } = component;
  const root = parentElement.querySelector(".plumb-outbox");
  installable();
  import(new URL(data.outbox, location.origin).href).then(({ outbox }) => {
    if (!boards.has(root)) boards.set(root, new Board(root, outbox, (set) => setTriggerValue("sent", set)));
    boards.get(root).address = data.result;
    boards.get(root).say = (set) => setTriggerValue("sent", set);
    outbox.open(data.endpoint, data.who);
  });
  return () => {
    boards.get(root)?.close();
    boards.delete(root);
  };
}
