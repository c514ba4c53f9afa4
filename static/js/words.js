// Sentences come from the page (components/_words.html), where they went through gettext.

const words = new Map();
for (const span of document.getElementById("words")?.content.children ?? []) {
  words.set(span.dataset.word, span.textContent);
}

/** The sentence called `key` with its {places} filled in; empty when the page has none. */
export function say(key, places = {}) {
  return fill(words.get(key) ?? "", places);
}

/** `text` with each {name} replaced from `places`. */
export function fill(text, places) {
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in places ? String(places[name]) : whole));
}

/** A length of time as people say it: 45 s, 12 min, 1 h 05 min, 2 days 3 h. */
export function duration(milliseconds) {
  const seconds = Math.floor(Math.abs(milliseconds) / 1000);
  const minutes = Math.floor(seconds / 60);
  const hours = Math.floor(minutes / 60);
  if (seconds < 120) return say("seconds", { n: seconds });
  if (minutes < 60) return say("minutes", { n: minutes });
  if (hours < 48) return say("hours", { n: hours, m: String(minutes % 60).padStart(2, "0") });
  return say("days", { n: Math.floor(hours / 24), m: hours % 24 });
}
