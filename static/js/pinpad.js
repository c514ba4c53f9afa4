// A pad of digits for a PIN field: [data-pinpad][data-for]. The field works without it.

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-pinpad] > button");
  if (!button || button.hasAttribute("data-enter")) return;
  const field = document.getElementById(button.parentElement.dataset.for);
  if (!field) return;
  if (button.hasAttribute("data-clear")) field.value = "";
  else if (field.maxLength < 0 || field.value.length < field.maxLength) field.value += button.textContent.trim();
  field.dispatchEvent(new Event("input", { bubbles: true }));
});
