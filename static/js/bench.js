// The bench's bar and list: a clock on the server's time in the lab's zone, and a list that folds
// away on a narrow screen.
import { every, now } from "./clock.js";

function formatter(zone) {
  const parts = { weekday: "long", day: "numeric", month: "long", hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
  try {
    return new Intl.DateTimeFormat(document.documentElement.lang || undefined, { ...parts, timeZone: zone || undefined });
  } catch {
    return new Intl.DateTimeFormat(undefined, parts);
  }
}

const formats = new Map();

every(5000, () => {
  for (const clock of document.querySelectorAll("time[data-clock]")) {
    const zone = clock.dataset.zone ?? "";
    if (!formats.has(zone)) formats.set(zone, formatter(zone));
    const part = Object.fromEntries(formats.get(zone).formatToParts(new Date(now())).map(({ type, value }) => [type, value]));
    const text = `${part.weekday} ${part.day} ${part.month}, ${part.hour}:${part.minute}`;
    if (clock.textContent !== text) clock.textContent = text;
  }
});

const wide = window.matchMedia("(min-width: 900px)");

function fold() {
  for (const list of document.querySelectorAll("details[data-fold-narrow]")) list.open = wide.matches;
}

wide.addEventListener("change", fold);
fold();
