// <time class="countdown" data-due="…">: what is left, or how long it has been over. Each look
// subtracts timestamps; nothing is counted, so sleep and background tabs do no harm.
import { every, now } from "./clock.js";
import { duration, fill, say } from "./words.js";

function show() {
  for (const time of document.querySelectorAll("time[data-due]")) {
    const left = Date.parse(time.dataset.due) - now();
    if (!Number.isFinite(left)) continue;
    const over = left < 0;
    const sentence = over ? time.dataset.after ?? say("overdue") : time.dataset.before ?? say("left");
    const text = fill(sentence, { time: duration(left) });
    if (text && time.textContent !== text) time.textContent = text;
    time.classList.toggle("is-over", over);
  }
}

every(1000, show);
document.addEventListener("htmx:load", show);
