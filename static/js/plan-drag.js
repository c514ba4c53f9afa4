// A bar that is dragged to another lane or hour opens its own page with the wish filled in: the
// price is said there, and nothing is decided before somebody says yes. Without this script, and
// with the keyboard, the bar is a link to the same page.
const STEP_MINUTES = 5;
const MOVED_PX = 8;

const field = document.querySelector(".plan-lanes");
let held = null;

function laneAt(x, y) {
  const found = document.elementFromPoint(x, y);
  return found ? found.closest(".plan-lane[data-person]") : null;
}

function clear() {
  for (const lane of field.querySelectorAll(".plan-drop")) lane.classList.remove("plan-drop");
  if (held) held.bar.classList.remove("is-dragged");
}

function instant(lane, x) {
  const grid = lane.querySelector(".plan-grid");
  const step = grid.getBoundingClientRect().width / Number(field.dataset.steps);
  const steps = Math.max(0, Math.round((x - grid.getBoundingClientRect().left) / step));
  return new Date(Date.parse(field.dataset.begins) + steps * STEP_MINUTES * 60000);
}

if (field) {
  field.addEventListener("pointerdown", (event) => {
    const bar = event.target.closest(".plan-bar[data-stage]");
    if (!bar || bar.classList.contains("plan-load") || event.button !== 0) return;
    const grip = event.clientX - bar.getBoundingClientRect().left;
    held = { bar, x: event.clientX, y: event.clientY, grip, moved: false };
  });
  field.addEventListener("dragstart", (event) => event.preventDefault());
  window.addEventListener("pointermove", (event) => {
    if (!held) return;
    const far = Math.hypot(event.clientX - held.x, event.clientY - held.y) > MOVED_PX;
    if (!held.moved && (!far || event.pointerType === "touch")) return;
    held.moved = true;
    held.bar.classList.add("is-dragged");
    for (const lane of field.querySelectorAll(".plan-drop")) lane.classList.remove("plan-drop");
    laneAt(event.clientX, event.clientY)?.classList.add("plan-drop");
  });
  window.addEventListener("pointerup", (event) => {
    if (!held) return;
    const { bar, moved, grip } = held;
    clear();
    held = null;
    if (!moved) return;
    const lane = laneAt(event.clientX, event.clientY);
    bar.addEventListener("click", (click) => click.preventDefault(), { once: true });
    if (!lane) return;
    const wish = new URLSearchParams({
      person: lane.dataset.person,
      begins_at: instant(lane, event.clientX - grip).toISOString(),
    });
    window.location.assign(`${bar.getAttribute("href")}?${wish}`);
  });
  window.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && held) {
      clear();
      held = null;
    }
  });
}
