// Entries wait on this phone until the controller answers that it keeps them. Plain http: no
// service worker, so it sends while a page is open, and the rows outlast page, tab and phone.
"use strict";
(() => {
  const place = document.getElementById("kept");
  if (!place) return;
  const words = place.dataset, list = place.querySelector("ul");
  const PATIENCE_MS = 8000, PHOTO_PATIENCE_MS = 60000, EVERY_S = 30, BACK_OFF_S = [10, 20, 40, 60];
  const REFUSED = [400, 404, 405, 409, 410, 413, 415, 422];
  let opening = null, timer = 0, failures = 0, busy = false, again = false, login = false, waiting = 0;

  function database() {
    opening ||= new Promise((done, failed) => {
      const asked = indexedDB.open("hangroom", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore("entries", { keyPath: "key" });
      asked.onsuccess = () => done(asked.result);
      asked.onerror = asked.onblocked = () => failed(asked.error);
    });
    return opening;
  }

  // Runs `act` on the entries; done when it is on the phone's disk.
  async function run(mode, act) {
    const tx = (await database()).transaction("entries", mode, { durability: "strict" });
    const asked = act(tx.objectStore("entries"));
    return new Promise((done, failed) => {
      tx.oncomplete = () => done(asked && asked.result);
      tx.onerror = tx.onabort = () => failed(tx.error);
    });
  }

  const all = async () => (await run("readonly", (rows) => rows.getAll())).sort((a, b) => a.taken_ms - b.taken_ms);

  // What was typed anew since it was sent must not be dropped by the answer to the older sending.
  async function settle(entry, fresh) {
    let ours = false;
    await run("readwrite", (rows) => {
      rows.get(entry.key).onsuccess = (got) => {
        const row = got.target.result;
        ours = Boolean(row) && row.version === entry.version;
        if (ours && fresh) rows.put(fresh); else if (ours) rows.delete(entry.key);
      };
    });
    return ours;
  }

  function random() {
    return [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");
  }

  async function add(entry) {
    await run("readwrite", (rows) => {
      // Typed anew without another photo, it keeps the one that waits.
      rows.get(entry.key).onsuccess = (got) => {
        const photo = entry.photo || (got.target.result && got.target.result.photo) || null;
        rows.put({ ...entry, photo, version: random(), refused: null });
      };
    });
    await show();
    flush();
  }

  async function ask(path, options, patience_ms = PATIENCE_MS) {
    const stop = new AbortController(), patience = setTimeout(() => stop.abort(), patience_ms);
    try {
      const answer = await fetch(path, { cache: "no-store", signal: stop.signal, ...options });
      return { status: answer.status, text: await answer.text() };
    } finally {
      clearTimeout(patience);
    }
  }

  async function token() {
    const answer = await ask(words.tokenFrom);
    if (answer.status !== 200) throw new Error("no token");
    return JSON.parse(answer.text);
  }

  function page(answer) { return new DOMParser().parseFromString(answer.text, "text/html"); }
  function said(answer) {
    const told = page(answer).querySelector("[data-message], .question p, .fault:not(.unsent)");
    return told ? told.textContent.trim() : String(answer.status);
  }

  // Posts fields with a token of now, once more with another where the session changed meanwhile.
  async function post(path, fields, photo) {
    let answer;
    for (let round = 0; round < 2; round += 1) {
      const now = await token();
      if (!now.logged_in) return { status: 403, text: "" };
      const body = new FormData();
      body.set("csrf_token", now.token);
      for (const [name, value] of fields) body.set(name, value);
      if (photo) body.set("photo", new Blob([photo], { type: "image/jpeg" }), "photo.jpg");
      answer = await ask(path, { method: "POST", body }, photo ? PHOTO_PATIENCE_MS : PATIENCE_MS);
      if (answer.status !== 400) break;
    }
    return answer;
  }

  // Returns false where nobody is logged in; throws where there is no contact.
  async function send(entry) {
    if (!entry.stored) {
      const fields = [...entry.fields, ["key", entry.key], ["taken_ms", entry.taken_ms], ["sent_ms", Date.now()]];
      const answer = await post(entry.path + "?part=card", fields);
      if (answer.status === 403) return false;
      const card = page(answer).querySelector("[data-card]");
      if (answer.status === 200 && card && card.dataset.stored === entry.key) {
        const fresh = entry.photo ? { ...entry, stored: true } : null;
        if (await settle(entry, fresh)) tell("stored", { entry, html: answer.text });
        again ||= Boolean(fresh);
        return true;
      } else {
        // Anything else than our own card, a hotspot's page say, is no answer.
        if (!REFUSED.includes(answer.status) && !(answer.status === 200 && card)) throw new Error(answer.status);
        return refuse(entry, said(answer), card ? answer.text : "");
      }
    }
    const answer = await post(entry.path + "/photo", [["key", entry.key]], entry.photo);
    if (answer.status === 403) return false;
    if (answer.status === 200 && await settle(entry, null)) tell("stored", { entry, html: answer.text });
    else if (answer.status === 200) return true;
    else if (REFUSED.includes(answer.status)) return refuse(entry, said(answer), "");
    else throw new Error(answer.status);
    return true;
  }

  async function refuse(entry, reason, html) {
    const fresh = { ...entry, refused: { reason, html } };
    if (await settle(entry, fresh)) tell("refused", { entry: fresh, html });
    return true;
  }

  function tell(what, detail) { document.dispatchEvent(new CustomEvent(`entry-${what}`, { detail })); }

  async function flush() {
    if (busy) { again = true; return; }
    busy = true;
    clearTimeout(timer);
    try {
      do {
        again = false;
        // Weights first: a photo that does not get through must keep none of them waiting.
        const open = (await all()).filter((one) => !one.refused);
        for (const entry of open.filter((one) => !one.stored).concat(open.filter((one) => one.stored))) {
          login = !(await send(entry));
          if (login) break;
          await show();
        }
      } while (again);
      failures = 0;
    } catch {
      failures += 1;
    }
    busy = false;
    await show();
    clearTimeout(timer);
    const back_s = failures ? BACK_OFF_S[Math.min(failures, BACK_OFF_S.length) - 1] : EVERY_S;
    const wait_s = again ? 0 : back_s;
    again = false;
    if (waiting) timer = setTimeout(flush, wait_s * 1000);
  }

  function named(entry) { return entry.stored ? words.sayPhoto.replace("{}", entry.tag) : entry.tag; }

  function line(entry) {
    const item = document.createElement("li"), told = document.createElement("p");
    told.textContent = `${named(entry)}: ${entry.refused.reason}`;
    item.append(told);
    if (!document.querySelector("[data-inspect]")) return item;
    const buttons = document.createElement("div");
    if (!entry.stored && document.querySelector(`[data-card="${CSS.escape(entry.tag)}"] form[data-weigh]`)) {
      buttons.append(button(words.sayEdit, () => tell("edit", { entry })));
    }
    buttons.append(button(words.sayDiscard, (pressed) => {
      if (pressed.dataset.sure) return settle(entry, null).then(() => { tell("gone", { entry }); return show(); });
      pressed.dataset.sure = "1";
      pressed.textContent = words.saySure;
    }));
    item.append(buttons);
    return item;
  }

  function button(text, act) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "quiet";
    made.textContent = text;
    made.addEventListener("click", () => act(made));
    return made;
  }

  // Shown as long as anything waits. Only what changed is drawn anew: a finger may be on a button.
  let drawn = "";
  async function show() {
    let entries;
    try { entries = await all(); } catch { return; }
    tell("listed", { keys: entries.map((entry) => entry.key) });
    const refused = entries.filter((entry) => entry.refused);
    waiting = entries.length - refused.length;
    const told = [
      waiting ? words.sayWaiting.replace("{}", waiting) : "",
      waiting && login ? words.sayLogin : "",
      refused.length ? words.sayRefused.replace("{}", refused.map(named).join(", ")) : "",
    ].filter(Boolean).join(". ");
    const now = told + refused.map((entry) => entry.version + entry.refused.reason).join();
    if (now === drawn) return;
    drawn = now;
    place.hidden = !entries.length;
    place.querySelector("[data-kept-said]").textContent = told;
    list.replaceChildren(...refused.map(line));
    const inspects = Boolean(document.querySelector("[data-inspect]"));
    place.querySelector("[data-to-login]").hidden = !(waiting && login);
    place.querySelector("[data-to-inspect]").hidden = inspects;
    place.querySelector(".kept-to").hidden = inspects && !(waiting && login);
  }

  const works = database().then(() => true, () => false);
  window.hangroom = { ...window.hangroom, queue: { works, add, all, post, random, flush, said, show } };
  const wake = () => { if (!document.hidden) flush(); };
  document.addEventListener("visibilitychange", wake);
  window.addEventListener("online", wake);
  window.addEventListener("pageshow", wake);
  window.addEventListener("beforeunload", (event) => {
    if (waiting && document.querySelector("[data-inspect]")) event.preventDefault();
  });
})();
