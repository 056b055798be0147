// The clock of a model: how many turns its first body has made, running or standing.

/** Turns of the first body. speed: turns a second; changed(turns): after every change. */
export class Clock {
  turns = 0;
  speed = 0.25;
  running = false;
  #last = 0;

  constructor(changed) {
    this.changed = changed;
  }

  set(turns) {
    if (!Number.isFinite(turns)) return;
    this.turns = turns;
    this.changed(turns);
  }

  play() {
    if (this.running) return;
    this.running = true;
    this.#last = performance.now();
    requestAnimationFrame((now) => this.#frame(now));
  }

  pause() {
    this.running = false;
  }

  /** One frame; after a long pause (another window was in front) the model goes on from where it was. */
  #frame(now) {
    if (!this.running) return;
    const seconds = Math.min(Math.max(now - this.#last, 0), 250) / 1000;
    this.#last = now;
    this.set(this.turns + this.speed * seconds);
    requestAnimationFrame((later) => this.#frame(later));
  }
}

/** Where something stands [turns, from 0 to 1] that turns so often for one turn of the first body. */
export function turned(phase, rate, turns) {
  const all = phase + rate * turns;
  return all - Math.floor(all);
}
