// Copy the text of a field: <button data-copy="id" data-copied="Copied">. Where the browser does not
// let a page write to the clipboard the text is selected, ready for the keyboard.
document.addEventListener("click", async (event) => {
  const button = event.target.closest?.("[data-copy]");
  if (!button) return;
  const field = document.getElementById(button.dataset.copy);
  if (!field) return;
  try {
    await navigator.clipboard.writeText(field.value);
    button.textContent = button.dataset.copied;
  } catch {
    field.focus();
    field.select();
  }
});
