// Turning the model by a ring: with the mouse, a pen or a finger.

const TURN = 2 * Math.PI;
const SLACK = 6; // how far a finger goes before it turns anything [px]: until then it may become scrolling, or two fingers

/**
 * Let the rings of a drawing be dragged. clock: what they turn; began(), ended(turns): around it.
 * A ring goes with the finger, and everything else with it by the gears; so a slow ring turns the others fast.
 * A finger turns by going sideways; the browser takes what goes up and down, or two fingers (touch-action of the
 * drawing), and says so by "pointercancel".
 */
export function dragged(drawing, clock, began, ended) {
  const { view } = drawing;
  let held = null;

  function angle(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(drawing.upward.getScreenCTM().inverse());
    return Math.atan2(at.y, at.x) / TURN; // y upwards, and as from the front
  }

  view.addEventListener("pointerdown", (event) => {
    if (!event.isPrimary) { // a second finger: neither turns
      release(true);
      return;
    }
    const part = ringOf(event.target);
    if (!part || event.button > 0) return;
    const finger = event.pointerType === "touch";
    held = { rate: Number(part.dataset.rate), at: angle(event), part, pointer: event.pointerId, x: event.clientX, y: event.clientY, turns: clock.turns, begun: false };
    if (finger) return;
    begin(event);
    event.preventDefault();
  });

  function begin(event) {
    held.begun = true;
    view.setPointerCapture(event.pointerId);
    held.part.classList.add("held");
    began();
    document.getElementById("stage").focus({ preventScroll: true });
  }

  /** Let go. back: to where the model was when it was taken hold of. */
  function release(back = false) {
    if (!held) return;
    const { begun, part, turns } = held;
    part.classList.remove("held");
    held = null;
    if (!begun) return;
    if (back) clock.set(turns);
    ended();
  }

  /** The ring that is taken hold of; a body is held by its ring. */
  function ringOf(target) {
    const body = target.closest(".body");
    return body ? view.querySelector(`.ring[data-ring="${body.dataset.ring}"]`) : target.closest(".ring");
  }

  view.addEventListener("pointermove", (event) => {
    if (!held || event.pointerId !== held.pointer) return;
    if (!held.begun) {
      if (Math.hypot(event.clientX - held.x, event.clientY - held.y) < SLACK) return;
      begin(event);
    }
    const now = angle(event);
    let by = now - held.at;
    by -= Math.round(by); // the short way round
    held.at = now;
    clock.set(clock.turns + by / held.rate);
  });

  for (const name of ["pointerup", "pointercancel"]) {
    view.addEventListener(name, (event) => {
      if (!held || event.pointerId !== held.pointer) return;
      release(name === "pointercancel");
    });
  }
}
