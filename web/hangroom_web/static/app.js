// Live numbers and alarms. Without this file a page shows the moment it was made.
"use strict";
(() => {
  const page = document.querySelector("[data-now]");
  if (!page) return;
  const words = page.dataset;
  const cards = [...page.querySelectorAll("[data-room]")];
  const trouble = document.getElementById("trouble");
  const worst = document.getElementById("worst");
  const rest = trouble.querySelector("details");
  const icon = document.querySelector("link[rel=icon]");
  const PATIENCE_MS = 4000, SILENT_MS = 15000, BACK_OFF_S = [10, 20, 40, 60];
  let known = null;
  let etag = "", timer = 0, failures = 0, lost = false, asking = false, askAgain = false;
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

  function showStrip(lines) {
    const first = lines[0] || { word: "", said: "", loudness: "trouble" };
    trouble.hidden = !lines.length;
    trouble.dataset.loudness = first.loudness;
    put(trouble.querySelector("[data-word]"), first.word);
    put(worst, first.said);
    rest.hidden = lines.length < 2;
    put(rest.firstElementChild, words.more.replace("{}", lines.length - 1));
    rest.querySelector("ul").replaceChildren(...lines.slice(1).map((line) => {
      const item = document.createElement("li");
      item.textContent = line.said;
      return item;
    }));
  }

  // Only what is new while somebody has the page open is spoken; numbers and ages never are.
  function speakOfNew(alarms) {
    const waiting = alarms.filter((alarm) => alarm.needs_somebody);
    const fresh = known && waiting.find((alarm) => !known.has(`${alarm.scope} ${alarm.alarm}`));
    known = new Set(waiting.map((alarm) => `${alarm.scope} ${alarm.alarm}`));
    if (fresh) document.getElementById("new-alarm").textContent = `${words.alarm} ${fresh.said}`;
  }

  function showWaiting(count) {
    for (const link of trouble.querySelectorAll("[data-to-alarms]")) link.hidden = !count;
    const mark = document.querySelector("[data-waiting]");
    mark.hidden = !count;
    put(mark, String(count));
  }

  function showSensor(item, sensor) {
    item.dataset.worth = sensor ? sensor.state : "lost";
    put(item.querySelector("[data-shown]"), sensor ? sensor.shown : "");
    put(item.querySelector("[data-sensor-said]"), sensor ? sensor.said : item.dataset.unknown);
    const age = item.querySelector(".muted");
    if (sensor && sensor.shown) age.dataset.age = sensor.age_s;
    else { delete age.dataset.age; put(age, ""); }
  }

  function showRelay(item, relay) {
    put(item, relay ? relay.said : item.dataset.unknown);
    item.dataset.on = relay ? relay.state : "unknown";
    item.toggleAttribute("data-hand", Boolean(relay && relay.by_hand));
  }

  function showStage(card, run) {
    const timed = Boolean(run) && run.gone_ratio !== null;
    card.querySelector("[data-run]").hidden = !timed;
    if (!timed) return;
    card.querySelector("progress").value = run.gone_ratio;
    put(card.querySelector("[data-run-said]"), run.said);
  }

  function showLine(element, text) {
    if (!element) return;
    element.hidden = !text;
    put(element, text || "");
  }

  function showRoom(card, room) {
    const live = room.temperature.value !== null;
    card.dataset.state = room.temperature.state;
    card.dataset.lost = room.lost;
    for (const name of ["temperature", "humidity"]) {
      put(card.querySelector(`[data-q=${name}]`), live ? room[name].shown : "–");
      put(card.querySelector(`[data-wanted=${name}]`), room[name + "_wanted"]);
    }
    put(card.querySelector("[data-stage]"), room.stage);
    showStage(card, room.stage_run);
    const said = card.querySelector("[data-said]");
    if (live) said.dataset.age = room.temperature.age_s;
    else { delete said.dataset.age; put(said, room.said); }
    for (const item of card.querySelectorAll("[data-sensor]")) showSensor(item, room.sensors[item.dataset.sensor]);
    for (const item of card.querySelectorAll("[data-relay]")) showRelay(item, room.relays[item.dataset.relay]);
    showLine(card.querySelector("[data-door]"), room.door);
    showLine(card.querySelector("[data-watch] span"), room.watch);
    card.querySelector("[data-watch]").hidden = !room.watch;
    showLine(card.querySelector("[data-asked]"), room.asked);
  }

  function showActs(can) {
    for (const acts of page.querySelectorAll("[data-acts]")) acts.hidden = !can;
  }

  function show(now) {
    const told = cards.filter((card) => now.rooms[card.dataset.room]);
    for (const card of told) showRoom(card, now.rooms[card.dataset.room]);
    showStrip("alarms" in words ? now.strip.filter((line) => line.loudness === "trouble") : now.strip);
    showWaiting(now.alarms.filter((alarm) => alarm.needs_somebody).length);
    speakOfNew(now.alarms);
    showActs(now.daemon.state === "live");
    showLine(page.querySelector("[data-outside]"), now.outside && now.outside.said);
    const shown = told.map((card) => now.rooms[card.dataset.room]).map((room) =>
      `${room.temperature.shown} °${words.unit} ${room.humidity.shown} %`);
    const trouble = now.strip.length ? words.titleTrouble.replace("{}", now.strip[0].word) : "";
    document.title = [trouble || shown.join(", "), words.title].filter(Boolean).join(" - ");
    icon.href = trouble ? words.iconTrouble : words.icon;
    count();
    if ("alarms" in words && words.alarms !== now.alarms_mark) lookAgain();
  }

  // The list of alarms is another one now; whoever is writing something is asked first.
  function lookAgain() {
    if (page.querySelector("details[open] form")) showStrip([{ word: "", said: words.changed, loudness: "low" }]);
    else location.reload();
  }

  // Everything at once: no number, relay or trouble may look live when nobody has confirmed it.
  function demote(strip) {
    etag = "";
    for (const card of cards) {
      card.dataset.state = "lost";
      for (const digits of card.querySelectorAll("[data-q]")) put(digits, "–");
      const said = card.querySelector("[data-said]");
      delete said.dataset.age;
      put(said, card.dataset.lost);
      showStage(card, null);
      for (const item of card.querySelectorAll("[data-sensor]")) showSensor(item, null);
      for (const item of card.querySelectorAll("[data-relay]")) showRelay(item, null);
      showLine(card.querySelector("[data-door]"), "");
      card.querySelector("[data-watch]").hidden = true;
    }
    showStrip([{ word: words.trouble, said: strip, loudness: "trouble" }]);
    showWaiting(0);
    showActs(false);
    showLine(page.querySelector("[data-outside]"), "");
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
    if (document.hidden) return;
    // What is on its way may have been asked before the phone slept.
    if (asking) { askAgain = true; return; }
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
    timer = setTimeout(ask, askAgain ? 0 : wait * 1000);
    askAgain = false;
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
