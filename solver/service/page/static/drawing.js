// The drawing of a model: outlines are made by the server, once; a frame sets one transform for each part.

import { turned } from "./clock.js";

const TURN = 2 * Math.PI;

export class Drawing {
  constructor(view) {
    this.view = view;
    this.upward = view.getElementById("upward");
    this.levels = view.getElementById("levels");
    this.parts = [...view.querySelectorAll(".turns")].map((element) => ({
      element,
      level: Number(element.dataset.level),
      rate: Number(element.dataset.rate),
      phase: Number(element.dataset.phase),
    }));
    this.bodies = [...view.querySelectorAll(".body")].map((element) => ({
      ring: element.dataset.ring,
      radius: Number(element.dataset.radius),
      rate: Number(element.dataset.rate),
      trueRate: Number(element.dataset.trueRate),
      phase: Number(element.dataset.phase),
      side: Number(element.dataset.side),
      disc: element.querySelector(".disc"),
      true: element.querySelector(".true"),
      sky: element.querySelector(".sky"),
      strays: 0, // how far the mean place has left its even motion [turns]
      off: element.querySelector(".off"),
      name: view.querySelector(`#names [data-ring="${element.dataset.ring}"]`),
    }));
    for (const body of this.bodies) body.beside = Number(body.disc.getAttribute("r")) + 8;
    this.back = false;
    this.ahead = () => null; // how far a body's true place is ahead of its mean one [turns], after so many turns
  }

  /**
   * Let every ring stand at a place [turns], innermost first, after so many turns of the first body. Gears go with
   * their rings, in mesh; so do the bodies.
   */
  stand(places, turns) {
    const moves = this.parts
      .filter(({ element }) => element.dataset.part === "ring")
      .map(({ level, phase, rate }) => ({ level, rate, by: short(places[level] - turned(phase, rate, turns)) }));
    const byLevel = new Map(moves.map((move) => [move.level, move]));
    for (const part of this.parts) {
      const { by, rate } = byLevel.get(part.level);
      part.phase += (by * part.rate) / rate;
    }
    for (const body of this.bodies) body.phase += byLevel.get(Number(body.ring)).by;
  }

  /** Where a body should be by its mean motion [turns, from 0 to 1], and where it truly is; null where not known. */
  mean(body, turns) {
    return turned(body.phase + body.strays, body.trueRate, turns);
  }

  truly(body, turns) {
    const ahead = this.ahead(body, turns);
    return ahead === null ? null : turned(this.mean(body, turns) + ahead, 0, 0);
  }

  /** Show the model from the front or from the back: mirrored, and what was far is near. */
  seenFrom(back) {
    if (back === this.back) return;
    this.back = back;
    this.upward.setAttribute("transform", back ? "scale(-1 -1)" : "scale(1 -1)");
    this.levels.append(...[...this.levels.children].reverse());
  }

  /** Where everything stands after so many turns of the first body. */
  show(turns) {
    for (const { element, rate, phase } of this.parts) {
      element.setAttribute("transform", `rotate(${(360 * turned(phase, rate, turns)).toFixed(4)})`);
    }
    for (const body of this.bodies) this.#body(body, turns);
    this.#names();
    this.view.dataset.turns = String(turns);
  }

  #body(body, turns) {
    const at = TURN * turned(body.phase, body.rate, turns);
    const should = TURN * this.mean(body, turns);
    const [x, y] = [body.radius * Math.cos(at), body.radius * Math.sin(at)];
    const [trueX, trueY] = [body.radius * Math.cos(should), body.radius * Math.sin(should)];
    body.disc.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)})`);
    body.true.setAttribute("transform", `translate(${trueX.toFixed(2)} ${trueY.toFixed(2)})`);
    body.off.setAttribute("d", arc(body, TURN * error(body, turns), [x, y], [trueX, trueY]));
    if (body.sky) {
      const truly = TURN * (this.truly(body, turns) ?? 0);
      const [skyX, skyY] = [body.radius * Math.cos(truly), body.radius * Math.sin(truly)];
      body.sky.setAttribute("transform", `translate(${skyX.toFixed(2)} ${skyY.toFixed(2)})`);
    }
    body.shown = [this.back ? -x : x, -y];
  }

  /** Names beside their bodies: to the side where there is room, and a line lower where another name stands. */
  #names() {
    if (!this.bodies.length) return;
    const letters = parseFloat(getComputedStyle(this.bodies[0].name).fontSize);
    const { x: west, width } = this.view.viewBox.baseVal;
    const placed = [];
    for (const body of [...this.bodies].sort((one, other) => one.shown[1] - other.shown[1])) {
      if (body.letters !== letters) [body.letters, body.long] = [letters, body.name.getComputedTextLength()];
      const [x, high] = body.shown;
      const far = body.beside + body.long;
      let side = Math.abs(x) < 200 ? body.side : -Math.sign(x);
      if (x + side * far < west || x + side * far > west + width) side = -side;
      const [left, right] = side > 0 ? [x, x + far] : [x - far, x];
      let y = high;
      for (const one of placed) {
        if (left < one.right && right > one.left && y - one.y < letters) y = Math.max(y, one.y + letters);
      }
      placed.push({ left, right, y });
      if (side !== body.named) {
        body.named = side;
        body.name.setAttribute("text-anchor", side > 0 ? "start" : "end");
        body.name.setAttribute("x", String(side * body.beside));
      }
      body.name.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)})`);
    }
  }
}

const short = (turn) => turn - Math.round(turn);

/** How far a body is ahead of where it should be [turns], whole ones counted. */
export const error = (body, turns) => (body.rate - body.trueRate) * turns - body.strays;

/** Path data along the ring from where a body is to where it should be; a whole circle once that is a turn or more. */
function arc(body, error, [x, y], [trueX, trueY]) {
  const r = body.radius;
  if (Math.abs(error) * r < 0.5) return "";
  if (Math.abs(error) >= TURN) return `M${r} 0A${r} ${r} 0 1 0 ${-r} 0A${r} ${r} 0 1 0 ${r} 0`;
  const large = Math.abs(error) > Math.PI ? 1 : 0;
  const sweep = error > 0 ? 0 : 1; // from the body back to its true place
  return `M${x.toFixed(2)} ${y.toFixed(2)}A${r} ${r} 0 ${large} ${sweep} ${trueX.toFixed(2)} ${trueY.toFixed(2)}`;
}
