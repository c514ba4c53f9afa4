// The strip of teeth does the work with and without this script. Here a touch on a tooth of the drawing
// is a press on its button in the strip, and the strip is one stop of the Tab key: the arrow keys go
// from tooth to tooth, and Tab comes back to the tooth that was left. Without it each tooth is a stop.
const steps = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
let left = "";

function teethOf(strip) {
  return [...strip.querySelectorAll("button")];
}

function makeOneStop() {
  for (const strip of document.querySelectorAll("[data-tooth-strip]")) {
    const teeth = teethOf(strip);
    const stop = teeth.find((tooth) => tooth.id === left) ?? teeth[0];
    strip.setAttribute("role", "toolbar");
    for (const tooth of teeth) tooth.tabIndex = tooth === stop ? 0 : -1;
  }
}

function leave(event) {
  const tooth = event.target.closest?.("[data-tooth-strip] button");
  if (!tooth || tooth.id === left) return;
  left = tooth.id;
  makeOneStop();
}

document.addEventListener("click", (event) => {
  leave(event); // Not every browser gives a touched button the focus.
  const shape = event.target.closest?.("[data-arch-pick] [data-tooth]");
  if (shape) document.getElementById(`tooth-${shape.dataset.tooth}`)?.click();
});

document.addEventListener("focusin", leave);

document.addEventListener("keydown", (event) => {
  const strip = event.target.closest?.("[data-tooth-strip]");
  if (!strip || event.altKey || event.ctrlKey || event.metaKey) return;
  const teeth = teethOf(strip);
  const here = teeth.indexOf(event.target);
  const row = getComputedStyle(strip).gridTemplateColumns.split(" ").length;
  const [along, across] = steps[event.key] ?? [0, 0];
  let there = here + along + across * row;
  if (event.key === "Home") there = 0;
  if (event.key === "End") there = teeth.length - 1;
  if (there === here || !teeth[there]) return;
  event.preventDefault();
  teeth[there].focus();
});

// The form is swapped as a whole when a tooth was touched.
document.addEventListener("htmx:afterSwap", makeOneStop);
makeOneStop();
