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
      off: element.querySelector(".off"),
      name: view.querySelector(`#names [data-ring="${element.dataset.ring}"]`),
    }));
    for (const body of this.bodies) body.beside = Number(body.disc.getAttribute("r")) + 8;
    this.back = false;
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
    this.view.dataset.turns = String(turns);
  }

  #body(body, turns) {
    const at = TURN * turned(body.phase, body.rate, turns);
    const should = TURN * turned(body.phase, body.trueRate, turns);
    const [x, y] = [body.radius * Math.cos(at), body.radius * Math.sin(at)];
    const [trueX, trueY] = [body.radius * Math.cos(should), body.radius * Math.sin(should)];
    body.disc.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)})`);
    body.true.setAttribute("transform", `translate(${trueX.toFixed(2)} ${trueY.toFixed(2)})`);
    body.off.setAttribute("d", arc(body, TURN * (body.rate - body.trueRate) * turns, [x, y], [trueX, trueY]));
    const shownX = this.back ? -x : x;
    const side = Math.abs(shownX) < 200 ? body.side : -Math.sign(shownX);
    if (side !== body.named) {
      body.named = side;
      body.name.setAttribute("text-anchor", side > 0 ? "start" : "end");
      body.name.setAttribute("x", String(side * body.beside));
    }
    body.name.setAttribute("transform", `translate(${shownX.toFixed(2)} ${(-y).toFixed(2)})`);
  }
}

/** Path data along the ring from where a body is to where it should be; a whole circle once that is a turn or more. */
function arc(body, error, [x, y], [trueX, trueY]) {
  const r = body.radius;
  if (Math.abs(error) * r < 0.5) return "";
  if (Math.abs(error) >= TURN) return `M${r} 0A${r} ${r} 0 1 0 ${-r} 0A${r} ${r} 0 1 0 ${r} 0`;
  const large = Math.abs(error) > Math.PI ? 1 : 0;
  const sweep = error > 0 ? 0 : 1; // from the body back to its true place
  return `M${x.toFixed(2)} ${y.toFixed(2)}A${r} ${r} 0 ${large} ${sweep} ${trueX.toFixed(2)} ${trueY.toFixed(2)}`;
}
