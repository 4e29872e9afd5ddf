// Brings an urgent alarm onto a page that is open. Without it a page says what was when it was made.
"use strict";
(() => {
  const banner = document.getElementById("banner");
  if (!banner) return;
  const words = banner.dataset;
  const icon = document.querySelector("link[rel=icon]");
  const mark = document.querySelector("[data-waiting]");
  const said = banner.querySelector("[data-said]");
  const word = banner.querySelector("[data-word]");
  const ASK_EVERY_MS = 20000, PATIENCE_MS = 4000;
  let timer = 0, etag = "", asking = false, again = false;
  let prefix = banner.hidden ? "" : words.title.replace("{}", word.textContent);
  const title = document.title.startsWith(prefix) ? document.title.slice(prefix.length) : document.title;

  function show(now) {
    const told = now.banner, count = now.alarms.filter((alarm) => alarm.needs_somebody).length;
    mark.hidden = !count;
    mark.textContent = count;
    const isNew = told && (banner.hidden || told.said !== said.textContent);
    banner.hidden = !told;
    prefix = told ? words.title.replace("{}", told.word) : "";
    document.title = prefix + title;
    icon.href = told ? words.iconTrouble : words.icon;
    if (!isNew) return;
    banner.dataset.loudness = told.loudness;
    word.textContent = told.word;
    said.textContent = told.said;
    for (const link of banner.querySelectorAll("[data-loud]")) link.hidden = link.dataset.loud !== told.loudness;
    document.getElementById("new-alarm").textContent = `${told.word} ${told.said}`;
  }

  async function ask() {
    clearTimeout(timer);
    if (document.hidden) return;
    if (asking) { again = true; return; }
    asking = true;
    const stop = new AbortController(), patience = setTimeout(() => stop.abort(), PATIENCE_MS);
    try {
      const answer = await fetch(words.now, {
        cache: "no-store", signal: stop.signal, headers: etag ? { "If-None-Match": etag } : {},
      });
      if (answer.status === 200) {
        etag = answer.headers.get("ETag") || "";
        show(await answer.json());
      }
    } catch { /* No number is live here; the next page says what cannot be reached. */ }
    clearTimeout(patience);
    asking = false;
    timer = setTimeout(ask, again ? 0 : ASK_EVERY_MS);
    again = false;
  }

  timer = setTimeout(ask, ASK_EVERY_MS);
  document.addEventListener("visibilitychange", ask);
  window.addEventListener("online", ask);
})();
