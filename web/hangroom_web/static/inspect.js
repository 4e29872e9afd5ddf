// Saves a stick on the phone, goes on to the next at once, and shows what the controller answers.
// Without it, plain forms do.
"use strict";
(() => {
  const page = document.querySelector("[data-inspect]");
  if (!page) return;
  const { queue, smaller, entry: { words, fill, weight, shown, slip, soFar } } = window.hangroom;
  const DRAFT = "hangroom-draft-";
  const cardOf = (tag) => page.querySelector(`[data-card="${CSS.escape(tag)}"]`);
  const waits = (card) => !("saved" in card.dataset) && !("kept" in card.dataset);
  const told = (card) => JSON.parse(card.dataset.told);
  let finishing = false, keeps = null;

  function next(card) {
    const cards = [...page.querySelectorAll("[data-card]")], at = cards.indexOf(card);
    const following = [...cards.slice(at + 1), ...cards.slice(0, at + 1)].find(waits);
    count();
    finishing = !following;
    if (!following) return finish();
    following.scrollIntoView({ block: "start" });
    following.querySelector("[name=weight]").focus({ preventScroll: true });
  }

  function count() {
    document.getElementById("left").textContent = [...page.querySelectorAll("[data-card]")].filter(waits).length;
  }

  // What all weights say is the controller's to reckon: asked for once it has every one.
  async function finish() {
    if (!finishing || [...page.querySelectorAll("[data-card]")].some(waits) || (await queue.all()).length) return;
    location.hash = "summary";
    location.reload();
  }

  function complain(form, said) {
    Object.assign(form.querySelector(".unsent"), { textContent: said, hidden: false });
  }

  function clear(form) {
    for (const said of form.querySelectorAll(".question, .field > .fault")) said.remove();
    form.querySelector(".unsent").hidden = true;
    form.elements.weight.removeAttribute("aria-invalid");
    form.querySelector(".save").classList.remove("quiet");
  }

  function fault(form, said) {
    const field = form.elements.weight, place = document.createElement("p");
    Object.assign(place, { className: "fault", id: `${field.id}-said`, textContent: said, role: "alert" });
    field.after(place);
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", place.id);
    field.focus();
    field.select();
  }

  // The question gets the focus, not its answers: a scale's digits and Enter must not answer it.
  function ask(form, question) {
    const made = document.getElementById("asked").content.cloneNode(true).firstElementChild;
    const [use, keep] = made.querySelectorAll("button");
    made.querySelector("[name=asked]").value = form.elements.weight.value;
    made.querySelector("p").textContent = question.said;
    use.value = question.instead;
    use.textContent = fill(words.use, { _: question.instead });
    use.hidden = !question.instead;
    keep.value = question.keep;
    keep.textContent = fill(words.keep, { _: question.keep });
    form.elements.weight.setAttribute("aria-invalid", "true");
    form.querySelector(".save").classList.add("quiet");
    form.elements.weight.closest(".field").after(made);
    made.focus();
  }

  function weigh(form, card, answer) {
    const field = form.elements.weight, asked = form.elements.asked && form.elements.asked.value;
    if (answer.name === "use") field.value = answer.value;
    const meant = answer.name === "keep" && asked === field.value;
    clear(form);
    const read = weight(field.value);
    if (read.fault) return fault(form, read.fault);
    const question = meant ? null : slip(read.g, told(card));
    if (question) return ask(form, question);
    const fields = fieldsOf(form);
    if (meant) fields.push(["asked", field.value], ["keep", answer.value]);
    if (form.dataset.again) fields.push(["again", "1"]);
    save(form, card, {
      key: form.dataset.again || queue.random(), tag: card.dataset.card, path: new URL(form.action).pathname,
      fields, taken_ms: Number(form.dataset.at) || Date.now(), photo: null,
    }, form.elements.photo.files[0]);
  }

  function fieldsOf(form) {
    const left = ["csrf_token", "key", "photo", "asked", "use", "keep"];
    return [...new FormData(form)].filter(([name, value]) => value !== "" && !left.includes(name));
  }

  async function save(form, card, entry, photo) {
    // Once it is known, all up to the next stick's focus is done before a scale sends its next digit.
    if (keeps === null) keeps = await queue.works;
    if (!keeps) return direct(form, card, entry.path, [...entry.fields, ["key", entry.key]], photo);
    const later = form.elements.weighed && form.elements.weighed.value;
    card.dataset.kept = entry.key;
    show(card, entry);
    next(card);
    try {
      if (photo) entry.photo = await (await smaller(photo)).arrayBuffer();
      await queue.add(entry);
      card.dataset.queued = "";
    } catch {
      open(card);
      return complain(form, words.unsent);
    }
    localStorage.removeItem(DRAFT + entry.tag);
    if (later) carry(later);
  }

  // From a sheet of paper, one time holds for several sticks; it stands open, so that it is seen.
  function carry(later) {
    for (const card of [...page.querySelectorAll("[data-card]")].filter(waits)) {
      const field = card.querySelector("[name=weighed]");
      if (!field || field.value) continue;
      field.value = later;
      field.closest("details").open = true;
    }
  }

  function show(card, entry) {
    const typed = entry.fields.find(([name]) => name === "weight"), form = card.querySelector("form[data-weigh]");
    for (const part of card.querySelectorAll("form, details, .facts")) part.hidden = true;
    for (const old of card.querySelectorAll(".kept-said")) old.remove();
    const said = document.createElement("div"), text = document.createElement("p"), edit = document.createElement("button");
    said.className = "kept-said";
    text.textContent = typed ? `${shown(weight(typed[1]).g)}. ${words.kept}` : words.kept;
    edit.className = "quiet";
    edit.textContent = words.edit;
    edit.addEventListener("click", () => { refill(card, entry); form.elements.weight.focus(); });
    said.append(text, ...(form && typed ? [edit] : []));
    card.append(said);
  }

  function open(card) {
    delete card.dataset.kept;
    delete card.dataset.queued;
    for (const said of card.querySelectorAll(".kept-said")) said.remove();
    for (const part of card.querySelectorAll("form, details, .facts")) part.hidden = false;
    count();
  }

  // An entry that waits goes back into its card; it stays in the queue until it is saved anew.
  function refill(card, entry) {
    open(card);
    const form = card.querySelector("form[data-weigh]");
    if (!form) return;
    put(form, entry.fields);
    form.dataset.again = entry.key;
    form.dataset.at = entry.taken_ms;
  }

  function put(form, fields) {
    for (const [name, value] of fields) {
      const field = form.elements[name];
      if (!field || ["again", "asked", "keep"].includes(name)) continue;
      if (field.type === "checkbox") field.checked = true; else field.value = value;
      if (name === "weighed") field.closest("details").open = true;
    }
    reckon(form);
  }

  function replace(card, html) {
    card.replaceWith(document.createRange().createContextualFragment(html));
    count();
    return cardOf(card.dataset.card);
  }

  // For what is done here and now: an undo, and every entry where the browser keeps nothing.
  async function direct(form, card, path, fields, photo) {
    if (form.dataset.busy) return;
    form.dataset.busy = "1";
    try {
      const answer = await queue.post(path + "?part=card", fields, photo);
      const fresh = new DOMParser().parseFromString(answer.text, "text/html").querySelector("[data-card]");
      if (!fresh) return complain(form, answer.status === 403 ? words.log_in : queue.said(answer));
      const now = replace(card, answer.text);
      if ("saved" in now.dataset && form.matches("[data-weigh]")) return next(now);
      (now.querySelector(".question, [aria-invalid], [name=weight], .saved")).focus();
    } catch {
      complain(form, words.unsent);
    } finally {
      delete form.dataset.busy;
    }
  }

  function reckon(form) {
    const place = form.querySelector(".so-far"), said = soFar(form.elements.weight.value, told(form.closest("[data-card]")));
    place.textContent = said;
    place.hidden = !said;
  }

  page.addEventListener("submit", (event) => {
    const form = event.target, card = form.closest("[data-card]"), answer = event.submitter || {};
    if (!card) return;
    event.preventDefault();
    if (form.matches("[data-weigh]")) return weigh(form, card, answer);
    if (form.matches("[data-direct]")) return direct(form, card, form.action, fieldsOf(form).concat([["key", queue.random()]]));
    save(form, card, {
      key: queue.random(), tag: card.dataset.card, path: new URL(form.action).pathname,
      fields: [...fieldsOf(form), ["reason", answer.value]], taken_ms: Date.now(), photo: null,
    });
  });

  // A scale that types ends with Enter, some with two: one in an empty field is none.
  page.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.name !== "weight") return;
    event.preventDefault();
    if (event.target.value.trim()) event.target.form.requestSubmit();
  });

  page.addEventListener("input", (event) => {
    const form = event.target.closest("form[data-weigh]");
    if (!form) return;
    if (event.target.name === "weight") { form.dataset.at = Date.now(); reckon(form); }
    draft(form);
  });

  function draft(form) {
    const name = DRAFT + form.closest("[data-card]").dataset.card, fields = fieldsOf(form).filter(([one]) => one !== "all");
    try {
      if (!fields.length) localStorage.removeItem(name);
      else localStorage.setItem(name, JSON.stringify({ fields, at: Number(form.dataset.at) || Date.now() }));
    } catch { /* A full or closed store: the card itself still holds it. */ }
  }

  function restore(card, over = false) {
    let kept;
    try { kept = JSON.parse(localStorage.getItem(DRAFT + card.dataset.card)); } catch { return; }
    const form = card.querySelector("form[data-weigh]");
    if (!kept || !form || (form.elements.weight.value && !over)) return;
    put(form, kept.fields);
    form.dataset.at = kept.at;
    const at = new Date(kept.at), note = form.querySelector(".draft"), clock = at.toTimeString().slice(0, 5);
    const day = at.toDateString() === new Date().toDateString() ? "" : at.toDateString().slice(0, 10) + " ";
    note.querySelector("span").textContent = fill(words.draft, { _: day + clock });
    note.querySelector("button").textContent = words.discard;
    note.querySelector("button").addEventListener("click", () => {
      form.reset();
      delete form.dataset.at;
      note.hidden = true;
      draft(form);
      reckon(form);
      form.elements.weight.focus();
    });
    note.hidden = false;
  }

  document.addEventListener("entry-stored", ({ detail: { entry, html } }) => {
    const card = cardOf(entry.tag);
    if (card && card.dataset.kept === entry.key) replace(card, html);
    if (finishing) finish();
  });
  document.addEventListener("entry-refused", ({ detail: { entry, html } }) => {
    const card = cardOf(entry.tag);
    if (!card || card.dataset.kept !== entry.key) return;
    if (!html) return refill(card, entry);
    const form = replace(card, html).querySelector("form[data-weigh]");
    if (form) Object.assign(form.dataset, { again: entry.key, at: entry.taken_ms });
  });
  // Another page of this phone may have sent what waits in a card here, or thrown it away.
  document.addEventListener("entry-listed", ({ detail: { keys } }) => {
    for (const card of page.querySelectorAll("[data-kept][data-queued]:not([data-saved])")) {
      if (keys.includes(card.dataset.kept)) continue;
      card.dataset.saved = "";
      card.querySelector(".kept-said").textContent = words.elsewhere;
    }
  });
  document.addEventListener("entry-edit", ({ detail: { entry } }) => {
    const card = cardOf(entry.tag);
    if (card.querySelector("form[data-weigh]").dataset.again !== entry.key) refill(card, entry);
    card.scrollIntoView({ block: "start" });
    card.querySelector(".question, [name=weight]").focus({ preventScroll: true });
  });
  document.addEventListener("entry-gone", ({ detail: { entry } }) => {
    for (const form of page.querySelectorAll(`[data-again="${entry.key}"]`)) delete form.dataset.again;
  });

  queue.works.then(async (works) => {
    keeps = works;
    const place = document.getElementById("no-store");
    if (!works && place) Object.assign(place, { textContent: words.no_store, hidden: false });
    for (const card of [...page.querySelectorAll("[data-card]")].filter(waits)) restore(card);
    for (const entry of works ? await queue.all() : []) {
      const card = cardOf(entry.tag);
      if (!card || !waits(card)) continue;
      if (entry.refused) { refill(card, entry); restore(card, true); continue; }
      Object.assign(card.dataset, { kept: entry.key, queued: "" });
      show(card, entry);
    }
    if (page.querySelector("[data-card]")) count();
  });
})();
