// The date of a model: set to one, run to one, and shown as it runs.

import { asked, Sky, typed } from "./sky.js";

const REST_MS = 400; // after the last move the server is asked for the exact places
const RUNNING_MS = 4000; // and so often while it runs

/**
 * The panel of the date. clock: turns of the first body since the setting; moved(turns): pause and go there, quietly;
 * settled(): say where it stands; redraw(): what is told of the sky has changed.
 */
export class Dating {
  #control = null;
  #going = false; // the server is asked for a date that was typed
  #timer = 0;
  #asked = 0;

  constructor(place, drawing, clock, { moved, settled, redraw }) {
    Object.assign(this, { drawing, clock, moved, settled, redraw });
    this.address = `${place.dataset.address}/sky`;
    this.sky = new Sky(JSON.parse(place.dataset.sky));
    this.firstDays = this.sky.told.first_days_float;
    this.field = document.getElementById("date");
    this.fault = document.getElementById("e-date");
    this.beyond = document.getElementById("beyond");
    this.shown = Object.fromEntries(["now", "set-at", "days"].map((id) => [id, document.getElementById(id)]));
    document.getElementById("set-to").addEventListener("click", () => this.#go(this.field.value.trim(), false));
    document.getElementById("run-to").addEventListener("click", () => this.#go(this.field.value.trim(), true));
    document.getElementById("set-now").addEventListener("click", () => {
      this.#stop();
      this.setNow();
      this.settled();
    });
    this.field.addEventListener("keydown", (event) => {
      if (event.key === "Enter") this.#go(this.field.value.trim(), false);
    });
    this.field.addEventListener("input", () => this.#refused(""));
    drawing.ahead = (body, turns) => this.sky.ahead(body.ring, this.at(turns));
    this.#placed(this.sky.told.days_float, this.sky.told.date_utc, this.sky.told.ring_turns);
  }

  /** The moment that the model shows after so many turns [TT days since J2000.0]. */
  at(turns) {
    return this.setDays + turns * this.firstDays;
  }

  /** The date that it was set to and the one that it shows, as the server reads them. */
  get dates() {
    return { set: this.setText, shown: this.sky.iso(this.at(this.clock.turns)) };
  }

  /** Set to this second, without asking anybody; the server's exact places follow when it is at rest. */
  setNow() {
    const now = Math.floor(Date.now() / 1000) * 1000;
    this.#refused("");
    this.field.value = new Date(now).toISOString().replace(".000Z", "Z");
    this.#setAlone(this.sky.days(now), this.field.value);
  }

  /** Write what a number of turns means. */
  write(turns) {
    this.shown.now.textContent = this.sky.text(this.at(turns));
    this.shown.days.textContent = (turns * this.firstDays).toFixed(2);
    this.#refresh();
  }

  /** Where it stands, in words. */
  words(turns) {
    const days = turns * this.firstDays;
    return `Shows ${this.sky.text(this.at(turns))}, ${Math.abs(days).toFixed(1)} days ${days < 0 ? "before" : "after"} its setting.`;
  }

  // -- going to a date -------------------------------------------------------------------------------------------------

  async #go(text, running) {
    if (!text) return this.#refused("type a date first");
    this.#stop();
    const control = (this.#control = new AbortController());
    this.#refused("");
    this.#going = true;
    try {
      const { ok, body } = await asked(this.address, { date: text, set: running ? this.setText : "" }, control.signal);
      if (!ok) return this.#refused(body.detail ?? "this did not work");
      if (running) this.#runTo(body.days_float, body);
      else this.#setTo(body, text);
      this.settled();
    } catch (fault) {
      if (fault.name !== "AbortError") this.#alone(text, running);
    } finally {
      if (this.#control === control) this.#going = false;
    }
  }

  /** Without the server: by the rates that are known here. */
  #alone(text, running) {
    const at = typed(text);
    if (at === null) return this.#refused("the service cannot be reached, and without it only dates like 2026-12-24T18:00Z are read");
    const days = this.sky.days(at);
    if (running) this.#runTo(days, null);
    else this.#setAlone(days, text);
    this.settled();
    this.beyond.textContent = `The service cannot be reached: places are by the mean rates from ${this.sky.told.date_utc.slice(0, 10)} on.`;
  }

  #setTo(told, text) {
    this.sky.take(told);
    this.field.value = told.date_utc;
    this.#placed(told.days_float, text, told.ring_turns);
    this.moved(0);
  }

  #setAlone(days, text) {
    const places = [...this.sky.told.ring_turns];
    for (const ring of this.sky.bodies.keys()) places[ring] = this.sky.mean(ring, days);
    this.#placed(days, text, places);
    this.moved(0);
  }

  /** told: what the server says of that moment, with every ring's place by its exact ratio; null without it. */
  #runTo(days, told) {
    const turns = (days - this.setDays) / this.firstDays;
    if (told) {
      this.drawing.stand(told.ring_turns, turns);
      this.#take(told, turns);
    }
    this.moved(turns);
  }

  /** Every ring stands where it should at its setting. */
  #placed(days, text, places) {
    this.setDays = days;
    this.setText = text;
    this.drawing.stand(places, 0);
    for (const body of this.drawing.bodies) body.strays = 0;
    this.shown["set-at"].textContent = this.sky.text(days);
  }

  #refused(said) {
    this.fault.textContent = said;
    if (said) this.field.setAttribute("aria-invalid", "true");
    else this.field.removeAttribute("aria-invalid");
  }

  // -- the exact places --------------------------------------------------------------------------------------------------

  #stop() {
    clearTimeout(this.#timer);
    this.#control?.abort();
    this.#going = false;
  }

  /** Ask the server a moment after the last change, and now and then while it runs. */
  #refresh() {
    if (this.clock.running) {
      const now = performance.now();
      if (now - this.#asked < RUNNING_MS) return;
      this.#asked = now;
      this.#exact();
      return;
    }
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#exact(), REST_MS);
  }

  async #exact() {
    const turns = this.clock.turns;
    const date = this.sky.iso(this.at(turns));
    if (this.#going || date === this.sky.told.date_utc) return;
    this.#stop();
    const control = (this.#control = new AbortController());
    try {
      const { ok, body } = date
        ? await asked(this.address, { date, set: this.setText }, control.signal)
        : { ok: false, body: { detail: "beyond the calendar" } };
      this.beyond.textContent = ok ? "" : `${body.detail}. Marks go on at their mean rates.`;
      if (!ok) return;
      this.#take(body, (body.days_float - this.setDays) / this.firstDays);
      this.redraw();
    } catch {
      // Asked anew at the next change; until then what is known goes on.
    }
  }

  /** What the server says of the moment after so many turns. */
  #take(told, turns) {
    this.sky.take(told);
    for (const body of this.drawing.bodies) body.strays = this.sky.strayed(body.ring, body.phase + body.trueRate * turns);
  }
}
