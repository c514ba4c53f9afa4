// Taking a case: a wedge scanner types its code in a burst and ends with Enter; a camera reads it
// where the browser can, and otherwise takes a photograph that the server reads.
import { say } from "./words.js";

const BURST_MS = 35;      // between two keys of a scanner; people are slower than 60
const BURST_LENGTH = 6;   // shorter bursts are not case numbers
const TWICE_MS = 2000;    // the same code within this is one scan
const TEXT = "input:not([type=radio], [type=checkbox], [type=button], [type=submit], [type=file]), textarea, select, [contenteditable=true]";

let burst = "";
let lastKey = 0;
let lastCode = { code: "", at: 0 };

const scanForm = () => document.querySelector("form[data-scan]");
const fieldOf = (form) => form?.querySelector("[data-scan-field]");

/** A scanner types wherever the focus is: a burst outside text fields goes to the scan field. */
document.addEventListener("keydown", (event) => {
  const form = scanForm();
  if (!form || event.ctrlKey || event.metaKey || event.altKey || event.target.matches?.(TEXT)) return;
  const quick = event.timeStamp - lastKey <= BURST_MS;
  lastKey = event.timeStamp;
  if (event.key === "Enter") {
    if (quick && burst.length >= BURST_LENGTH) {
      event.preventDefault();
      take(form, burst);
    }
    burst = "";
  } else if (event.key.length === 1) {
    burst = quick ? burst + event.key : event.key;
  }
});

function take(form, code) {
  const field = fieldOf(form);
  if (!field) return;
  field.value = code.trim();
  form.requestSubmit();
}

// Before once.js: a second reading of the same code within two seconds is said, not sent.
window.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches?.("form[data-scan]")) return;
  const code = fieldOf(form)?.value.trim() ?? "";
  const at = Date.now();
  if (code && code === lastCode.code && at - lastCode.at < TWICE_MS) {
    event.preventDefault();
    event.stopImmediatePropagation();
    const line = form.querySelector("[data-form-state]");
    if (line) line.textContent = say("scan-twice", { code });
    return;
  }
  lastCode = { code, at };
}, true);

/** The scan field keeps the focus, unless a person is in another field or on a touch keyboard. */
function refocus() {
  const field = fieldOf(scanForm());
  const busy = document.activeElement && document.activeElement !== document.body;
  if (field && !busy && window.matchMedia("(hover: hover)").matches) field.focus({ preventScroll: true });
}
document.addEventListener("htmx:afterSettle", refocus);
refocus();

let stream = null;

function stop(form) {
  for (const track of stream?.getTracks() ?? []) track.stop();
  stream = null;
  const view = form.querySelector("[data-scan-view]");
  view?.replaceChildren();
  if (view) view.hidden = true;
  const button = form.querySelector("[data-scan-camera]");
  if (button?.dataset.words) button.textContent = button.dataset.words;
}

async function watch(form, button) {
  const detector = new window.BarcodeDetector({ formats: ["qr_code"] });
  stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
  const view = form.querySelector("[data-scan-view]");
  const video = Object.assign(document.createElement("video"), { srcObject: stream, muted: true, playsInline: true });
  view.replaceChildren(video);
  view.hidden = false;
  button.dataset.words = button.textContent;
  button.textContent = say("camera-stop");
  await video.play();
  while (stream) {
    const [found] = await detector.detect(video).catch(() => []);
    if (found) {
      stop(form);
      take(form, found.rawValue);
      return;
    }
    await new Promise((resolve) => setTimeout(resolve, 150));
  }
}

document.addEventListener("click", async (event) => {
  const button = event.target.closest?.("[data-scan-camera]");
  if (!button) return;
  const form = button.closest("form[data-scan]");
  if (stream) {
    stop(form);
    return;
  }
  if (!("BarcodeDetector" in window) || !navigator.mediaDevices?.getUserMedia) {
    form.querySelector("[data-scan-photo]")?.click();
    return;
  }
  try {
    await watch(form, button);
  } catch {
    stop(form);
    const line = form.querySelector("[data-form-state]");
    if (line) line.textContent = say("camera-failed");
    form.querySelector("[data-scan-photo]")?.click();
  }
});

document.addEventListener("change", (event) => {
  if (event.target.matches?.("[data-scan-photo]") && event.target.files.length) event.target.form.requestSubmit();
});
