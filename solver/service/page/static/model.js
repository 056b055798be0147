// The page of a model that turns: clock, drawing, hand, table and controls put together.

import { Clock } from "./clock.js";
import { dragged } from "./drag.js";
import { Dating } from "./dating.js";
import { Drawing, error } from "./drawing.js";
import { meetings } from "./meetings.js";
import { turned } from "./clock.js";
import { degrees } from "./words.js";

const place = document.getElementById("turning");
const stage = document.getElementById("stage");
const first = place.dataset.first;
const days = Number(place.dataset.days);
const drawing = new Drawing(document.getElementById("view"));
const control = Object.fromEntries(
  ["play", "back", "step", "start", "speed", "speed-told", "turns", "step-size", "date", "days", "now", "side", "told", "as-built", "days-a-second"]
    .map((id) => [id, document.getElementById(id)]),
);
const TABLE_MS = 100; // the table may be read while it changes
const HUNDREDTH = 0.01;

const clock = new Clock(changed);
const dating = place.dataset.sky
  ? new Dating(place, drawing, clock, { moved: quietly, settled: tell, redraw: () => changed(clock.turns) })
  : null;
let written = 0;
let fromHand = false;

function changed(turns) {
  drawing.show(turns);
  const now = performance.now();
  if (!clock.running || now - written >= TABLE_MS) {
    written = now;
    write(turns);
  }
}

// -- figures -----------------------------------------------------------------------------------------------------------

const rows = new Map(
  [...document.querySelectorAll("#angles tbody tr")].map((row) => [
    row.dataset.ring,
    Object.fromEntries([...row.querySelectorAll("[data-show]")].map((cell) => [cell.dataset.show, cell])),
  ]),
);

function write(turns) {
  for (const body of drawing.bodies) {
    const cells = rows.get(body.ring);
    cells.angle.textContent = degrees(shown(turned(body.phase, body.rate, turns)));
    cells.true.textContent = degrees(shown(drawing.mean(body, turns)));
    if (cells.sky) {
      const truly = drawing.truly(body, turns);
      cells.sky.textContent = truly === null ? "–" : degrees(shown(truly));
    }
    cells.error.textContent = off(body, turns);
  }
  if (document.activeElement !== control.turns || clock.running || fromHand) control.turns.value = rounded(turns);
  if (dating) dating.write(turns);
  else if (days) {
    control.days.textContent = (turns * days).toFixed(2);
    control.now.textContent = dateAfter(turns * days);
  }
  stage.setAttribute("aria-valuenow", String(Number(turns.toFixed(2))));
  if (!clock.running) {
    const date = dating ? `, ${control.now.textContent}` : "";
    stage.setAttribute("aria-valuetext", `${turns.toFixed(2)} turns of ${first}${date}`);
  }
}

/** Degrees that round to 360.0 are 0.0. */
const shown = (turn) => (turn * 360 >= 359.95 ? 0 : turn * 360);

/** How far a body is from its true place, in the way it turns: ahead of it or behind. */
function off(body, turns) {
  const ahead = 360 * error(body, turns) * Math.sign(body.rate);
  const text = degrees(Math.abs(ahead));
  return text === "0.0°" ? text : `${text} ${ahead > 0 ? "ahead" : "behind"}`;
}

const rounded = (turns) => String(Number(turns.toFixed(4)));

function dateAfter(count) {
  const start = Date.parse(control.date.value); // midnight, world time
  const at = new Date(start + count * 86_400_000);
  return Number.isNaN(at.getTime()) ? "beyond the calendar" : at.toISOString().replace(/T.*/, "").replace(/^\+0*/, "");
}

/** One sentence for those who cannot see the drawing, said when it comes to rest. */
function tell() {
  let worst = null;
  for (const body of drawing.bodies) {
    const size = Math.abs(error(body, clock.turns));
    if (!worst || size > worst.size) worst = { size, body };
  }
  const said = dating ? dating.words(clock.turns) : `Stands at ${clock.turns.toFixed(2)} turns of ${first}.`;
  const name = worst.body.name.textContent;
  const where = dating ? "mean" : "true";
  control.told.textContent = `${said} Farthest from its ${where} place: ${name}, ${off(worst.body, clock.turns)}.`;
}

