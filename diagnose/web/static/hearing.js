// The ways in: recording in the browser, taps, counting, files dropped anywhere, and how far a long one has got.
// Everything but the microphone works without it. No words stand here: they come with the page.
"use strict";

const SHOWN_FROM_BYTES = 1e6, ASK_AGAIN_MS = 700;
const LAST_S = 60, MOST_S = 1800, EVERY_MS = 2000;
const LOWEST_DB = -70, METER_BLOCKS = 40, CLIPPED = 0.985;

const filled = (words, value) => words.replace("#", value);

// ---- files ---------------------------------------------------------------------------------------------

// A recording may be dropped anywhere on the page.
const place = document.querySelector("[data-drop]");
if (place) {
  const input = place.querySelector("input[type=file]");
  const holdsFiles = (event) => event.dataTransfer && [...event.dataTransfer.types].includes("Files");
  let depth = 0;
  const mark = (over) => place.classList.toggle("over", over);
  document.addEventListener("dragenter", (event) => { if (holdsFiles(event)) { depth += 1; mark(true); } });
  document.addEventListener("dragleave", () => { depth = Math.max(depth - 1, 0); if (!depth) mark(false); });
  document.addEventListener("dragover", (event) => { if (holdsFiles(event)) event.preventDefault(); });
  document.addEventListener("drop", (event) => {
    depth = 0;
    mark(false);
    if (!event.dataTransfer || !event.dataTransfer.files.length || event.target.matches("input[type=file]")) return;
    event.preventDefault();
    const files = event.dataTransfer.files;
    const closed = place.closest("details:not([open])");
    if (closed) closed.open = true;
    input.files = files;
    input.dispatchEvent(new Event("change", { bubbles: true }));
    place.scrollIntoView({ block: "nearest" });
    const send = input.form && input.form.querySelector("button.main");
    if (send) send.focus({ preventScroll: true });
  });
}

// A large file: how much of it is sent, then how much of it is heard.
for (const form of document.querySelectorAll("form[data-hear]")) {
  form.addEventListener("submit", (event) => {
    const files = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
    const bytes = files.reduce((sum, file) => sum + file.size, 0);
    if (event.defaultPrevented || bytes < SHOWN_FROM_BYTES) return;
    event.preventDefault();
    send(form);
  });
}

