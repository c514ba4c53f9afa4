// A touch on a tooth of the drawing is a press on its button in the strip of teeth, which does the
// work with and without this script.
document.addEventListener("click", (event) => {
  const shape = event.target.closest?.("[data-arch-pick] [data-tooth]");
  if (shape) document.getElementById(`tooth-${shape.dataset.tooth}`)?.click();
});
