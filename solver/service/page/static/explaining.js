// Why nothing fits: on the page of a design it is asked for at once and shown in its place, step by step.

import { renew } from "./fragment.js";

const LOOK = 600; // ms between two looks at how far it is

const said = document.createElement("p"); // what is replaced would be read out again and again
said.className = "hidden";
said.setAttribute("role", "status");
document.getElementById("main").append(said);

let timer = 0;
let under = null; // the section that is attended to
let fails = 0;
const begun = new Set(); // addresses: it is asked for once, whatever comes of it

function say(section) {
  const text = section.dataset.state === "working" ? "It is being found out why nothing fits" : section.dataset.told;
  if (text && said.textContent !== text) said.textContent = text;
}

async function begin(section) {
  const address = section.dataset.begin;
  if (!address || begun.has(address)) return;
  begun.add(address);
  try {
    const answer = await fetch(address, { method: "POST", headers: { Accept: "application/json" } });
    if (!answer.ok) return; // the button is there
  } catch {
    return;
  }
  await look();
}

async function look() {
  clearTimeout(timer);
  const old = document.getElementById("explanation");
  if (!old || document.hidden) return;
  try {
    const fresh = await renew(old.dataset.address, "explanation");
    if (fresh) under = fresh;
    fails = 0;
  } catch {
    fails += 1;
  }
  const section = document.getElementById("explanation");
  if (!section) return;
  say(section);
  if (going(section)) later();
}

const going = (section) => ["waiting", "working"].includes(section.dataset.state);

function later() {
  clearTimeout(timer);
  if (fails < 20) timer = setTimeout(look, LOOK);
}

/** The section comes and goes with the part of the page that it is in. */
function attend() {
  const section = document.getElementById("explanation");
  if (!section || section === under) return;
  under = section;
  if (section.dataset.begin) begin(section);
  else if (going(section)) later();
}

new MutationObserver(attend).observe(document.getElementById("main"), { childList: true, subtree: true });
document.addEventListener("visibilitychange", () => {
  const section = document.getElementById("explanation");
  if (!document.hidden && section && going(section)) look();
});
attend();
