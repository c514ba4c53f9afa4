// A choice that another one usually brings: marked as soon as the other is made, until a person
// marks this one. Without this script the server fills in what was left open.

const chosen = new WeakSet();

/** The controls of `form` that offer a usual value for the field called `name`. */
function controls(form, name) {
  return [...form.elements].filter((control) => control.dataset.usualOf === name);
}

document.addEventListener("change", ({ target }) => {
  const { form } = target;
  if (!form) return;
  if (target.dataset.usual) {
    chosen.add(form);
    return;
  }
  if (chosen.has(form)) return;
  for (const control of controls(form, target.name)) {
    const usual = JSON.parse(control.dataset.usual)[target.value] ?? "";
    if (control.type === "radio") control.checked = control.value === usual;
    else control.value = usual;
  }
});
