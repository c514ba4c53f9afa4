// A form is sent once and says in words what became of it: on its way, confirmed, refused, or not
// sent. The hidden submission_id makes the server count a second sending as the same thing, so this
// is a courtesy, not the guard. Typed data stays until the server has answered.
import { say } from "./words.js";

const POSTS = 'form[method="post" i], form[hx-post]';

function tell(form, key) {
  form.dataset.state = key;
  const line = form.querySelector("[data-form-state]");
  if (line) line.textContent = say(key);
  else if (key === "not-sent" || key === "broken") announce(say(key));
}

/** A form without its own line still says what went wrong, with the page's messages. */
function announce(text) {
  const place = document.getElementById("messages");
  if (!place) return;
  const line = document.createElement("p");
  line.className = "message message-error";
  line.setAttribute("data-announced", "");
  line.textContent = text;
  place.querySelector("[data-announced]")?.remove();
  place.append(line);
}

/** Buttons look and act dead while the form is on its way; really disabling one would drop its value. */
function hold(form, held) {
  for (const button of form.querySelectorAll("button:not([type=button]), input[type=submit]")) {
    if (held) button.setAttribute("aria-disabled", "true");
    else button.removeAttribute("aria-disabled");
  }
  if (!held) delete form.dataset.sent;
  else form.dataset.sent = "1";
}

function formOf(event) {
  const form = (event.detail?.elt ?? event.target)?.closest?.("form");
  return form?.matches(POSTS) ? form : null;
}

/** A request that writes but has no form: a button with its own hx-post. */
function writes(event) {
  return (event.detail?.requestConfig?.verb ?? "get") !== "get";
}

function sends(event, form) {
  return event.detail.elt === form || (writes(event) && event.detail.elt.matches("button:not([type=button])"));
}

// Capturing, so that a second tap is stopped before htmx hears of it.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches(POSTS)) return;
  if (form.dataset.sent) {
    event.preventDefault();
    event.stopImmediatePropagation();
    return;
  }
  if (navigator.onLine === false) {
    event.preventDefault();
    event.stopImmediatePropagation();
    tell(form, "not-sent");
    return;
  }
  form.dataset.sent = "1";
  // Other listeners may still refuse the submit: look when all of them have spoken.
  setTimeout(() => {
    const byHtmx = form.matches("[hx-post], [hx-boost=true], [hx-boost=true] form");
    const stopped = event.defaultPrevented && !byHtmx;
    hold(form, !stopped);
    if (!stopped) tell(form, "sending");
  });
}, true);

document.addEventListener("htmx:afterRequest", (event) => {
  const form = formOf(event);
  const status = event.detail.xhr?.status ?? 0;
  if (status > 0 && writes(event)) document.querySelector("#messages [data-announced]")?.remove();
  // A part of a form that asks for something by itself is not the form being sent.
  if (!form || !sends(event, form)) {
    if (status >= 500 && writes(event)) announce(say("broken"));
    return;
  }
  hold(form, false);
  if (status >= 200 && status < 400) tell(form, "confirmed");
  else if (status === 409 || status === 422 || (status >= 400 && status < 500)) tell(form, "refused");
  else if (status >= 500) tell(form, "broken");
});

for (const failure of ["htmx:sendError", "htmx:timeout"]) {
  document.addEventListener(failure, (event) => {
    const form = formOf(event);
    if (form) {
      hold(form, false);
      tell(form, "not-sent");
    } else if (writes(event)) announce(say("not-sent"));
  });
}

document.addEventListener("htmx:sendAbort", (event) => {
  const form = formOf(event);
  if (form) hold(form, false);
});

// A page brought back by the back button comes with its forms as they were left.
window.addEventListener("pageshow", (event) => {
  if (!event.persisted) return;
  for (const form of document.querySelectorAll("form[data-sent]")) {
    hold(form, false);
    tell(form, "");
  }
});
