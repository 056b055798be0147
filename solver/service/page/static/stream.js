// Following one job's events. The browser comes back by itself when the connection breaks; where it gives up (the
// service was away, or answered with a fault) a new stream is opened after a while.

const PATIENCE = [500, 1000, 2000, 4000];

/**
 * Follow a job until it is over.
 * on.job(job): whenever it has changed; on.end(job): when it is over, once; on.lost(): the connection is gone, another is
 * being tried; on.back(): it is there again. Returns a function that ends it.
 */
export function follow(job, on) {
  const address = `/api/jobs/${encodeURIComponent(job)}/events`;
  let source = null;
  let timer = 0;
  let tries = 0;
  let lost = false;
  let last = null;
  let over = false;

  function heard() {
    tries = 0;
    if (lost) {
      lost = false;
      on.back();
    }
  }

  function open() {
    source = new EventSource(address);
    source.addEventListener("open", heard);
    source.addEventListener("progress", (event) => {
      heard();
      last = JSON.parse(event.data);
      on.job(last);
    });
    source.addEventListener("end", () => {
      heard();
      close();
      on.end(last);
    });
    source.addEventListener("error", () => {
      if (over) return;
      if (!lost) {
        lost = true;
        on.lost();
      }
      if (source.readyState === EventSource.CLOSED) {
        clearTimeout(timer);
        timer = setTimeout(open, PATIENCE[Math.min(tries, PATIENCE.length - 1)]);
        tries += 1;
      }
    });
  }

  function close() {
    over = true;
    clearTimeout(timer);
    if (source) source.close();
  }

  open();
  return close;
}