const send = (form) => {
  const busy = form.querySelector("[data-busy]");
  const before = busy.textContent;
  const ticket = [...crypto.getRandomValues(new Uint8Array(8))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  const body = new FormData(form);
  body.append("ticket", ticket);
  let asking = 0;
  const ask = async () => {
    const reply = await fetch(`/hear/how-far/${ticket}`).then((answer) => answer.json()).catch(() => ({}));
    if (reply.line && asking) busy.textContent = reply.line;
  };
  const over = (words) => {
    clearInterval(asking);
    asking = 0;
    busy.textContent = words || before;
    delete form.dataset.sent;
    form.removeAttribute("aria-busy");
  };
  const request = new XMLHttpRequest();
  request.upload.addEventListener("progress", (event) => {
    if (event.lengthComputable) busy.textContent = filled(busy.dataset.sending, Math.floor(100 * event.loaded / event.total));
  });
  request.upload.addEventListener("load", () => { busy.textContent = before; asking = setInterval(ask, ASK_AGAIN_MS); });
  request.addEventListener("load", () => {
    if (request.status < 400) { clearInterval(asking); location.assign(request.responseURL); return; }
    const page = new DOMParser().parseFromString(request.responseText, "text/html");
    const fault = page.querySelector(".fault:not([hidden])");
    over(fault && fault.textContent);
  });
  request.addEventListener("error", () => over(busy.dataset.broken));
  request.open("POST", form.action);
  request.send(body);
};

// ---- the microphone ------------------------------------------------------------------------------------

// Sound as a WAV file: 16 bits, one channel, nothing left out.
const waveFile = (chunks, rate) => {
  const bytes = chunks.reduce((sum, chunk) => sum + chunk.byteLength, 0);
  const head = new DataView(new ArrayBuffer(44));
  const write = (at, text) => [...text].forEach((letter, step) => head.setUint8(at + step, letter.charCodeAt(0)));
  write(0, "RIFF"); head.setUint32(4, 36 + bytes, true); write(8, "WAVE"); write(12, "fmt ");
  head.setUint32(16, 16, true); head.setUint16(20, 1, true); head.setUint16(22, 1, true);
  head.setUint32(24, rate, true); head.setUint32(28, 2 * rate, true); head.setUint16(32, 2, true); head.setUint16(34, 16, true);
  write(36, "data"); head.setUint32(40, bytes, true);
  return new Blob([head, ...chunks], { type: "audio/wav" });
};

const whole = (block) => {
  const chunk = new Int16Array(block.length);
  for (let at = 0; at < block.length; at += 1) chunk[at] = Math.round(32767 * Math.max(-1, Math.min(1, block[at])));
  return chunk;
};

// What takes ticks for noise is asked to be off, bindingly where the browser knows how; else as a wish.
const openMicrophone = async () => {
  const off = { exact: false };
  const wishes = [
    { echoCancellation: off, noiseSuppression: off, autoGainControl: false, channelCount: 1 },
    { echoCancellation: false, noiseSuppression: false, autoGainControl: false },
    true,
  ];
  for (const audio of wishes.slice(0, -1)) {
    try {
      return await navigator.mediaDevices.getUserMedia({ audio });
    } catch (error) {
      if (error.name !== "OverconstrainedError" && !(error instanceof TypeError)) throw error;
    }
  }
  return navigator.mediaDevices.getUserMedia({ audio: wishes[wishes.length - 1] });
};

for (const way of document.querySelectorAll("[data-live]")) {
  const form = way.querySelector("form");
  const part = (name) => form.querySelector(`[data-${name}]`);
  const [start, stop, again, dropIt] = ["start", "stop", "send", "drop-it"].map(part);
  let live = null;
  way.hidden = false;

  const show = (...shown) => {
    for (const button of [start, stop, again, dropIt]) button.hidden = !shown.includes(button);
  };
  const trouble = (name) => {
    for (const line of form.querySelectorAll("[data-trouble]")) line.hidden = line.dataset.trouble !== name;
    part("instead").hidden = !name;
    if (name) show(start, again);
  };

  const begin = async () => {
    trouble("");
    if (!window.isSecureContext || !navigator.mediaDevices || !window.AudioWorkletNode) { trouble("insecure"); return; }
    start.disabled = true;
    try {
      const stream = await openMicrophone();
      // At the rate of the microphone, where the browser tells it: nothing then moves the ticks between two clocks.
      const { sampleRate } = stream.getAudioTracks()[0].getSettings();
      const context = new AudioContext(sampleRate ? { sampleRate } : {});
      await context.audioWorklet.addModule(form.dataset.worklet);
      await context.resume();
      listen(stream, context);
    } catch (error) {
      trouble({ NotAllowedError: "refused", SecurityError: "refused", NotFoundError: "missing" }[error.name] || "failed");
    }
    start.disabled = false;
  };

  const listen = (stream, context) => {
    const track = stream.getAudioTracks()[0];
    const { noiseSuppression, echoCancellation, autoGainControl, sampleRate, channelCount } = track.getSettings();
    part("settings").value = JSON.stringify({ noiseSuppression, echoCancellation, autoGainControl, sampleRate, channelCount });
    live = { stream, context, chunks: [], samples: 0, levels: [], asked: 0, waiting: false };
    const node = new AudioWorkletNode(context, "blocks");
    const still = new GainNode(context, { gain: 0 });
    context.createMediaStreamSource(stream).connect(node).connect(still).connect(context.destination);
    node.port.onmessage = (event) => take(event.data);
    track.addEventListener("ended", () => { if (live) end(); });
    part("running").hidden = false;
    part("lines").replaceChildren();
    show(stop, dropIt);
    stop.focus();
  };

  const take = (block) => {
    if (!live) return;
    live.chunks.push(whole(block));
    live.samples += block.length;
    const seconds = live.samples / live.context.sampleRate;
    part("seconds").textContent = filled(part("seconds").dataset.seconds, Math.floor(seconds));
    meter(block);
    if (seconds >= MOST_S) { end(); return; }
    if (!live.waiting && performance.now() - live.asked >= EVERY_MS) ask(live);
  };

  const meter = (block) => {
    let energy = 0, top = 0, clipped = 0;
    for (const sample of block) {
      energy += sample * sample;
      top = Math.max(top, Math.abs(sample));
      clipped += Math.abs(sample) >= CLIPPED;
    }
    live.levels = [...live.levels.slice(1 - METER_BLOCKS), Math.sqrt(energy / block.length)];
    const floor = [...live.levels].sort((one, other) => one - other)[Math.floor(live.levels.length / 2)];
    const share = (level) => `${100 * Math.max(0, Math.min(1, 1 - 20 * Math.log10(level + 1e-9) / LOWEST_DB))}%`;
    part("floor").style.width = share(floor);
    part("tick").style.width = share(Math.max(top, ...live.levels));
    if (clipped > 2) part("level").textContent = part("level").dataset.tooLoud;
  };

  // The last minute is heard again and again while it runs; nothing of that is kept.
  const ask = async (here) => {
    here.waiting = true;
    here.asked = performance.now();
    const blocks = Math.ceil(LAST_S * here.context.sampleRate / here.chunks[0].length);
    const body = new FormData(form);
    body.delete("recording");
    // Which side was first can be counted only from the beginning.
    if (here.chunks.length > blocks) body.delete("side");
    body.append("recording", waveFile(here.chunks.slice(-blocks), here.context.sampleRate), form.dataset.file);
    const reply = await fetch(form.dataset.soFar, { method: "POST", body })
      .then((answer) => answer.json()).catch(() => null);
    here.waiting = false;
    if (!reply || live !== here) return;
    if (reply.level) part("level").textContent = reply.level;
    part("lines").replaceChildren(...reply.lines.map((line) => {
      const row = document.createElement("p");
      row.textContent = line;
      return row;
    }));
  };

  const close = () => {
    const ended = live;
    live = null;
    for (const track of ended.stream.getTracks()) track.stop();
    ended.context.close();
    return ended;
  };

  const end = () => {
    const ended = close();
    const files = new DataTransfer();
    files.items.add(new File([waveFile(ended.chunks, ended.context.sampleRate)], form.dataset.file, { type: "audio/wav" }));
    part("recorded").files = files.files;
    show(again, start);
    form.requestSubmit(again);
  };

  start.addEventListener("click", begin);
  stop.addEventListener("click", end);
  dropIt.addEventListener("click", () => { close(); part("running").hidden = true; show(start); });
}

// ---- taps and counting ---------------------------------------------------------------------------------

// Taps in time with the tick: the times go where they could also be typed, and what they say so far is told.
for (const button of document.querySelectorAll("[data-tap]")) {
  const form = button.closest("form");
  const times = form.querySelector("textarea[name=times]");
  const count = button.querySelector("[data-count]");
  const said = form.querySelector("[data-said]");
  const again = form.querySelector("[data-again]");
  let taps = [], waiting = false, enough = false;
  const ask = async () => {
    if (waiting || !form.dataset.soFar) return;
    waiting = true;
    const asked = taps.length;
    const reply = await fetch(form.dataset.soFar, { method: "POST", body: new FormData(form) })
      .then((answer) => answer.json()).catch(() => null);
    waiting = false;
    if (!reply || !taps.length) return;
    said.textContent = reply.lines.join(" ");
    enough = Boolean(reply.enough);
    if (taps.length > asked && !enough) ask();
  };
  const tap = (at) => {
    if (enough) return;
    taps.push(at);
    times.value = taps.map((time) => ((time - taps[0]) / 1000).toFixed(3)).join("\n");
    count.textContent = String(taps.length);
    if (again) again.hidden = false;
    ask();
  };
  button.hidden = false;
  // On the way down, not up: the finger is in time with the tick when it lands.
  button.addEventListener("pointerdown", (event) => { event.preventDefault(); button.focus(); tap(event.timeStamp); });
  button.addEventListener("keydown", (event) => {
    if ((event.key === " " || event.key === "Enter") && !event.repeat) { event.preventDefault(); tap(event.timeStamp); }
  });
  if (again) again.addEventListener("click", () => {
    taps = [];
    enough = false;
    times.value = count.textContent = said.textContent = "";
    again.hidden = true;
    button.focus();
  });
}

// A watch for whoever counts: pressed at a tick, which is not counted, and at the last one, which is.
for (const button of document.querySelectorAll("[data-watch]")) {
  const form = button.closest("form");
  const words = button.querySelector("span");
  const startWords = words.textContent;
  let begun = 0, running = 0;
  const press = (at) => {
    if (!running) {
      begun = at;
      words.textContent = button.dataset.stopWords;
      running = setInterval(() => {
        const seconds = Math.floor((performance.now() - begun) / 1000);
        words.textContent = `${button.dataset.stopWords} ${filled(button.dataset.seconds, seconds)}`;
      }, 250);
      return;
    }
    clearInterval(running);
    running = 0;
    form.querySelector("input[name=seconds]").value = ((at - begun) / 1000).toFixed(1);
    words.textContent = startWords;
    form.querySelector("input[name=count]").focus();
  };
  button.hidden = false;
  button.addEventListener("pointerdown", (event) => { event.preventDefault(); button.focus(); press(event.timeStamp); });
  button.addEventListener("keydown", (event) => {
    if ((event.key === " " || event.key === "Enter") && !event.repeat) { event.preventDefault(); press(event.timeStamp); }
  });
}
