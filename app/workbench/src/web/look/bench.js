// What makes the workbench handier and is never needed: keys for gloves, the sunlight look, problems of a sheet while it
// is typed. Every act works without it.
"use strict";

// The look is remembered on this device.
(() => {
  const root = document.documentElement;
  const button = document.querySelector("button[data-look]");
  const remembered = () => { try { return localStorage.getItem("look"); } catch { return null; } };
  const show = (look) => {
    if (look === "sun") root.dataset.look = "sun"; else delete root.dataset.look;
    if (button) button.setAttribute("aria-pressed", String(look === "sun"));
  };
  show(remembered());
  if (!button) return;
  button.hidden = false;
  button.addEventListener("click", () => {
    const look = root.dataset.look === "sun" ? "" : "sun";
    try { localStorage.setItem("look", look); } catch { /* the look then lasts as long as the page */ }
    show(look);
  });
})();

// Keys that a glove can hit; the field stays a field.
for (const pad of document.querySelectorAll("[data-pad]")) {
  const field = document.getElementById(pad.dataset.pad);
  if (!field) continue;
  pad.hidden = false;
  // Where there is a keyboard one types at once; on a telephone its keyboard would cover what is to be read.
  if (matchMedia("(pointer: fine)").matches) field.focus({ preventScroll: true });
  pad.addEventListener("click", (event) => {
    const key = event.target.closest("button");
    if (!key) return;
    const text = key.dataset.key;
    if (text === "erase") field.value = field.value.slice(0, -1);
    else if (text === "sign") field.value = field.value.startsWith("-") ? field.value.slice(1) : "-" + field.value;
    else if (key.dataset.unit !== undefined) field.value = field.value.replace(/\s*[^\d.,+-]*$/u, "") + " " + key.dataset.unit;
    else if (text === "OL") field.value = "OL";
    else field.value += text;
  });
}

// Problems of a sheet while it is typed; what is typed is kept on this device until it is saved.
for (const editor of document.querySelectorAll("textarea[data-check]")) {
  const target = document.getElementById("findings");
  const form = editor.form;
  let waiting;
  const check = async () => {
    const answer = await fetch(editor.dataset.check, { method: "POST", body: new URLSearchParams(new FormData(form)) });
    if (answer.ok && target) target.innerHTML = await answer.text();
  };
  editor.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(() => check().catch(() => {}), 400);
  });
  window.addEventListener("beforeunload", (event) => {
    if (editor.value !== editor.defaultValue && !form.dataset.sent) event.preventDefault();
  });
  form.addEventListener("submit", () => { form.dataset.sent = "yes"; });
}

// A form that was sent is not sent again by a second tap.
for (const form of document.querySelectorAll("form[data-once]")) {
  form.addEventListener("submit", () => {
    setTimeout(() => { for (const button of form.querySelectorAll("button")) button.disabled = true; });
  });
}

// What is still being computed is looked for until it is there, seldomer the longer it takes; meanwhile the page tells
// how far it has come.
for (const waiting of document.querySelectorAll("main[data-again]")) {
  let pause = 150;
  const later = () => { pause = Math.min(1.5 * pause, 1000); setTimeout(() => look().catch(later), pause); };
  const look = async () => {
    const answer = await fetch(location.href);
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("content");
    if (!fresh?.hasAttribute("data-again")) { location.reload(); return; }
    if (!waiting.contains(document.activeElement)) waiting.replaceChildren(...document.adoptNode(fresh).childNodes);
    later();
  };
  later();
}
