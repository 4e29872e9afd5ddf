// Compares this phone's clock and zone with the controller's. Without it, Setup tells the latter.
"use strict";
(() => {
  const notes = [...document.querySelectorAll("[data-clock]")];
  if (!notes.length) return;
  const APART_S = 120, SLOW_MS = 4000;

  function duration(seconds) {
    const min = Math.round(seconds / 60), h = Math.floor(min / 60), d = Math.floor(h / 24);
    if (d) return h % 24 ? d + " d " + h % 24 + " h" : d + " d";
    if (h) return min % 60 ? h + " h " + min % 60 + " min" : h + " h";
    return min + " min";
  }

  function say(note, apart) {
    const words = note.dataset, far = Math.abs(apart) > APART_S;
    note.hidden = !far && !words.agree;
    const said = !far ? words.agree : apart < 0 ? words.behind : words.ahead;
    note.querySelector("[data-clock-said]").textContent = (said || "").replace("{}", duration(Math.abs(apart)));
    for (const more of note.querySelectorAll("[data-apart]")) more.hidden = !far;
  }

  function sayZone() {
    const note = document.querySelector("[data-zone]");
    if (!note) return;
    const here = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
    const ahead = -new Date().getTimezoneOffset() - Number(note.dataset.offset);
    note.hidden = !ahead;
    const said = ahead < 0 ? note.dataset.behind : note.dataset.ahead;
    note.textContent = said.replaceAll("{zone}", here).replace("{}", duration(60 * Math.abs(ahead)));
  }

  async function compare() {
    if (document.hidden) return;
    const asked = performance.now();
    let answer;
    try { answer = await fetch(notes[0].dataset.clock, { cache: "no-store" }); } catch { return; }
    if (!answer.ok) return;
    const took = performance.now() - asked, phone = Date.now() - took / 2;
    // An answer that took long says too little about when it was made.
    if (took > SLOW_MS) return;
    const { at } = await answer.json();
    for (const note of notes) say(note, (Date.parse(at) - phone) / 1000);
  }

  sayZone();
  compare();
  document.addEventListener("visibilitychange", compare);
})();
