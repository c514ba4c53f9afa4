// A tablet that nobody touches locks itself: form#lock-form[data-idle-minutes] is sent, the same form
// as "Tap to change person". Reckoned from timestamps, so a tablet that slept locks when it wakes.
import { every } from "./clock.js";
import { say } from "./words.js";

const WARN_MS = 30_000;
const KEY = "labflow-last-touch";
let last = Date.now();

/** Several pages of one tablet share the last touch. */
function touched() {
  last = Date.now();
  try {
    localStorage.setItem(KEY, String(last));
  } catch {
    // Storage may be forbidden: then each page keeps its own time.
  }
}

function lastTouch() {
  try {
    return Math.max(last, Number(localStorage.getItem(KEY) ?? 0));
  } catch {
    return last;
  }
}

for (const touch of ["pointerdown", "keydown", "wheel"]) document.addEventListener(touch, touched, { passive: true });
document.addEventListener("visibilitychange", look);

function look() {
  const form = document.querySelector("form[data-idle-minutes]");
  const minutes = Number(form?.dataset.idleMinutes);
  if (!form || !minutes) return;
  const left = lastTouch() + minutes * 60_000 - Date.now();
  const warning = document.getElementById("idle-warning");
  if (warning) {
    const near = left > 0 && left <= WARN_MS;
    warning.hidden = !near;
    const text = near ? say("locks-soon", { n: Math.ceil(left / 5000) * 5 }) : "";
    if (warning.textContent !== text) warning.textContent = text;
  }
  if (left > 0 || form.dataset.sent) return;
  form.elements.how.value = "idle";
  form.requestSubmit();
}

every(1000, look);
