// Alarms: sound, title and a spoken sentence. What is alarming is the server's say: the fragment in
// #alarms (components/_alarms.html). The sound comes at once for a new alarm and again every
// data-repeat-seconds until somebody acknowledges, when the fragment no longer has it.
import { every } from "./clock.js";
import { say } from "./words.js";

const title = document.title;
const spoken = new Set();
let lastSound = 0;
let audio = null;
let answered = Date.now();
let failed = false;

const PATIENCE_S = 45; // three looks in vain

/** Browsers allow sound only after a touch; the first one anywhere opens the way. */
function unlock() {
  if (audio) return;
  const Context = window.AudioContext ?? window.webkitAudioContext;
  if (!Context) return;
  audio = new Context();
  audio.resume();
  watch();
}
// Not at the press: the hint goes then, and what was pressed would move away under the finger.
for (const touch of ["click", "keydown"]) document.addEventListener(touch, unlock, { once: true });

/** Three rising pairs of notes: heard over a hand piece, unlike a telephone. */
function sound() {
  if (audio?.state === "suspended") audio.resume();
  if (!audio || audio.state === "closed") return false;
  const start = audio.currentTime + 0.02;
  for (let note = 0; note < 6; note += 1) {
    const at = start + Math.floor(note / 2) * 0.7 + (note % 2) * 0.22;
    const tone = audio.createOscillator();
    const gain = audio.createGain();
    tone.type = "triangle";
    tone.frequency.value = note % 2 ? 988 : 740;
    gain.gain.setValueAtTime(0, at);
    gain.gain.linearRampToValueAtTime(0.5, at + 0.02);
    gain.gain.exponentialRampToValueAtTime(0.001, at + 0.2);
    tone.connect(gain).connect(audio.destination);
    tone.start(at);
    tone.stop(at + 0.22);
  }
  return true;
}

function watch() {
  const section = document.querySelector("#alarms [data-alarms]");
  const alarms = [...(section?.querySelectorAll("[data-alarm]") ?? [])];
  const fresh = alarms.filter((alarm) => !spoken.has(alarm.dataset.alarm));

  if (fresh.length) {
    const voice = document.getElementById("alarm-voice");
    if (voice) voice.textContent = fresh.map((alarm) => alarm.dataset.words).join(" ");
    for (const alarm of fresh) spoken.add(alarm.dataset.alarm);
  }
  // The bar of the browser alternates between the alarm in words and the page's own title.
  const blink = alarms.length && Math.floor(Date.now() / 1000) % 2 === 0;
  document.title = blink ? say("alarm-title", { words: alarms[0].dataset.words }) : title;

  const repeat = Number(section?.dataset.repeatSeconds ?? 120) * 1000;
  if (alarms.length && (fresh.length || Date.now() - lastSound >= repeat)) {
    if (sound()) lastSound = Date.now();
    else lastSound = 0;
  }
  hint(alarms.length > 0 && !audio);
  unreachable();
}

/** A page that hears nothing from the server hears no alarm either: say so, in words. */
function unreachable() {
  const place = document.getElementById("alarms");
  const patience = Number(place?.dataset.patienceSeconds ?? PATIENCE_S) * 1000;
  const line = document.getElementById("alarms-unreachable");
  if (!place || !line) return;
  line.hidden = !(failed && Date.now() - answered > patience);
  if (!line.hidden && !line.textContent) line.textContent = say("unreachable");
}

document.addEventListener("htmx:afterRequest", (event) => {
  if (event.detail.elt?.id !== "alarms") return;
  failed = !event.detail.successful;
  if (!failed) answered = Date.now();
});

/** Without a first touch the browser keeps silent: say so, in the banner. */
function hint(show) {
  const section = document.querySelector("#alarms [data-alarms]");
  let line = section?.querySelector("[data-sound-off]");
  if (show && section && !line) {
    line = document.createElement("p");
    line.className = "banner";
    line.setAttribute("data-sound-off", "");
    line.textContent = say("sound-off");
    section.append(line);
  } else if (!show) line?.remove();
}

every(1000, watch);
document.addEventListener("htmx:afterSwap", watch);
