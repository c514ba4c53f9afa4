// The strip of teeth does the work with and without this script. Here a touch on a tooth of the drawing
// is a press on its button in the strip, and the arrow keys go from tooth to tooth along the strip.
document.addEventListener("click", (event) => {
  const shape = event.target.closest?.("[data-arch-pick] [data-tooth]");
  if (shape) document.getElementById(`tooth-${shape.dataset.tooth}`)?.click();
});

const steps = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -8, ArrowDown: 8 };
document.addEventListener("keydown", (event) => {
  const strip = event.target.closest?.("[data-tooth-strip]");
  if (!strip || event.altKey || event.ctrlKey || event.metaKey) return;
  const teeth = [...strip.querySelectorAll("button")];
  const here = teeth.indexOf(event.target);
  let there = here + (steps[event.key] ?? 0);
  if (event.key === "Home") there = 0;
  if (event.key === "End") there = teeth.length - 1;
  if (there === here || !teeth[there]) return;
  event.preventDefault();
  teeth[there].focus();
});
