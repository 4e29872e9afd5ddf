// Saves a stick without leaving the page and goes on to the next. Without it, plain forms do.
"use strict";
(() => {
  const page = document.querySelector("[data-unsent]");
  if (!page) return;
  const PATIENCE_MS = 8000;

  function next() {
    const waiting = page.querySelectorAll("[data-card]:not([data-saved])");
    document.getElementById("left").textContent = waiting.length;
    if (!waiting.length) { location.hash = "summary"; location.reload(); return; }
    waiting[0].scrollIntoView({ block: "start" });
    waiting[0].querySelector("[name=weight]").focus({ preventScroll: true });
  }

  function complain(form, said) {
    const place = form.querySelector(".unsent");
    place.textContent = said;
    place.hidden = false;
  }

  async function said(answer) {
    const other = new DOMParser().parseFromString(await answer.text(), "text/html");
    const message = other.querySelector("[data-message]");
    return message ? message.textContent : page.dataset.unsent;
  }

  page.addEventListener("submit", async (event) => {
    const form = event.target, card = form.closest("[data-card]");
    if (!card || form.dataset.busy) return event.preventDefault();
    event.preventDefault();
    const body = new URLSearchParams(new FormData(form));
    if (event.submitter && event.submitter.name) body.set(event.submitter.name, event.submitter.value);
    form.dataset.busy = "1";
    const stop = new AbortController();
    const patience = setTimeout(() => stop.abort(), PATIENCE_MS);
    try {
      const answer = await fetch(form.action + "?part=card", { method: "POST", body, signal: stop.signal });
      if (answer.status !== 200 && answer.status !== 422) return complain(form, await said(answer));
      const fresh = document.createRange().createContextualFragment(await answer.text());
      const id = card.id;
      card.replaceWith(fresh);
      const now = document.getElementById(id);
      if ("saved" in now.dataset) return next();
      (now.querySelector(".question button, [aria-invalid]")).focus();
    } catch {
      complain(form, page.dataset.unsent);
    } finally {
      clearTimeout(patience);
      delete form.dataset.busy;
    }
  });
})();
