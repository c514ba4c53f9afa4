// A check is stored as soon as it is entered. Each storing is a submission of its own: the id that
// came with the page would otherwise stand for two different entries. Storing the same entry twice
// changes nothing on the server, so a lost answer does no harm.

/** A random UUID; crypto.randomUUID is missing on plain http. */
function uuid() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

document.addEventListener("htmx:configRequest", (event) => {
  if (event.detail.elt.matches?.("form[data-fresh-submission]")) event.detail.parameters.submission_id = uuid();
});

// "Measure 35 again": the field itself takes the focus, not only the eye.
document.addEventListener("click", (event) => {
  const link = event.target.closest?.("a[data-goes-to]");
  const place = link && document.getElementById(link.getAttribute("href").slice(1));
  if (!place) return;
  event.preventDefault();
  place.scrollIntoView({ block: "center" });
  const field = place.matches("input") ? place : place.querySelector("input:not([type=hidden])") ?? place;
  field.focus({ preventScroll: true });
  if (field.matches("input[inputmode]")) field.select();
});

// "Measured: it is 4.5 mm": what the design says goes into the field, and is stored as if typed.
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("button[data-confirms]");
  const field = button && document.getElementById(button.dataset.confirms);
  if (!field) return;
  event.preventDefault();
  field.value = button.value;
  button.closest(".entry-proposal").hidden = true;
  field.focus();
  field.dispatchEvent(new Event("change", { bubbles: true }));
});
