// A day that the plan names at the intake is taken by one tap: it stands in the form as the desk's
// own day, with its reason, until somebody changes it. Nothing is promised before the case is logged.
document.addEventListener("click", ({ target }) => {
  const button = target.closest("[data-take-day]");
  const form = button?.form;
  if (!form) return;
  const other = form.querySelector("#ship-other");
  const [day, reason] = ["ship_on", "ship_reason"].map((name) => form.elements.namedItem(name));
  other.checked = true;
  day.value = button.dataset.takeDay;
  reason.value ||= button.dataset.because;
  day.dispatchEvent(new Event("change", { bubbles: true }));
  other.focus();
});
