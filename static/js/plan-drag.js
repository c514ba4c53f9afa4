// A bar that is dragged to another lane or hour opens its own page with the wish filled in: the
// price is said there, and nothing is decided before somebody says yes. A mouse or a pen drags at
// once; a finger that moves at once scrolls, one that rests on a bar first takes it along. Without
// this script, and with the keyboard, the bar is a link to the same page.
const STEP_MINUTES = 5;
const MOVED_PX = 8;
const REST_MS = 400;
const EDGE_PX = 48;
const SCROLL_PX = 12;
const CLICK_MS = 300;

const field = document.querySelector(".plan-lanes");
let held = null;
let dropped = -CLICK_MS;

function mayLieIn(lane) {
  if (held.bar.classList.contains("plan-load")) return "bath" in lane.dataset;
  // By places nobody knows whose hands are meant: there only the hour is another.
  return "person" in lane.dataset || lane === held.home;
}

function laneAt(x, y) {
  const found = document.elementFromPoint(x, y);
  const lane = found ? found.closest(".plan-lane[data-lane]") : null;
  return lane && mayLieIn(lane) ? lane : null;
}

// The grid itself may be wider than its columns, where the day is short.
function stepWidth() {
  return parseFloat(getComputedStyle(held.home.querySelector(".plan-grid")).gridTemplateColumns);
}

// The field may have been scrolled since the bar was taken.
function steps() {
  return Math.round((held.at.x - held.x + field.scrollLeft - held.scrolled) / stepWidth());
}

function begins() {
  return new Date(Date.parse(held.bar.dataset.begins) + steps() * STEP_MINUTES * 60000);
}

// The window's first hour is written with the offset of the lab: people read its wall clock.
function wallClock(instant) {
  const [, sign, hours, minutes] = field.dataset.begins.match(/([+-])(\d\d):(\d\d)$/);
  const ahead = Number(`${sign}1`) * (Number(hours) * 60 + Number(minutes));
  return new Date(instant.getTime() + ahead * 60000).toISOString().slice(11, 16);
}

function show() {
  const lane = laneAt(held.at.x, held.at.y);
  const text = wallClock(begins());
  if (lane === held.lane && text === held.ghost.textContent) return;
  held.lane?.classList.remove("plan-drop");
  held.lane = lane;
  held.ghost.textContent = text;
  if (!lane) {
    held.ghost.remove();
    return;
  }
  lane.classList.add("plan-drop");
  const first = Number(/(?:^|\s)c(\d+)/.exec(held.bar.className)[1]);
  const width = Number(/(?:^|\s)s(\d+)/.exec(held.bar.className)[1]);
  const last = Number(field.dataset.steps) - 1;
  const column = Math.min(last, Math.max(0, first + steps()));
  held.ghost.className = `plan-ghost c${column} s${Math.min(width, last - column + 1)}`;
  lane.querySelector(".plan-grid").append(held.ghost);
}

// Near an edge the field follows the bar, so that an hour out of sight can be reached.
function follow() {
  if (!held || !held.dragged) return;
  const edges = field.getBoundingClientRect();
  const { x, y } = held.at;
  if (x > edges.right - EDGE_PX) field.scrollBy(SCROLL_PX, 0);
  else if (x < edges.left + EDGE_PX) field.scrollBy(-SCROLL_PX, 0);
  if (y > window.innerHeight - EDGE_PX && edges.bottom > window.innerHeight) window.scrollBy(0, SCROLL_PX);
  else if (y < EDGE_PX && edges.top < 0) window.scrollBy(0, -SCROLL_PX);
  show();
  requestAnimationFrame(follow);
}

function take() {
  held.dragged = true;
  held.bar.classList.add("is-dragged");
  field.classList.add("is-dragging");
  held.ghost = document.createElement("span");
  held.ghost.setAttribute("aria-hidden", "true");
  requestAnimationFrame(follow);
}

function letGo() {
  if (!held) return;
  clearTimeout(held.rest);
  held.lane?.classList.remove("plan-drop");
  held.bar.classList.remove("is-dragged");
  field.classList.remove("is-dragging");
  held.ghost?.remove();
  held = null;
}

function wish() {
  const asked = new URLSearchParams({ dragged: "1", begins_at: begins().toISOString() });
  for (const name of ["person", "bath"]) {
    if (name in held.lane.dataset) asked.set(name, held.lane.dataset[name]);
  }
  return `${held.bar.getAttribute("href")}?${asked}`;
}

function press(event) {
  const bar = event.target.closest(".plan-bar[data-stage]");
  if (held || !bar || bar.classList.contains("is-running") || event.button !== 0) return;
  const at = { x: event.clientX, y: event.clientY };
  held = {
    bar, at, ...at, scrolled: field.scrollLeft, home: bar.closest(".plan-lane"),
    pointer: event.pointerId, finger: event.pointerType === "touch", dragged: false, lane: null,
  };
  if (held.finger) held.rest = setTimeout(take, REST_MS);
}

function move(event) {
  if (!held || event.pointerId !== held.pointer) return;
  const far = Math.hypot(event.clientX - held.x, event.clientY - held.y) > MOVED_PX;
  held.at = { x: event.clientX, y: event.clientY };
  if (held.dragged || !far) return;
  if (held.finger) letGo();
  else take();
}

function drop(event) {
  if (!held || event.pointerId !== held.pointer) return;
  if (held.dragged) {
    dropped = event.timeStamp;
    show();
    if (held.lane && (held.lane !== held.home || steps())) window.location.assign(wish());
  }
  letGo();
}

function scrollsNot(event) {
  if (held?.dragged) event.preventDefault();
}

function opensNot(event) {
  if (event.timeStamp - dropped < CLICK_MS) event.preventDefault();
}

if (field) {
  field.addEventListener("pointerdown", press);
  window.addEventListener("pointermove", move);
  window.addEventListener("pointerup", drop);
  window.addEventListener("pointercancel", letGo);
  field.addEventListener("dragstart", (event) => event.preventDefault());
  // A finger that has taken a bar along must not scroll the page as well, nor open a menu.
  field.addEventListener("touchmove", scrollsNot, { passive: false });
  field.addEventListener("contextmenu", (event) => held?.finger && event.preventDefault());
  field.addEventListener("click", opensNot, true);
  window.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !held?.dragged) return;
    dropped = Infinity;
    window.addEventListener("pointerup", (up) => (dropped = up.timeStamp), { once: true });
    letGo();
  });
}
