// Ten seconds to take something back: form[data-undo-until]. The button goes when the time is over;
// the server decides by its own clock.
import { every, now } from "./clock.js";
import { say } from "./words.js";

function show() {
  for (const form of document.querySelectorAll("form[data-undo-until]")) {
    const left = Math.ceil((Date.parse(form.dataset.undoUntil) - now()) / 1000);
    const button = form.querySelector("button");
    if (left <= 0) {
      // Words of what was done stay; a button that has the focus hands it to the page.
      if (button === document.activeElement) document.getElementById("main")?.focus();
      if (!form.dataset.sent) button?.remove();
      continue;
    }
    const place = form.querySelector("[data-undo-left]");
    if (place) place.textContent = say("seconds", { n: left });
  }
}

every(250, show);
document.addEventListener("htmx:load", show);
