// A job's page: progress as it happens, and the table of solutions without a new page for every click.

import { renew } from "./fragment.js";
import { follow } from "./stream.js";
import { atLeast, leastOf, percent, pointsWords, secondsWords } from "./words.js";

const panel = () => document.getElementById("job");
const lost = document.getElementById("lost");
const EVERY = 1500; // ms between two looks at the solutions of a job that goes on

// The server's clock less ours [ms].
const ahead = Date.parse(panel().dataset.now) - Date.now();
let told = panel().dataset.told; // what decides how the head of the page looks
let over = panel().dataset.over === "yes";

function put(name, text) {
  const place = panel().querySelector(`[data-show="${name}"]`);
  if (place && place.textContent !== text) place.textContent = text;
}

function show(job) {
  put("finished", String(job.finished));
  put("best", percent(leastOf(job)));
  put("bound", atLeast(job.bound_worst_error_pct || null));
  if (job.kind === "sweep") {
    put("counts", pointsWords(job.points, job.total));
    const bar = panel().querySelector("progress");
    if (bar) bar.value = job.finished;
  }
  panel().dataset.began = job.began ?? "";
  panel().dataset.version = job.version;
  const now = `${job.state} ${job.stopping}`;
  if (told !== now) {
    told = now;
    renewHead();
  }
}

/** What the job is and what can be done with it, in the server's words. */
async function renewHead() {
  const before = panel().dataset.state;
  try {
    await renew(location.href, "job");
  } catch {
    told = ""; // the stream says that the service is away; what comes next shows it
    return;
  }
  ready();
  if (panel().dataset.state !== before) lost.textContent = `The job is now: ${panel().dataset.state}.`;
}

setInterval(() => {
  const began = Date.parse(panel().dataset.began);
  if (began) put("elapsed", secondsWords(Math.max(Date.now() + ahead - began, 0) / 1000));
}, 500);

function ready() {
  const copy = document.getElementById("copy");
  copy.hidden = !navigator.clipboard;
  copy.addEventListener("click", async () => {
    await navigator.clipboard.writeText(location.href);
    document.getElementById("copied").textContent = "Copied.";
  });
}
ready();

// -- the table ---------------------------------------------------------------------------------------------------------

let last = 0;
let soon = 0;
let control = null;

async function look(address) {
  clearTimeout(soon);
  soon = 0;
  last = performance.now();
  control?.abort();
  control = new AbortController();
  try {
    await renew(address, ["results", "choices"], control.signal);
    return true;
  } catch {
    return false;
  }
}

/** Someone who is typing in the table is not disturbed; it is looked at when they leave it. */
const busy = () => document.getElementById("results").contains(document.activeElement)
  && document.activeElement.matches("input:not([type=checkbox])");

function lookSoon() {
  if (soon) return;
  soon = setTimeout(() => {
    soon = 0;
    if (busy()) lookSoon();
    else look(location.href);
  }, Math.max(0, EVERY - (performance.now() - last)));
}

const FOCUS = { page: "table-name", "points-next": "points-head", "points-before": "points-head" }; // what comes into view, by the button that was pressed

document.addEventListener("submit", async (event) => {
  if (event.target.id !== "filter" || event.submitter?.hasAttribute("formaction")) return;
  event.preventDefault();
  const data = new FormData(event.target, event.submitter);
  const kept = new URLSearchParams();
  for (const [key, value] of data) {
    if (key === "by" || key === "points") kept.set(key, value); // the button that was pressed comes after the hidden field
    else if (value !== "") kept.append(key, value);
  }
  await go(`${location.pathname}?${kept}`, FOCUS[event.submitter?.id || event.submitter?.name] ?? "");
});

document.addEventListener("click", async (event) => {
  const link = event.target.closest("#results #clear");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  event.preventDefault();
  await go(link.getAttribute("href"), "apply");
});

async function go(address, focus) {
  const to = new URL(address, location.href).href;
  if (!(await look(to))) {
    location.assign(to);
    return;
  }
  history.pushState(null, "", to);
  const place = focus && document.getElementById(focus);
  if (place) {
    if (place.tabIndex < 0 && !place.hasAttribute("tabindex")) place.tabIndex = -1;
    place.focus();
  }
}

window.addEventListener("popstate", () => look(location.href));

// -- progress ----------------------------------------------------------------------------------------------------------

let close = null;

function attend() {
  if (close || over) return;
  let finished = Number(document.getElementById("results").dataset.finished);
  close = follow(panel().dataset.job, {
    job(job) {
      show(job);
      if (job.finished !== finished) {
        finished = job.finished;
        lookSoon();
      }
    },
    end() {
      close = null;
      over = true;
      renewHead();
      last = 0;
      clearTimeout(soon);
      soon = 0;
      lookSoon();
    },
    lost() { lost.textContent = "Connection lost, trying again."; },
    back() { lost.textContent = "Connected again."; },
  });
}

function rest() {
  close?.();
  close = null;
}

document.addEventListener("visibilitychange", () => (document.hidden ? rest() : attend()));
window.addEventListener("pagehide", rest);
window.addEventListener("pageshow", attend);
attend();
