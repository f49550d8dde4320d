// Only improves what works without it.
"use strict";

// A form is sent once, even when the button is pressed twice over a weak connection.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || form.method !== "post") return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
});

// Coming back with the browser's own button, a form can be sent again.
window.addEventListener("pageshow", () => {
  for (const form of document.forms) delete form.dataset.sent;
  document.querySelector("[aria-invalid='true']")?.focus();
});

// A choice that only changes what is shown needs no button.
document.addEventListener("change", (event) => {
  const form = event.target.closest?.("form[data-sends-itself]");
  if (form) form.requestSubmit();
});

// What asks first: <button data-ask="Really?">.
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-ask]");
  if (button && !window.confirm(button.dataset.ask)) event.preventDefault();
});

for (const button of document.querySelectorAll("[data-prints]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
