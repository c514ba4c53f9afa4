// The design form is swapped as a whole when a tooth was touched. What is pressed while an answer is on
// its way waits for it, and what is typed meanwhile stands in the new form: a quick hand loses nothing.
const parts = ["design-form", "design-live"];
let waits = false;
let turn = 0;
let pressed = [];
let sent = new Map();
let meanwhile = new Map();
let typed = [];

function form() {
  return document.getElementById("design-form");
}

function entries() {
  return [...form().elements].filter((field) => field.matches("input:not([type=hidden]), select, textarea"));
}

function key(field) {
  return field.matches("[type=radio], [type=checkbox]") ? `${field.name}=${field.value}` : field.name;
}

function said(field) {
  return field.matches("[type=radio], [type=checkbox]") ? field.checked : field.value;
}

function say(field, what) {
  if (field.matches("[type=radio], [type=checkbox]")) field.checked = what;
  else field.value = what;
}

function tool() {
  return form().elements.tool?.value;
}

// Two buttons without a name lead to different pages: "Redraw" is hidden, and it is not "Keep".
function named(button) {
  return [button.name, button.value, button.getAttribute("formaction")];
}

function same(one, other) {
  return one.every((part, place) => part === other[place]);
}

// A press goes off as it was meant: with what was chosen for the touch when it was pressed.
function pressNext() {
  const next = pressed.shift();
  if (!next) return;
  const chosen = tool();
  if (next.tool) form().elements.tool.value = next.tool;
  const buttons = [...form().querySelectorAll("button:not([type=button])")];
  const button = buttons.find((one) => same(named(one), next.named));
  if (!button?.hasAttribute("hx-post")) pressed = []; // This one leaves the page.
  button?.click();
  if (chosen) form().elements.tool.value = chosen;
}

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("#design-form button:not([type=button])");
  if (!waits || !button) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  pressed.push({ named: named(button), tool: tool() });
}, true);

document.addEventListener("htmx:beforeRequest", (event) => {
  if (!parts.includes(event.detail.target?.id)) return;
  waits = true;
  turn += 1;
  sent = new Map(entries().map((field) => [key(field), said(field)]));
});

document.addEventListener("htmx:beforeSwap", (event) => {
  if (event.detail.target?.id !== "design-form" || !event.detail.shouldSwap) return;
  meanwhile = new Map(
    entries()
      .filter((field) => sent.has(key(field)) && sent.get(key(field)) !== said(field))
      .map((field) => [key(field), said(field)]),
  );
});

document.addEventListener("htmx:afterSwap", () => {
  const kept = (field) => meanwhile.has(key(field)) && meanwhile.get(key(field)) !== said(field);
  const changed = meanwhile.size ? entries().filter(kept) : [];
  for (const field of changed) say(field, meanwhile.get(key(field)));
  meanwhile = new Map();
  typed.push(...changed);
});

// Whoever still types says by leaving the field that it is done, as without the swap.
function tell(field) {
  const told = (name) => field.dispatchEvent(new Event(name, { bubbles: true }));
  told("input");
  if (field === document.activeElement) field.addEventListener("blur", () => told("change"), { once: true });
  else told("change");
}

function goOn(answered) {
  if (!waits || answered !== turn) return;
  waits = false;
  const changed = typed.filter((field) => field.isConnected && field.name !== "tool");
  typed = [];
  if (pressed.length) pressNext();
  else for (const field of changed) tell(field);
}

// New buttons are htmx's own only when it has settled; what was not swapped never settles.
document.addEventListener("htmx:afterSettle", (event) => {
  if (parts.includes(event.detail.target?.id)) setTimeout(goOn, 0, turn);
});
for (const over of ["htmx:afterRequest", "htmx:onLoadError"]) {
  document.addEventListener(over, (event) => {
    if (parts.includes(event.detail.target?.id)) setTimeout(goOn, 300, turn);
  });
}
