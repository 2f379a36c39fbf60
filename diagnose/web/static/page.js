// Makes the page handier; everything works without it. No words stand here: they come with the page.
"use strict";

// A form is sent once; while a recording is heard the page says so.
for (const form of document.querySelectorAll("form[method=post]")) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "1";
    const busy = form.querySelector("[data-busy]");
    if (busy) busy.hidden = false;
    form.setAttribute("aria-busy", "true");
  });
}
// Back in the browser shows the page as it was left: it may be sent again.
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) {
    delete form.dataset.sent;
    form.removeAttribute("aria-busy");
    const busy = form.querySelector("[data-busy]");
    if (busy) busy.hidden = true;
  }
});

// A mark that is clicked again is taken away: nothing marked stays open.
for (const radio of document.querySelectorAll(".finding input[type=radio]")) {
  radio.addEventListener("pointerdown", () => { radio.dataset.was = radio.checked ? "1" : ""; });
  const label = radio.closest("label");
  if (label) label.addEventListener("pointerdown", () => { radio.dataset.was = radio.checked ? "1" : ""; });
  radio.addEventListener("click", () => {
    if (radio.dataset.was) { radio.checked = false; radio.dataset.was = ""; }
  });
}
