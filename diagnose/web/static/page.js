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

// A recording may be dropped.
for (const place of document.querySelectorAll("[data-drop]")) {
  const input = place.querySelector("input[type=file]");
  for (const kind of ["dragenter", "dragover"]) {
    place.addEventListener(kind, (event) => { event.preventDefault(); place.classList.add("over"); });
  }
  for (const kind of ["dragleave", "drop"]) {
    place.addEventListener(kind, () => place.classList.remove("over"));
  }
  place.addEventListener("drop", (event) => {
    event.preventDefault();
    if (event.dataTransfer && event.dataTransfer.files.length) input.files = event.dataTransfer.files;
  });
}

// A mark that is clicked again is taken away: nothing marked stays open.
for (const radio of document.querySelectorAll(".finding input[type=radio]")) {
  radio.addEventListener("pointerdown", () => { radio.dataset.was = radio.checked ? "1" : ""; });
  const label = radio.closest("label");
  if (label) label.addEventListener("pointerdown", () => { radio.dataset.was = radio.checked ? "1" : ""; });
  radio.addEventListener("click", () => {
    if (radio.dataset.was) { radio.checked = false; radio.dataset.was = ""; }
  });
}

// Taps in time with the tick: the times go where they could also be typed.
for (const button of document.querySelectorAll("[data-tap]")) {
  const form = button.closest("form");
  const times = form.querySelector("textarea[name=times]");
  const count = button.querySelector("[data-count]");
  const taps = [];
  const tap = (at) => {
    taps.push(at);
    times.value = taps.map((time) => ((time - taps[0]) / 1000).toFixed(3)).join("\n");
    count.textContent = String(taps.length);
  };
  button.hidden = false;
  // On the way down, not up: the finger is in time with the tick when it lands.
  button.addEventListener("pointerdown", (event) => { event.preventDefault(); button.focus(); tap(event.timeStamp); });
  button.addEventListener("keydown", (event) => {
    if ((event.key === " " || event.key === "Enter") && !event.repeat) { event.preventDefault(); tap(event.timeStamp); }
  });
}