// -- controls ----------------------------------------------------------------------------------------------------------

function play() {
  control.told.textContent = "";
  clock.play();
  control.play.textContent = "Pause";
}

function pause(quiet = false) {
  clock.pause();
  control.play.textContent = "Play";
  write(clock.turns);
  if (!quiet) tell();
}

function quietly(to) {
  fromHand = true;
  pause(true);
  clock.set(to);
  fromHand = false;
}

function move(to) {
  quietly(to);
  tell();
}

control.play.addEventListener("click", () => (clock.running ? pause() : play()));
control.step.addEventListener("click", () => move(clock.turns + stepSize()));
control.back.addEventListener("click", () => move(clock.turns - stepSize()));
control.start.addEventListener("click", () => move(0));

function stepSize() {
  const size = Number(control["step-size"].value);
  return Number.isFinite(size) && size > 0 ? size : 0.05;
}

control.turns.addEventListener("input", () => {
  const turns = Number(control.turns.value);
  if (control.turns.value === "" || !Number.isFinite(turns)) return;
  if (clock.running) pause(true);
  clock.set(turns);
});
control.turns.addEventListener("change", () => {
  control.turns.value = rounded(clock.turns);
  tell();
});

function speed() {
  const perSecond = 10 ** Number(control.speed.value);
  clock.speed = perSecond;
  if (dating) control["days-a-second"].value = String(Number((perSecond * days).toPrecision(3)));
  tellSpeed(perSecond);
}

function tellSpeed(perSecond) {
  const told = Number(Number(perSecond).toPrecision(2));
  control["speed-told"].textContent = String(told);
  control.speed.setAttribute("aria-valuetext", `${told} turns of ${first} a second`);
}

control.speed.addEventListener("input", speed);
control["as-built"]?.addEventListener("click", () => {
  control.speed.value = String(Math.log10(1 / Number(place.dataset.seconds)));
  speed();
});

if (dating) {
  control["days-a-second"].addEventListener("change", () => {
    const perSecond = Number(control["days-a-second"].value) / days;
    if (!Number.isFinite(perSecond) || perSecond <= 0) return speed();
    control.speed.value = String(Math.log10(perSecond)); // as near as the slider goes
    const typed = control["days-a-second"].value;
    speed();
    control["days-a-second"].value = typed;
    clock.speed = perSecond;
    tellSpeed(perSecond);
  });
  meetings(place, dating);
}

function side() {
  drawing.seenFrom(control.side.value === "back");
  drawing.show(clock.turns);
}

control.side.addEventListener("change", side);

if (days && !dating) {
  const today = new Date();
  control.date.value ||= new Date(today.getTime() - today.getTimezoneOffset() * 60_000).toISOString().slice(0, 10);
  control.date.addEventListener("input", () => write(clock.turns));
}

stage.addEventListener("keydown", (event) => {
  const by = {
    ArrowRight: HUNDREDTH, ArrowUp: HUNDREDTH, ArrowLeft: -HUNDREDTH, ArrowDown: -HUNDREDTH, PageUp: 1, PageDown: -1,
  }[event.key];
  if (event.altKey || event.ctrlKey || event.metaKey) return;
  if (by !== undefined) move(Number((clock.turns + by).toFixed(9)));
  else if (event.key === "Home") move(0);
  else if (event.key === " ") (clock.running ? pause : play)();
  else return;
  event.preventDefault();
});

let ranBefore = false;
dragged(
  drawing,
  clock,
  () => {
    ranBefore = clock.running;
    fromHand = true;
    pause(true);
  },
  () => {
    fromHand = false;
    if (ranBefore) play();
    else tell();
  },
);

/** Do what the controls say: a browser may have put back what was chosen before. */
function settle() {
  speed();
  side();
  write(clock.turns);
}

if (dating) dating.setNow();
else clock.set(Number(control.turns.value) || 0); // a browser that reloads keeps what was typed
settle();
window.addEventListener("pageshow", settle);
// A model that shows a date stays there until it is asked to run.
if (!dating && !window.matchMedia("(prefers-reduced-motion: reduce)").matches) play();
