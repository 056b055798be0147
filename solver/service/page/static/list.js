// The list of jobs, live. Browsers open only a few connections to one place, so at most two jobs are followed at a
// time: those being solved, then the one that waits longest. Whenever one changes its state, the list is taken anew.

import { renew } from "./fragment.js";
import { follow } from "./stream.js";
import { leastOf, percent } from "./words.js";

const MOST = 2;

export function liveList() {
  const lost = document.getElementById("lost");
  const following = new Map();

  function show(job) {
    const item = document.querySelector(`[data-job="${job.id}"]`);
    if (!item) return;
    const best = item.querySelector('[data-show="best"]'); // a job that was over without a solution has none
    if (best) best.textContent = percent(leastOf(job));
    const finished = item.querySelector('[data-show="finished"]'); // a sweep's
    if (finished) {
      finished.textContent = job.finished;
      item.querySelector("progress").value = job.finished;
    }
    if (item.dataset.state !== job.state) {
      item.dataset.state = job.state;
      refresh();
    }
  }

  let again = 0;
  function refresh() {
    clearTimeout(again);
    again = setTimeout(async () => {
      try {
        await renew(location.href, "jobs");
      } catch {
        return; // the streams say that the service is away, and come back
      }
      attend();
    }, 150);
  }

  function attend() {
    const open = [...document.querySelectorAll('#jobs [data-over="no"]')];
    const wanted = [
      ...open.filter((item) => item.dataset.state === "solving"),
      ...open.filter((item) => item.dataset.state !== "solving").reverse(),
    ].slice(0, MOST).map((item) => item.dataset.job);
    for (const [job, close] of following) {
      if (!wanted.includes(job)) {
        close();
        following.delete(job);
      }
    }
    for (const job of wanted) {
      if (following.has(job)) continue;
      following.set(job, follow(job, {
        job: show,
        end: () => { following.delete(job); refresh(); },
        lost: () => { lost.textContent = "Connection lost, trying again."; },
        back: () => { lost.textContent = ""; refresh(); },
      }));
    }
  }

  function rest() {
    for (const close of following.values()) close();
    following.clear();
  }

  document.addEventListener("visibilitychange", () => (document.hidden ? rest() : refresh()));
  window.addEventListener("pagehide", rest);
  // A page that comes back from the browser's own memory keeps what was typed; its list is old.
  window.addEventListener("pageshow", (event) => { if (event.persisted) refresh(); });
  attend();
}
