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

// What asks first: <button data-ask="Really?">.
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-ask]");
  if (button && !window.confirm(button.dataset.ask)) event.preventDefault();
});

for (const button of document.querySelectorAll("[data-prints]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}

// A form that shows what it comes to: the server draws it anew while somebody types.
function watchLive(form) {
  let waiting, running;
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(async () => {
      running?.abort();
      running = new AbortController();
      try {
        const answer = await fetch(form.dataset.live, { method: "POST", body: new URLSearchParams(new FormData(form)), signal: running.signal });
        if (answer.ok) replaceParts(await answer.text(), "#live-drawing, #live-needs");
      } catch {
        // The page stays as it was; sending the form still works.
      }
    }, 300);
  });
}
for (const form of document.querySelectorAll("form[data-live]")) watchLive(form);

function replaceParts(html, selector) {
  const page = new DOMParser().parseFromString(html, "text/html");
  for (const part of page.querySelectorAll(selector)) document.getElementById(part.id)?.replaceWith(part);
}

// A button that changes the form and saves nothing does so without leaving the place.
document.addEventListener("click", async (event) => {
  const button = event.target.closest?.("button[data-in-place]");
  const form = button?.form;
  if (!form) return;
  event.preventDefault();
  const body = new URLSearchParams(new FormData(form));
  body.append(button.name, button.value);
  try {
    const answer = await fetch(form.action, { method: "POST", body });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const next = page.getElementById("content");
    const { scrollX, scrollY } = window;
    document.getElementById("content").replaceWith(next);
    window.scrollTo(scrollX, scrollY);
    for (const again of next.querySelectorAll("form[data-live]")) watchLive(again);
    next.querySelector(`button[name="${button.name}"][value="${CSS.escape(button.value)}"]`)?.focus({ preventScroll: true });
  } catch {
    form.requestSubmit(button);
  }
});

// A match that goes on: the server tells how it gets on, and when there is an answer the page is read again.
for (const at of document.querySelectorAll("[data-progress]")) {
  const events = new EventSource(at.dataset.progress);
  events.addEventListener("progress", (event) => {
    at.querySelector("[data-progress-words]").textContent = event.data;
  });
  events.addEventListener("done", () => {
    events.close();
    location.reload();
  });
}

// A page on a wall keeps itself current; while the server cannot be reached it stays as it was.
for (const at of document.querySelectorAll("[data-renews]")) {
  setInterval(async () => {
    try {
      const answer = await fetch(location.href);
      if (!answer.ok) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const next = page.querySelector("[data-renews]");
      if (next) at.replaceChildren(...next.childNodes);
    } catch {
      // The next round tries again.
    }
  }, Number(at.dataset.renews) * 1000);
}
