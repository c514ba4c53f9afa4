// The server's clock, as far as this page knows it. Tablets' clocks are often wrong by minutes;
// waits are the server's, so everything that counts asks here.

const stamp = document.querySelector('meta[name="server-now"]')?.content;
let offset = stamp ? Date.parse(stamp) - Date.now() : 0;

// A page kept for hours, or brought back by the back button, carries an old stamp: every answer of
// the server has a Date header (whole seconds), which corrects an offset that is more than 2 s out.
document.addEventListener("htmx:afterRequest", (event) => {
  const date = Date.parse(event.detail.xhr?.getResponseHeader("Date") ?? "");
  if (Number.isFinite(date) && Math.abs(date - now()) > 2000) offset = date - Date.now();
});

/** Milliseconds since 1970 on the server's clock. */
export function now() {
  return Date.now() + offset;
}

/** Run `step` now, about every `ms`, and whenever the page is looked at again. */
export function every(ms, step) {
  step();
  setInterval(step, ms);
  document.addEventListener("visibilitychange", () => document.hidden || step());
  window.addEventListener("pageshow", step);
}
