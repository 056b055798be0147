// A job's page: progress as it happens, and the table of solutions without a new page for every click.

import { renew } from "./fragment.js";
import { follow } from "./stream.js";
import { percent, pointsWords, states } from "./words.js";

const panel = document.getElementById("job");
const lost = document.getElementById("lost");
const EVERY = 1500; // ms between two looks at the solutions of a job that goes on

function show(job) {
  const put = (name, text) => {
    const place = panel.querySelector(`[data-show="${name}"]`);
    if (place.textContent !== text) place.textContent = text;
  };
  put("finished", String(job.finished));
  put("best", percent(job.best_worst_error_pct));
  put("counts", pointsWords(job.points, job.total));
  put("reason", job.reason ?? "");
  put("state", states[job.state]);
  panel.querySelector('[data-show="state"]').className = `state state-${job.state}`;
  panel.querySelector("progress").value = job.finished;
  for (const form of panel.querySelectorAll("[data-when]")) form.hidden = !form.dataset.when.split(" ").includes(job.state);
  panel.dataset.version = job.version;
  if (panel.dataset.state !== job.state) {
    panel.dataset.state = job.state;
    lost.textContent = `The job is ${states[job.state]}.`;
  }
}

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
    await renew(address, "results", control.signal);
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

const FOCUS = { page: "table-name" }; // what comes into view, by the button that was pressed

document.addEventListener("submit", async (event) => {
  if (event.target.id !== "filter" || event.submitter?.hasAttribute("formaction")) return;
  event.preventDefault();
  const data = new FormData(event.target, event.submitter);
  const kept = new URLSearchParams();
  for (const [key, value] of data) {
    if (key === "by") kept.set(key, value); // the button that was pressed comes after the hidden field
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
  if (close || panel.dataset.over === "yes") return;
  let finished = Number(document.getElementById("results").dataset.finished);
  close = follow(panel.dataset.job, {
    job(job) {
      show(job);
      if (job.finished !== finished) {
        finished = job.finished;
        lookSoon();
      }
    },
    end() {
      close = null;
      panel.dataset.over = "yes";
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
