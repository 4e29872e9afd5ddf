// Live numbers on the Room page. Without this file the page shows the moment it was made.
"use strict";
(() => {
  const page = document.querySelector("[data-now]");
  if (!page) return;
  const words = page.dataset;
  const rooms = [...page.querySelectorAll("[data-room]")];
  const trouble = document.getElementById("trouble");
  const worst = document.getElementById("worst");
  const rest = trouble.querySelector("details");
  const icon = document.querySelector("link[rel=icon]");
  const PATIENCE_MS = 4000, SILENT_MS = 15000, BACK_OFF_S = [10, 20, 40, 60];
  let etag = "", timer = 0, failures = 0, lost = false, asking = false;
  let answered = mark(), heard = mark();

  // A sleeping phone may stop one of its two clocks: the larger time passed is the true one.
  function mark() { return [performance.now(), Date.now()]; }
  function since([steady, wall]) { return Math.max(performance.now() - steady, Date.now() - wall); }

  function duration(seconds) {
    const s = Math.max(0, Math.round(seconds));
    if (s < 90) return s + " s";
    const min = Math.round(s / 60);
    if (min < 60) return min + " min";
    const h = Math.floor(min / 60), rest = min % 60;
    return rest && h < 10 ? h + " h " + rest + " min" : h + " h";
  }

  function put(element, text) { if (element.textContent !== text) element.textContent = text; }

  function showTroubles(list) {
    trouble.hidden = !list.length;
    put(worst, list[0] || "");
    rest.hidden = list.length < 2;
    put(rest.firstElementChild, words.more.replace("{}", list.length - 1));
    rest.querySelector("ul").replaceChildren(...list.slice(1).map((said) => {
      const item = document.createElement("li");
      item.textContent = said;
      return item;
    }));
  }

  function showRoom(card, room) {
    const live = room.temperature.value !== null;
    card.dataset.state = room.temperature.state;
    card.dataset.lost = room.lost;
    for (const name of ["temperature", "humidity"])
      put(card.querySelector(`[data-q=${name}]`), live ? room[name].shown : "–");
    const said = card.querySelector("[data-said]");
    if (live) said.dataset.age = room.temperature.age_s;
    else { delete said.dataset.age; put(said, room.said); }
    for (const item of card.querySelectorAll("[data-relay]")) {
      const relay = room.relays[item.dataset.relay];
      put(item, relay ? relay.said : item.dataset.unknown);
      item.dataset.on = relay ? relay.state : "unknown";
    }
    const asked = card.querySelector("[data-asked]");
    asked.hidden = !room.asked;
    put(asked, room.asked || "");
  }

  function show(now) {
    for (const card of rooms) if (now.rooms[card.dataset.room]) showRoom(card, now.rooms[card.dataset.room]);
    showTroubles(now.troubles);
    const shown = Object.values(now.rooms).map((room) =>
      `${room.temperature.shown} °${words.unit} ${room.humidity.shown} %`);
    document.title = (now.troubles.length ? words.titleTrouble : shown.join(", ")) + " - " + words.title;
    icon.href = now.troubles.length ? words.iconTrouble : words.icon;
    count();
  }

  // Everything at once: no number, relay or trouble may look live when nobody has confirmed it.
  function demote(strip) {
    etag = "";
    for (const card of rooms) {
      card.dataset.state = "lost";
      for (const digits of card.querySelectorAll("[data-q]")) put(digits, "–");
      const said = card.querySelector("[data-said]");
      delete said.dataset.age;
      put(said, card.dataset.lost);
      for (const item of card.querySelectorAll("[data-relay]")) {
        put(item, item.dataset.unknown);
        item.dataset.on = "unknown";
      }
    }
    showTroubles([strip]);
    document.title = words.titleLost + " - " + words.title;
    icon.href = words.iconLost;
  }

  function lose() {
    failures += 1;
    if (lost) return;
    lost = true;
    const at = new Date(Date.now() - since(heard));
    demote(words.lost.replace("{}", at.toTimeString().slice(0, 5)));
  }

  function count() {
    for (const said of page.querySelectorAll("[data-age]"))
      put(said, words.read.replace("{}", duration(Number(said.dataset.age) + since(answered) / 1000)));
  }

  async function ask() {
    clearTimeout(timer);
    if (document.hidden || asking) return;
    asking = true;
    const stop = new AbortController();
    const patience = setTimeout(() => stop.abort(), PATIENCE_MS);
    let wait = 10;
    try {
      const answer = await fetch(words.now, {
        cache: "no-store", signal: stop.signal, headers: etag ? { "If-None-Match": etag } : {},
      });
      if (answer.status === 200) {
        const now = await answer.json();
        etag = answer.headers.get("ETag") || "";
        wait = now.ask_again_s;
        answered = mark();
        lost = false;
        show(now);
      } else if (answer.status !== 304) throw new Error(answer.status);
      heard = mark();
      failures = 0;
    } catch {
      lose();
      wait = BACK_OFF_S[Math.min(failures, BACK_OFF_S.length) - 1];
    }
    clearTimeout(patience);
    asking = false;
    timer = setTimeout(ask, wait * 1000);
  }

  function wake() {
    if (document.hidden) return;
    if (since(heard) > SILENT_MS) { lost = false; demote(words.checking); }
    ask();
  }

  setInterval(() => {
    if (document.hidden) return;
    if (!lost && since(heard) > SILENT_MS) lose();
    count();
  }, 1000);
  document.addEventListener("visibilitychange", wake);
  window.addEventListener("online", wake);
  window.addEventListener("pageshow", wake);
})();
