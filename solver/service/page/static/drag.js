// Turning the model by a ring: with the mouse, a pen or a finger.

const TURN = 2 * Math.PI;

/**
 * Let the rings of a drawing be dragged. clock: what they turn; began(), ended(turns): around it.
 * A ring goes with the finger, and everything else with it by the gears; so a slow ring turns the others fast.
 */
export function dragged(drawing, clock, began, ended) {
  const { view } = drawing;
  let held = null;

  function angle(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(drawing.upward.getScreenCTM().inverse());
    return Math.atan2(at.y, at.x) / TURN; // y upwards, and as from the front
  }

  view.addEventListener("pointerdown", (event) => {
    const part = ringOf(event.target);
    if (!part || event.button > 0) return;
    held = { rate: Number(part.dataset.rate), at: angle(event), part, pointer: event.pointerId };
    view.setPointerCapture(event.pointerId);
    part.classList.add("held");
    began();
    event.preventDefault();
    document.getElementById("stage").focus({ preventScroll: true });
  });

  // A finger on a ring turns it and does not scroll the page. (touch-action does not hold for parts of a drawing in
  // every browser.) Beside the rings it scrolls as ever.
  view.addEventListener("touchstart", (event) => {
    if (event.touches.length === 1 && ringOf(event.target)) event.preventDefault();
  }, { passive: false });

  /** The ring that is taken hold of; a body is held by its ring. */
  function ringOf(target) {
    const body = target.closest(".body");
    return body ? view.querySelector(`.ring[data-ring="${body.dataset.ring}"]`) : target.closest(".ring");
  }

  view.addEventListener("pointermove", (event) => {
    if (!held || event.pointerId !== held.pointer) return;
    const now = angle(event);
    let by = now - held.at;
    by -= Math.round(by); // the short way round
    held.at = now;
    clock.set(clock.turns + by / held.rate);
  });

  for (const name of ["pointerup", "pointercancel"]) {
    view.addEventListener(name, (event) => {
      if (!held || event.pointerId !== held.pointer) return;
      held.part.classList.remove("held");
      held = null;
      ended();
    });
  }
}
