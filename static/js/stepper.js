// − value unit +. A press goes one step on the grid of the step; a held button repeats. A decimal
// comma is understood and left as typed: the server reads both.

const FIRST_REPEAT_MS = 450;
const REPEAT_MS = 90;
let repeat = 0;

function parse(text) {
  const value = Number.parseFloat(text.trim().replace(",", "."));
  return Number.isFinite(value) ? value : null;
}

/** Decimals of `step` as written: "0.25" has two. */
function decimals(step) {
  return (step.split(".")[1] ?? "").length;
}

function press(button) {
  const box = button.closest("[data-stepper]");
  const input = box?.querySelector("input");
  if (!input || input.disabled || input.readOnly) return;
  const { step = "1", min, max, start } = box.dataset;
  const size = Number(step);
  const sign = button.hasAttribute("data-more") ? 1 : -1;
  const present = parse(input.value);
  let value = present === null ? Number(start ?? min ?? 0) : present + sign * size;
  if (min !== undefined) value = Math.max(value, Number(min));
  if (max !== undefined) value = Math.min(value, Number(max));
  const text = value.toFixed(decimals(step));
  input.value = input.value.includes(",") ? text.replace(".", ",") : text;
  input.dispatchEvent(new Event("input", { bubbles: true }));
}

/** Tell the form once, when the pressing is over, so that a held button is one change. */
function settle(button) {
  clearTimeout(repeat);
  repeat = 0;
  button.closest("[data-stepper]")?.querySelector("input")?.dispatchEvent(new Event("change", { bubbles: true }));
}

function again(button) {
  press(button);
  repeat = setTimeout(() => again(button), REPEAT_MS);
}

let held = null;

document.addEventListener("pointerdown", (event) => {
  const button = event.target.closest?.("[data-stepper] > button");
  if (!button || event.button !== 0) return;
  held = button;
  press(button);
  repeat = setTimeout(() => again(button), FIRST_REPEAT_MS);
});

for (const end of ["pointerup", "pointercancel"]) {
  document.addEventListener(end, () => {
    if (held) settle(held);
    held = null;
  });
}

// Keyboard and assistive technology: a click that no pointer made (detail 0).
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-stepper] > button");
  if (!button || event.detail !== 0) return;
  press(button);
  settle(button);
});

document.addEventListener("contextmenu", (event) => {
  if (event.target.closest?.("[data-stepper] > button")) event.preventDefault();
});

document.addEventListener("keydown", (event) => {
  const box = event.target.closest?.("[data-stepper]");
  if (!box || event.target.tagName !== "INPUT" || !["ArrowUp", "ArrowDown"].includes(event.key)) return;
  event.preventDefault();
  const button = box.querySelector(event.key === "ArrowUp" ? "[data-more]" : "[data-less]");
  press(button);
  settle(button);
});
