// A member's clip with its repetitions: a touch on one plays it; those that a cue speaks of are marked.

const shown = new WeakMap();

function show(root, data) {
  const shape = JSON.stringify(data);
  if (shown.get(root) === shape) return;
  shown.set(root, shape);
  const video = root.querySelector("video");
  video.src = data.src;
  const buttons = data.reps.map((rep) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = rep.number;
    button.className = rep.told ? "told" : rep.partial ? "partial" : "";
    button.setAttribute("aria-label", `Repetition ${rep.number}${rep.told ? ", a cue speaks of it" : ""}`);
    button.addEventListener("click", () => {
      video.currentTime = rep.start;
      video.play().catch(() => undefined);
    });
    return button;
  });
  root.querySelector(".strip").replaceChildren(...buttons);
  video.ontimeupdate = () =>
    data.reps.forEach((rep, i) => {
      const now = video.currentTime >= rep.start && video.currentTime < rep.end;
      if (now) buttons[i].setAttribute("aria-current", "true");
      else buttons[i].removeAttribute("aria-current");
    });
}

export default function ({ parentElement, data }) {
  show(parentElement.querySelector(".plumb-result"), data);
}
