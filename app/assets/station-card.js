// Whose card is held up to a station, for as long as that person stays; what the studio is asked for it.

const EVERY_MS = 1000;
// So long after it was shown a card waits for its owner to sit down.
const WALK_MS = 45_000;

export class Ended extends Error {}

// An answer of the studio; ``Ended`` where this phone is no station any more.
export async function ask(path, body) {
  const answer = await fetch(`/station/${path}`, { method: body ? "POST" : "GET", body, cache: "no-store" });
  if (answer.status === 401) throw new Ended(await answer.text());
  if (!answer.ok) throw new Error(await answer.text());
  return answer.json();
}

export class Card {
  shown = null;
  trained = false;
  asked_at = -EVERY_MS;

  // Send a still, once a second; take: gives it as a blob. Gives whether a card was read.
  async read(take, at) {
    if (this.shown || this.asking || at - this.asked_at < EVERY_MS) return false;
    this.asking = true;
    try {
      const answer = await ask("card", await take());
      if (answer.read) Object.assign(this, { shown: answer, shown_at: at, trained: false });
    } finally {
      this.asking = false;
      this.asked_at = at;
    }
    return Boolean(this.shown);
  }

  async answer(pain) {
    this.shown = { ...this.shown, ...(await ask("pain", JSON.stringify({ shown: this.shown.shown, pain }))) };
  }

  // The seat is empty: whoever has just shown a card is on the way to it. Who has trained is gone, so that the
  // next one never trains under that name.
  empty(at) {
    if (this.trained || at - this.shown_at > WALK_MS) this.shown = null;
  }

  get stopped() {
    return Boolean(this.shown?.stopped);
  }
}
