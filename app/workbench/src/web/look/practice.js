// Practice by touch: a point of the drawing takes the chosen lead at once, and the page stays where it is. Every act
// works without it, by forms.
"use strict";

(() => {
  const address = location.pathname;
  const heard = document.getElementById("heard");
  // Acts whose outcome is at the head of the page.
  const TOLD = ["hint", "odds", "remedy", "name"];
  let lead = "red";
  let again;
  // What is still being computed is looked for seldomer the longer it takes, ms.
  let pause = 150;
  let busy = false;
  const place = () => document.getElementById("practice");

  // The page's new content in place of the old; what was opened stays open, what had the focus keeps it.
  const take = (text, told) => {
    const page = new DOMParser().parseFromString(text, "text/html");
    const fresh = page.getElementById("practice");
    if (!fresh) return false;
    const old = place();
    const wasOver = !old.querySelector("#meter");
    const opened = [...old.querySelectorAll("details[id][open]")].map((one) => one.id);
    const held = document.activeElement && old.contains(document.activeElement) ? mark(document.activeElement) : null;
    old.replaceWith(document.adoptNode(fresh));
    for (const id of opened) document.getElementById(id)?.setAttribute("open", "");
    ready();
    if (held) [...fresh.querySelectorAll("button, a, select, input, summary")].find((one) => mark(one) === held)?.focus({ preventScroll: true });
    if (told && heard) heard.textContent = [...fresh.querySelectorAll(".trouble, [data-said]")].map((one) => one.textContent).join(" ").trim();
    const trouble = fresh.querySelector(".trouble");
    const over = !fresh.querySelector("#meter");
    if (trouble) trouble.scrollIntoView({ block: "center" });
    else if (told && TOLD.includes(told)) document.getElementById("told")?.scrollIntoView();
    else if (over && !wasOver) scrollTo(0, 0);
    return true;
  };

  const mark = (one) => {
    const form = one.form;
    const of = form ? [...form.querySelectorAll('input[type="hidden"]')].filter((field) => !["seal", "key"].includes(field.name)).map((field) => field.value).join(" ") : "";
    return [one.tagName, one.name, one.tagName === "BUTTON" ? one.value : "", one.dataset.lead, of, one.tagName === "A" ? one.getAttribute("href") ?? one.textContent : ""].join("|");
  };

  const ask = async (url, body) => {
    const answer = await fetch(url, body ? { method: "POST", body } : {});
    // Another session has a page of its own.
    if (new URL(answer.url).pathname !== url && !answer.url.endsWith(address) && answer.redirected) { location.assign(answer.url); return true; }
    return take(await answer.text(), body ? body.get("act") ?? "check" : "");
  };

  const send = async (form, submitter) => {
    if (busy) return;
    busy = true;
    const body = new URLSearchParams(new FormData(form, submitter));
    try {
      if (!(await ask(form.getAttribute("action"), body))) location.assign(address);
    } catch {
      if (heard) heard.textContent = "The workbench does not answer.";
    } finally {
      busy = false;
    }
  };

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("#practice form.act")) return;
    event.preventDefault();
    event.stopPropagation();
    send(form, event.submitter);
  }, true);

  document.addEventListener("click", (event) => {
    const toggle = event.target.closest("[data-lead]");
    if (toggle) { lead = toggle.dataset.lead; chosen(); return; }
    const link = event.target.closest("#practice .schematic a, #practice [data-at]");
    if (!link || event.ctrlKey || event.metaKey) return;
    const node = new URL(link.getAttribute("href"), location.href).searchParams.get("at");
    const form = document.querySelector("#meter form.act");
    if (!node || !form) return;
    event.preventDefault();
    const body = new FormData(form);
    body.set("act", lead);
    body.set("of", node);
    if (busy) return;
    busy = true;
    ask(form.getAttribute("action"), new URLSearchParams(body)).catch(() => location.assign(link.href)).finally(() => { busy = false; });
  });

  const chosen = () => {
    for (const toggle of document.querySelectorAll("[data-lead]")) toggle.setAttribute("aria-pressed", String(toggle.dataset.lead === lead));
  };

  const ready = () => {
    for (const toggle of document.querySelectorAll("[data-lead]")) toggle.disabled = false;
    chosen();
    clearTimeout(again);
    const waits = place().hasAttribute("data-again");
    pause = waits ? Math.min(1.5 * pause, 1000) : 150;
    if (waits) again = setTimeout(() => ask(address).catch(ready), pause);
  };
  ready();
})();
